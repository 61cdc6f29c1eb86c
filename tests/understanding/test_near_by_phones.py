"""What was heard a little wrong, brought near by its sound to answers: never past a denial."""

from __future__ import annotations

import pytest

from tests.session.talk import shipped_case
from voicelist.documents.phone_table import phone_table
from voicelist.understanding.near_by_phones import NearAnswer, NearByPhones

CASE = shipped_case("practice-101")
NEAR = NearByPhones(CASE.natural.answers, CASE.natural.rules, phone_table("en-US"))


def near(item: str, words: str) -> NearAnswer | None:
    about = CASE.natural.about(item)
    assert about is not None
    return NEAR.answer(words.split(), about)


@pytest.mark.parametrize(
    ("item", "heard", "said"),  # what the second model wrote of synthetic voices, and their words
    [
        ("sleeve-holes", "hose leather", "holes level"),
        ("irrigation-line", "burn", "firm"),
        ("lens-match", "i like", "alike"),
        ("engineer", "yes the engine air is dear", "yes the engineer is there"),
        ("new-priming", "second priming is over and past", "second priming is over and passed"),
        ("connector", "the conductor is clicked in", "the connector is clicked in"),
        ("equipment", "equipment problems nine", "equipment problems none"),
        ("bottle-line", "yet the line is open", "yep the line is open"),
    ],
)
def test_sound_alikes_come_near(item: str, heard: str, said: str) -> None:
    found = near(item, heard)
    assert found is not None
    assert found.words == tuple(said.split())


@pytest.mark.parametrize(
    ("item", "heard"),
    [
        ("irrigation-line", "the irrigation line is not burn"),
        ("irrigation-line", "is the irrigation line burn"),
        ("irrigation-line", "maybe burn"),
        ("irrigation-line", "burn yet"),
        ("bottle-line", "yet to be open"),
        ("irrigation-line", "they said burn"),
        ("irrigation-line", "loose"),
        ("irrigation-line", "lose"),
        ("irrigation-line", "we had a good holiday"),
        ("irrigation-line", ""),
    ],
)
def test_denials_questions_doubts_and_bad_states_do_not(item: str, heard: str) -> None:
    assert near(item, heard) is None


def test_what_is_an_answer_already_is_as_near_as_can_be() -> None:
    found = near("irrigation-line", "the irrigation line is firm")
    assert found is not None
    assert (found.apart, found.full) == (0.0, True)


def test_states_are_told() -> None:
    about = CASE.natural.about("irrigation-line")
    assert about is not None
    assert ("firm",) in NEAR.good_states(about)
    assert ("loose",) in NEAR.bad_states(about)
