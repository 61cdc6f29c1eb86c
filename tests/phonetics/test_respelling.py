"""Respellings: runs of known words that sound like an unknown one."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from voicelist.phonetics.phones import PHONES, apart
from voicelist.phonetics.respelling import APART_AT_MOST, WORDS_AT_MOST, respellings

WORDS = {
    "fay": ("F", "EY"),
    "fake": ("F", "EY", "K"),
    "co": ("K", "OW"),
    "oh": ("OW",),
    "tore": ("T", "AO", "R"),
    "ick": ("IH", "K"),
    "steady": ("S", "T", "EH", "D", "IY"),
}
FEY_KOW = ("F", "EY", "K", "OW")


def test_words_that_together_sound_the_same_come_first() -> None:
    assert respellings(FEY_KOW, WORDS, 3)[:2] == ("fake oh", "fay co")
    assert respellings(("T", "AO", "R", "IH", "K"), WORDS, 1) == ("tore ick",)


def test_one_word_of_the_same_sound_goes_before_two() -> None:
    assert respellings(FEY_KOW, {**WORDS, "fako": FEY_KOW}, 2)[0] == "fako"


def test_no_more_are_proposed_than_asked_for_and_each_begins_otherwise() -> None:
    assert len(respellings(FEY_KOW, WORDS, 1)) == 1
    begun = [way.split()[0] for way in respellings(FEY_KOW, WORDS, 9)]
    assert len(begun) == len(set(begun))


def test_nothing_is_proposed_where_nothing_is_near() -> None:
    assert respellings(("Z", "UW", "M"), WORDS, 3) == ()
    assert respellings(FEY_KOW, {}, 3) == ()
    assert respellings((), WORDS, 3) == ()


@given(
    st.lists(st.sampled_from(sorted(PHONES)), min_size=1, max_size=8).map(tuple),
    st.integers(min_value=1, max_value=4),
)
def test_what_is_proposed_is_of_known_words_few_and_near(
    target: tuple[str, ...], at_most: int
) -> None:
    found = respellings(target, WORDS, at_most)
    assert len(found) <= at_most
    for way in found:
        words = way.split()
        assert 1 <= len(words) <= WORDS_AT_MOST
        joined = tuple(phone for word in words for phone in WORDS[word])
        assert apart(joined, target) <= APART_AT_MOST


@given(st.lists(st.sampled_from(sorted(WORDS)), min_size=1, max_size=2))
def test_the_sound_of_known_words_is_always_met(words: list[str]) -> None:
    target = tuple(phone for word in words for phone in WORDS[word])
    best = respellings(target, WORDS, 1)
    assert best
    joined = tuple(phone for word in best[0].split() for phone in WORDS[word])
    assert apart(joined, target) <= APART_AT_MOST
