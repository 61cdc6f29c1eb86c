"""Answers with a verb of their own, a fault that is denied, what was done before the clause that
counts, and what is near these and is none. The wordings are invented."""

from __future__ import annotations

import pytest

from tests.session.test_plain_speech_around import CASE, heard, passes
from voicelist.session.settings_said import SettingsSaid
from voicelist.understanding.interpretation import Unconfirmed


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("irrigation-line", "the irrigation line holds firm"),
        ("irrigation-line", "it sits tight on the handpiece"),
        ("irrigation-line", "it won't budge"),
        ("irrigation-line", "can confirm it's firm"),
        ("irrigation-line", "that's a yes firm"),
        ("irrigation-line", "had a tug it's firm"),
        ("handpiece-lines", "neither will come off"),
        ("handpiece-lines", "both of them hold when i pull"),
        ("pump-tubing", "the tubing clicks in nicely"),
        ("bevel", "the bevel points up"),
        ("flow-path", "it comes out in one stream"),
        ("vent-side", "they all open and close nicely"),
        ("priming", "the machine says priming complete"),
        ("tip", "the edge is clean and it's wrenched on tight"),
    ],
)
def test_a_verb_of_its_own_answers(item: str, words: str) -> None:
    assert passes(item, words)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("irrigation-line", "won't it come off"),
        ("irrigation-line", "it's firm isn't it"),
        ("irrigation-line", "it hasn't moved has it"),
        ("irrigation-line", "had the line been tightened"),
        ("irrigation-line", "it doesn't hold"),
        ("irrigation-line", "neither holds"),
        ("irrigation-line", "i had a look it's loose"),
        ("irrigation-line", "i pulled it and it moved"),
        ("irrigation-line", "he confirmed it's firm"),
        ("irrigation-line", "it holds for now"),
        ("irrigation-line", "do not move it"),
        ("tip", "the tip is sharp"),
        ("tip", "sharp but loose"),
        ("tip", "no edge and tight"),
        ("allergies", "she says she has allergies"),
        ("alpha-blockers", "he says"),
        ("counts", "needles are complete"),
        ("flow-path", "it does not come out"),
    ],
)
def test_what_is_near_such_an_answer_is_none(item: str, words: str) -> None:
    assert not passes(item, words)


@pytest.mark.parametrize(
    "words", ["it's not leaking", "that one isn't loose", "the irrigation line isn't slipping"]
)
def test_a_fault_that_is_denied_is_read_back(words: str) -> None:
    assert isinstance(heard("irrigation-line", words), Unconfirmed)


@pytest.mark.parametrize(
    "words",
    [
        "it's not loose yet",
        "it's not very loose",
        "it's not only loose",
        "it is not loose but dripping",
        "not loose i hope",
    ],
)
def test_a_fault_that_is_half_denied_is_no_answer(words: str) -> None:
    assert not passes("irrigation-line", words)


@pytest.mark.parametrize(
    "words",
    [
        "i screwed it down two turns and now it is firm",
        "the new line came up short so i turned it round and it is firm",
    ],
)
def test_what_was_done_before_the_last_clause_does_not_keep_it_from_being_read_back(
    words: str,
) -> None:
    assert isinstance(heard("irrigation-line", words), Unconfirmed)


@pytest.mark.parametrize(
    "words",
    [
        "the line was leaking two minutes ago and it is firm",
        "i turned it down and maybe it is firm",
        "she turned it round and said it is firm",
        "it is firm and i turned it down and it came off",
    ],
)
def test_faults_doubts_and_hearsay_before_it_do(words: str) -> None:
    assert not passes("irrigation-line", words)


def test_a_number_behind_a_word_that_is_not_known_is_asked_about() -> None:
    settings = SettingsSaid(CASE.natural.rules)

    def is_read(words: str) -> bool:
        return settings.read(words.split(), "x.value") is not None

    assert is_read("pulses a hundred per second power thirty")
    assert not is_read("hyperpulse a hundred per second power thirty")
    assert is_read("maria please power thirty")
