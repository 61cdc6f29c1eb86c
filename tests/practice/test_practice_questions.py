"""Questions about the pedal and about settings.

Positions: an academy's primer on the platform, and teaching slides on phacodynamics (0 nothing, 1
irrigation, 2 aspiration as well, 3 ultrasound as well). Linear: a power modulation article,
November 2005. Order of vacuum: EyeWorld, August 2014, p. 69. The card's figures are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import pytest

from tests.session.talk import shipped_bundle
from voicelist.documents.loading import load_card
from voicelist.figures.series import pedal_travel
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.places import shipped
from voicelist.practice.pedal import KINDS, TRAVEL, PedalQuestion, pedal_questions
from voicelist.practice.quiz import QuizVerdict
from voicelist.practice.settings import ROOT, SettingsQuestion, phases_asked
from voicelist.practice.travel_text import travel_lines

GRAMMARS = shipped("grammars")
ROOTS = ("practice_position", "practice_on", "practice_control", "practice_amount")
PHASES = ("sculpt", "quadrant", "cortex")


def _rules() -> RuleSet:
    texts = {
        one.stem: one.read_text(encoding="utf-8") for one in (GRAMMARS / "rules").glob("*.abnf")
    }
    return RuleSet.from_texts(texts.items())


GRAMMAR = Grammar(
    {root: Reference(root, PhrasePlace(root, 1, 1)) for root in (*ROOTS, ROOT)}, _rules()
)


def answer(text: str, root: str) -> Match:
    (match,) = (one for one in GRAMMAR.parses(text.split()) if one.rule == root)
    return match


def questions(count: int = 400, seed: int = 1) -> tuple[PedalQuestion, ...]:
    card = load_card(GRAMMARS / "cards" / "demo-surgeon.yaml").document
    found = {one: card.settings_for("clinical", 3, one) for one in PHASES}
    settings = {phase: one for phase, one in found.items() if one is not None}
    assert set(settings) == set(PHASES)
    return pedal_questions(settings, shipped_bundle().sentences, count, seed)


def asked(text: str) -> PedalQuestion:
    (found,) = (one for one in questions() if one.text == text)
    return found


ON, ALL = "irrigation and aspiration", "all three"


@pytest.mark.parametrize(
    ("text", "right", "not_so"),
    [
        ("Sculpting, pedal in position 0: what is on?", "nothing", "irrigation"),
        ("Sculpting, pedal in position 1: what is on?", "irrigation only", ON),
        ("Sculpting, pedal in position 2: what is on?", ON, "irrigation"),
        ("Sculpting, pedal in position 3: what is on?", ALL, ON),
        ("Sculpting: which position adds ultrasound?", "position three", "position two"),
        ("Cortex: which position adds aspiration?", "two", "three"),
        # Derived: power belongs to position 3, which irrigation and aspiration alone do not use.
        ("Cortex: which position adds ultrasound?", "none of them", "three"),
        ("Cortex: a valve has opened, no pump runs. Which position?", "one", "two"),
        ("Quadrants, vacuum: linear or fixed?", "fixed", "linear"),
        # 0 to 60 %, followed by the travel: half of it is 30.
        (
            "Sculpting: power linear, 0 to 60. Half way through position 3: how much?",
            "thirty percent",
            "sixty percent",
        ),
        (
            "Quadrants: vacuum fixed, 350. Half way through position 2: how much?",
            "three hundred and fifty",
            "one hundred and seventy five",
        ),
    ],
)
def test_an_answer_about_the_pedal_is_judged_by_what_was_published(
    text: str, right: str, not_so: str
) -> None:
    question = asked(text)
    (root,) = question.roots
    assert question.judged([answer(right, root)], last=False).right
    first = question.judged([answer(not_so, root)], last=False)
    assert not first.right
    assert first.shown == ()  # nothing gives the answer away while one try is left
    last = question.judged([answer(not_so, root)] * 2, last=True)
    assert not last.right
    assert question.right_words in last.told[0]
    assert str(question.source) in last.shown[0]


def test_a_question_that_was_not_answered_is_told_and_not_right() -> None:
    for question in questions(8):
        verdict = question.judged([], last=True)
        assert not verdict.right
        assert verdict.shown


def test_kinds_come_in_turn_and_no_question_comes_twice() -> None:
    some = questions(8)
    assert [one.kind for one in some] == [*KINDS, *KINDS]
    every = questions()
    assert len({one.text for one in every}) == len(every)
    assert questions(8, 2) != some


def test_no_question_holds_its_own_answer_as_all_that_is_permitted() -> None:
    """A trainee who repeats the question is not right by that."""
    for question in questions():
        if question.kind != TRAVEL:
            words = question.text.lower().replace(":", "").replace("?", "").split()
            assert not [one for one in GRAMMAR.parses(words) if one.rule in question.roots]


def test_travel_is_drawn_as_it_is_computed() -> None:
    card = load_card(GRAMMARS / "cards" / "demo-surgeon.yaml").document
    settings = card.settings_for("clinical", 3, "sculpt")
    assert settings is not None
    lines = {one.split()[0]: one for one in travel_lines(pedal_travel("sculpt", settings))}
    steps = " \u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588"
    power = lines["power"].split("|")[1:5]
    assert [set(one) for one in power[:3]] == [{" "}] * 3
    heights = [steps.index(one) for one in power[3]]
    assert heights[0] > 0
    assert heights[-1] == len(steps) - 1
    assert all(one <= other for one, other in pairwise(heights))
    assert set(lines["vacuum"].split("|")[3]) == {steps[-1]}  # fixed: whole from the first on
    assert "60 %, linear" in lines["power"]
    assert max(map(len, lines.values())) <= 80


def settings(
    phase: str,
    *said: str,
    before: Mapping[str, Mapping[str, Any]] | None = None,
    last: bool = False,
) -> QuizVerdict:
    question = SettingsQuestion(shipped_bundle(), phase, before or {})
    return question.judged([answer(one, ROOT) for one in said], last=last)


def test_settings_of_the_card_fit_and_what_is_lacking_is_asked_for() -> None:
    assert phases_asked(shipped_bundle())[:3] == ("sculpt", "chop", "quadrant")
    whole = settings("sculpt", "power sixty vacuum seventy flow twenty four")
    assert whole.right
    part = settings("sculpt", "power sixty vacuum seventy")
    assert not part.right
    assert "Still needed: flow." in part.told
    assert settings("sculpt", "power sixty vacuum seventy", "flow twenty four").right


def test_what_does_not_fit_is_explained_with_its_reason_and_source() -> None:
    verdict = settings("quadrant", "power ninety vacuum three fifty flow thirty two pulses thirty")
    assert not verdict.right
    assert verdict.told[0] == "Power is 90; the card says 40."
    assert any("[project choice: a card is the surgeon's own" in one for one in verdict.shown)
    assert not any("The card has" in one for one in verdict.told)
    last = settings("quadrant", "power ninety vacuum three fifty flow thirty two", last=True)
    assert "power 40 linear" in last.told[-1]


def test_phases_are_compared_with_those_said_before() -> None:
    """Sculpt below epinucleus below chop; a vacuum for chopping below that of sculpting is told."""
    before = {"sculpt": {"vacuum_mmHg": {"value": 90.0, "control": ""}}}
    verdict = settings("chop", "vacuum eighty five", before=before)
    assert any("published" in one and "EyeWorld" in one for one in verdict.shown)
