"""What people say around an answer: begun again, told as it was done, risks denied one by one. The
wordings are invented; that a denial, a doubt or hearsay passes nothing is the design's rule."""

from __future__ import annotations

import pytest

from tests.session.talk import shipped_case
from voicelist.session.settings_said import SettingsSaid
from voicelist.understanding.interpretation import Denied, Unconfirmed, Understanding, Understood
from voicelist.understanding.written_out import said_once

CASE = shipped_case("practice-101")


def heard(item: str, words: str) -> Understanding | None:
    active = frozenset(f"{item}.{kind}" for kind in ("done", "fault", "value"))
    said = tuple(words.split())
    found = CASE.natural.understand(said, item, active)
    return found if isinstance(found, Understood | Unconfirmed | Denied) else None


def passes(item: str, words: str) -> bool:
    """Whether it is taken for the good state, at once or read back."""
    found = heard(item, words)
    return isinstance(found, Understood | Unconfirmed) and not found.match.rule.endswith(".fault")


@pytest.mark.parametrize(
    ("words", "once"),
    [
        ("they are they are firm", "they are firm"),
        ("the line is is on on", "the line is on"),
        ("it is not it is not firm", "it is not firm"),
        ("firm and firm", "firm and firm"),
        ("two two", "two two"),
    ],
)
def test_who_begins_again_is_read_once(words: str, once: str) -> None:
    assert said_once(tuple(words.split()), frozenset({"two"})) == tuple(once.split())


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("handpiece-lines", "they're uh they're firm"),
        ("bottle-line", "the bottle line um it's it's open"),
        ("vent-side", "the valves are free and so is the vent"),
    ],
)
def test_an_answer_that_was_begun_again_is_one(item: str, words: str) -> None:
    assert passes(item, words)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("pump-tubing", "I pushed it down all round the pump and the tubing is seated"),
        ("changed-line", "we took the old one off and I pulled at both ends and it's firm"),
        ("new-priming", "I ran it over with the new tubing so priming is complete"),
        ("anaesthesia-check", "I did it before the patient came in and it's done"),
    ],
)
def test_what_is_told_as_done_is_read_back_for_its_last_clause(item: str, words: str) -> None:
    assert isinstance(heard(item, words.lower()), Unconfirmed)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("pump-tubing", "i pushed it down all round the pump and the tubing is not seated"),
        ("changed-line", "i pulled at both ends and it came off"),
        ("changed-line", "i think i pulled at both ends and it's firm"),
        ("changed-line", "i will pull at both ends and then it's firm"),
        ("changed-line", "i pulled at both ends but she said it's firm"),
        ("changed-line", "i was told by the ward that it's firm"),
        ("anaesthesia-check", "i need to look at the drugs and it's done"),
    ],
)
def test_what_is_told_of_plans_doubts_and_others_passes_nothing(item: str, words: str) -> None:
    assert not passes(item, words)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("bleeding", "none he's not on warfarin or aspirin"),
        (
            "bleeding",
            "we went over her pills and she takes no blood thinners so no bleeding risk",
        ),
        ("alpha-blockers", "no she's never taken them"),
        ("airway", "none no none"),
        ("allergies", "i asked her twice and she has no known allergies"),
        ("aids", "none no ring no hooks"),
    ],
)
def test_risks_that_are_denied_one_by_one_are_none(item: str, words: str) -> None:
    assert passes(item, words)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("bleeding", "none but he takes aspirin"),
        ("bleeding", "no he's on warfarin"),
        ("bleeding", "not asked yet about blood thinners"),
        ("allergies", "no allergies except latex"),
        ("allergies", "i have not asked her about allergies"),
        ("alpha-blockers", "never asked him"),
        ("airway", "no i haven't looked at the neck"),
        ("aids", "no i want hooks"),
    ],
)
def test_a_risk_among_denials_passes_nothing(item: str, words: str) -> None:
    assert not passes(item, words)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("pump-tubing", "maria push that tubing in for me"),
        ("procedure-name", "joseph write the procedure name down"),
        ("sleeve-holes", "level with what"),
        ("antibiotic", "i assume the ward gave it"),
        ("specimen", "stick a label on that pot"),
        ("aspiration-line", "one second i am holding the tray"),
        ("procedure-name", "it's blank on the form"),
    ],
)
def test_an_order_a_question_and_a_guess_pass_nothing(item: str, words: str) -> None:
    assert not passes(item, words)


@pytest.mark.parametrize(
    ("words", "values"),
    [
        ("duty cycle of forty five percent and thirty pulses per second", {45, 30}),
        ("vacuum's three ten flow's twenty nine", {310, 29}),
        ("linear vacuum to four hundred linear flow to thirty five", {400, 35}),
        ("no ultrasound power vacuum five hundred", {0, 500}),
        ("flow uh flow thirty and vacuum three hundred please", {30, 300}),
    ],
)
def test_settings_keep_their_whole_numbers(words: str, values: set[int]) -> None:
    match = SettingsSaid(CASE.natural.rules).read(words.split(), "x.value")
    assert match is not None
    assert {part.value for part in match.walk() if part.value is not None} == values


@pytest.mark.parametrize(
    "words",
    [
        "i heard people use vacuum four hundred",
        "power forty or fifty",
        "vacuum two or three",
        "i don't want power thirty",
        "can't do vacuum three hundred",
    ],
)
def test_settings_of_others_and_choices_are_not_taken(words: str) -> None:
    assert SettingsSaid(CASE.natural.rules).read(words.split(), "x.value") is None


def test_linear_between_two_settings_belongs_to_the_one_before_it() -> None:
    words = "sixty percent linear vacuum eighty flow twenty two"
    match = SettingsSaid(CASE.natural.rules).read(words.split(), "x.value")
    assert match is not None
    said = [part.text for part in match.walk() if part.first("control") is not None]
    assert "sixty percent linear" in said
    assert not any(part.startswith("linear vacuum") for part in said)
