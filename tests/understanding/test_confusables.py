"""Which words may be taken for one: near to it, told apart from it, and not merely a part of it.

The limits are project choices; the pairs are of near misses that passed in synthetic noise.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.documents.phone_table import phone_table, sound_alikes
from voicelist.phonetics.phones import PhoneTable, apart
from voicelist.understanding.confusables import SoundAlikes

ALIKES = sound_alikes("en-US")
TABLE = phone_table("en-US")
FEW = SoundAlikes(
    PhoneTable(
        {
            "line": ("L", "AY", "N"),
            "lines": ("L", "AY", "N", "Z"),
            "nine": ("N", "AY", "N"),
            "eye": ("AY",),
            "side": ("S", "AY", "D"),
            "sighed": ("S", "AY", "D"),
            "firm": ("F", "AX", "R", "M"),
            "isn't": ("IH", "Z", "AX", "N", "T"),
        }
    )
)


@pytest.mark.parametrize(
    ("word", "other"),
    [("priming", "timing"), ("lens", "land"), ("eye", "side"), ("no", "known"), ("firm", "third")],
)
def test_what_was_taken_for_a_word_is_among_its_sound_alikes(word: str, other: str) -> None:
    assert other in ALIKES.of(word)


@pytest.mark.parametrize(
    ("word", "other"), [("stopped", "stop"), ("power", "per"), ("lens", "ens"), ("marked", "mark")]
)
def test_what_is_left_of_a_word_is_not(word: str, other: str) -> None:
    assert other not in ALIKES.of(word)


@given(st.sampled_from(sorted(TABLE.words)))
def test_they_are_near_but_can_be_told_apart(word: str) -> None:
    found = ALIKES.of(word)
    assert len(found) == len(set(found))
    ours = TABLE.words[word]
    if len(ours) <= 2:
        return
    assert len(found) <= 12
    assert all(0.18 <= apart(ours, TABLE.words[one]) <= 0.7 for one in found)
    assert found == tuple(sorted(found, key=lambda one: apart(ours, TABLE.words[one])))


def test_a_word_of_one_or_two_sounds_may_be_lost_in_a_longer_one() -> None:
    assert "line" in FEW.of("eye")
    # Of words that sound the same only one.
    assert len({"side", "sighed"}.intersection(FEW.of("eye"))) == 1


@pytest.mark.parametrize(
    ("word", "longer"),
    [("oh", "know"), ("no", "notes"), ("is", "busy"), ("at", "rats"), ("two", "tools")],
)
def test_so_may_a_common_one_beside_all_that_sounds_like_it(word: str, longer: str) -> None:
    assert longer in ALIKES.of(word)


def test_what_is_not_in_the_table_or_no_plain_word_has_none() -> None:
    assert FEW.of("phacoemulsification") == ()
    assert FEW.of("isn't") == ()
    assert SoundAlikes(PhoneTable({})).of("firm") == ()


def test_one_word_after_the_other_is_changed_and_some_are_kept() -> None:
    phones = {"line": ("L", "AY", "N"), "nine": ("N", "AY", "N"), "lines": ("L", "AY", "N", "Z")}
    few = SoundAlikes(PhoneTable(phones))
    assert few.of("line") == ("lines", "nine")
    changed = list(few.in_place_of(("line", "firm", "line"), frozenset({"firm"})))
    assert changed == [
        ("lines", "firm", "line"),
        ("nine", "firm", "line"),
        ("line", "firm", "lines"),
        ("line", "firm", "nine"),
    ]
    assert list(few.in_place_of(("line",), frozenset({"line"}))) == []
