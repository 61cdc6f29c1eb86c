"""People's own words by sound: what both models find passes, what one finds is read back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pytest

from tests.session.talk import shipped_case
from voicelist.grammar.match import Match
from voicelist.listening.both_hear import AskedPlace, HeardSound, heard_by_both
from voicelist.listening.free_transcript import PlainSpeechBySound
from voicelist.listening.sound import near_by_phones
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.interpretation import (
    Denied,
    Doubt,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.questions import Scores, Transcript

CASE = shipped_case("practice-101")
NEAR = near_by_phones(CASE)
TALK = NotForUs(("[unk]",))
UNSURE = NotUnderstood(("power",), "it is not one of the permitted answers")


def place(item: str) -> AskedPlace:
    roots = {f"{item}.{kind}" for kind in ("done", "fault", "value")}
    context = Context(CASE.grammar, roots.intersection(CASE.grammar.names), CASE.room)
    return AskedPlace(
        PlainSpeechBySound.of(CASE.natural, State(current=item), context), context, NEAR
    )


def sound(
    looks: Sequence[str], freely: str, near: Mapping[str, float], likely: Mapping[str, float]
) -> HeardSound:
    """The recogniser's hypotheses, the other's own words, and what each makes of sentences."""
    return HeardSound([tuple(one.split()) for one in looks], _Models(freely, near, likely))


@dataclass(frozen=True, slots=True)
class _Models:
    freely: str
    near: Mapping[str, float]
    likely: Mapping[str, float]

    def forced_choice(self, sentences: Sequence[Words]) -> Scores:
        return tuple(self.near.get(" ".join(one), -math.inf) for one in sentences)

    def verifier_scores(self, sentences: Sequence[str]) -> Scores:
        return tuple(self.likely.get(one, -40.0) for one in sentences)

    def free_transcript(self) -> Transcript:
        return Transcript(tuple(self.freely.split()), -1.0)


def both(item: str, heard: HeardSound, strictly: Understanding = UNSURE) -> Understanding:
    return heard_by_both(strictly, strictly, heard, place(item))


ON = sound(["power is on"], "the powder is on", {"the power is on": 9.0}, {"the power is on": -2.0})
FIRM = sound(["firm"], "burn", {"firm": 9.0}, {"firm": -2.0})


def test_an_ordinary_item_passes_where_both_find_the_answer() -> None:
    found = both("power", ON)
    assert isinstance(found, Understood)
    assert found.match.rule == "power.done"
    assert found.words == ("the", "power", "is", "on")


def test_a_stop_item_is_read_back() -> None:
    found = both("irrigation-line", FIRM)
    assert isinstance(found, Unconfirmed)
    assert found.match.rule == "irrigation-line.done"


def test_where_a_permitted_sentence_may_have_been_negated_it_is_read_back() -> None:
    negated = NotUnderstood(
        ("power", "on"), "it may have been denied", doubt=Doubt.NEGATED_OR_HEDGED
    )
    assert isinstance(both("power", ON, negated), Unconfirmed)


def test_between_two_permitted_sentences_nothing_is_decided() -> None:
    ambiguous = NotUnderstood(
        ("power", "on"), "it may also have been another", doubt=Doubt.AMBIGUOUS
    )
    assert both("power", ON, ambiguous) is ambiguous


def test_what_the_recogniser_alone_finds_is_read_back() -> None:
    heard = sound(["power on"], "our own", {"power on": 9.0}, {"power on": -7.0})
    assert isinstance(both("power", heard), Unconfirmed)


@pytest.mark.parametrize(
    ("looks", "freely"),
    [
        (["power on"], "the power is not on"),
        (["power on"], "is the power on"),
        (["power on"], "never mind the power"),
        (["power on"], "check if the power is on"),
        (["[unk]"], "what a lovely morning"),
        ([], ""),
    ],
)
def test_past_a_denial_a_doubt_or_a_question_nothing_is_found(
    looks: Sequence[str], freely: str
) -> None:
    heard = sound(looks, freely, {"power on": 9.0}, {"power on": -1.0})
    assert both("power", heard) is UNSURE


def test_nothing_passes_that_a_denial_comes_near_to() -> None:
    near = {"the power is on": 9.0, "the power is not on": 9.5}
    heard = sound([], "the power is on", near, {"the power is on": -1.0})
    assert not isinstance(both("power", heard), Understood)


@pytest.mark.parametrize(("words", "passes"), [(8, True), (9, False)])
def test_in_much_talk_no_usual_answer_is_looked_for(words: int, passes: bool) -> None:
    freely = " ".join(("oh an", *["tea"] * (words - 2)))
    heard = sound(["his own"], freely, {"it's on": 9.0}, {"it's on": -3.0})
    assert isinstance(both("power", heard), Understood) is passes


def test_what_was_understood_or_denied_stays() -> None:
    strict = Understood(Match("power.fault", ("power", "off")), ("power", "off"))
    assert both("power", ON, strict) is strict
    denied = Denied("power.done", ("power", "not", "on"))
    assert both("power", ON, denied) is denied
    assert heard_by_both(denied, TALK, ON, place("power")) is denied


def test_a_value_that_the_recogniser_heard_is_read_back_if_all_near_looks_agree() -> None:
    said = "plus nineteen"
    heard = sound([said, f"a {said}"], "plus knighting", {said: 9.0}, {said: -4.0})
    found = both("lens-power", heard)
    assert isinstance(found, Unconfirmed)
    assert found.match.rule == "lens-power.value"
    torn = sound([said, "plus ninety"], "plus knighting", {said: 9.0}, {said: -4.0})
    assert both("lens-power", torn) is UNSURE


def test_without_the_second_model_nothing_is_found() -> None:
    assert both("power", sound(["power is on"], "", {"the power is on": 9.0}, {})) is UNSURE


def test_of_what_neither_heard_the_usual_answers_are_put_to_both() -> None:
    heard = sound(["his own"], "oh an", {"it's on": 9.0}, {"it's on": -3.0})
    assert isinstance(both("power", heard), Understood)
    unlikely = sound(["his own"], "oh an", {"it's on": 9.0}, {"it's on": -30.0})
    assert both("power", unlikely) is UNSURE
    opposite = {"it's on": -3.0, "it's off": -2.0}
    assert both("power", sound(["his own"], "oh an", {"it's on": 9.0}, opposite)) is UNSURE
