"""Words as faint as the background at the edges of a sentence, which somebody else has said."""

from __future__ import annotations

import pytest

from tests.understanding.small_room import heard
from voicelist.understanding.interpretation import NotUnderstood, Understood

SAID = "lay out the tray with salt for eighty people sitting down"


@pytest.mark.parametrize(
    ("words", "faint"),
    [
        (f"good {SAID}", (1, 0)),
        (f"{SAID} bottle full", (0, 2)),
        (f"good morning {SAID} still", (2, 1)),
        (f"lens {SAID}", (4, 0)),
        (f"good {SAID} [unk]", (1, 1)),
    ],
)
def test_faint_words_around_a_long_sentence_are_left_out(
    words: str, faint: tuple[int, int]
) -> None:
    result = heard(words, background=faint)
    assert isinstance(result, Understood)
    assert " ".join(result.words) == SAID


@pytest.mark.parametrize(
    ("words", "faint"),
    [
        (f"good {SAID}", (0, 0)),
        (f"good morning {SAID}", (1, 0)),
        (f"not {SAID}", (1, 0)),
        (f"is {SAID}", (1, 0)),
        (f"{SAID} later", (0, 1)),
        (f"{SAID} in a minute", (0, 3)),
        (f"good not {SAID}", (2, 0)),
        (f"good [unk] {SAID}", (2, 0)),
        (f"[unheard] good {SAID}", (2, 0)),
    ],
)
def test_loud_words_and_what_makes_a_sentence_no_answer_are_not(
    words: str, faint: tuple[int, int]
) -> None:
    assert not isinstance(heard(words, background=faint), Understood)


def test_a_short_answer_is_left_as_it_was_heard() -> None:
    assert isinstance(heard("good bottle full", background=(1, 0)), NotUnderstood)
    assert isinstance(heard("irrigation line firm still", background=(0, 1)), NotUnderstood)


def test_amid_babble_a_sentence_need_not_be_as_long() -> None:
    said, active = "pressure fifty pulses two", ("both.value",)
    for amid_babble in (False, True):
        result = heard(f"good {said}", background=(1, 0), amid_babble=amid_babble, active=active)
        assert isinstance(result, Understood) is amid_babble
    three = heard("good irrigation line firm", background=(1, 0), amid_babble=True)
    assert not isinstance(three, Understood)


def test_a_faint_end_that_belongs_to_a_permitted_sentence_stays() -> None:
    result = heard("pressure fifty pulses two", background=(0, 2), active=("both.value",))
    assert isinstance(result, Understood)
    assert " ".join(result.words) == "pressure fifty pulses two"
