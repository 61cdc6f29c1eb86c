"""Plain speech by sound: what two models must agree on, and what one of them may do."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.session.talk import shipped_case
from voicelist.grammar.match import Match
from voicelist.listening.free_transcript import PlainSpeechBySound
from voicelist.session.natural import BARE_WORD
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.interpretation import (
    Denied,
    Doubt,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
)
from voicelist.understanding.questions import Transcript

CASE = shipped_case("practice-101")
Transcribe = Callable[[], Transcript | None]
TALK = NotForUs(("[unk]",))


def hears(words: str) -> Transcribe:
    """A verifier that hears these words freely."""
    return lambda: Transcript(tuple(words.split()))


def nothing() -> None:
    return None


def not_understood(words: str) -> NotUnderstood:
    return NotUnderstood(tuple(words.split()), "it is not one of the permitted answers")


def read(found: Understanding, heard: Transcribe, at: PlainSpeechBySound) -> Understanding:
    return at(found, heard)


def asked(item: str, *commands: str) -> PlainSpeechBySound:
    roots = {f"{item}.{kind}" for kind in ("done", "fault", "value")}
    active = roots.intersection(CASE.grammar.names) | {f"command.{one}" for one in commands}
    context = Context(CASE.grammar, active, CASE.room)
    return PlainSpeechBySound.of(CASE.natural, State(current=item), context)


def test_what_was_understood_strictly_stays() -> None:
    strict = Understood(Match("power.done", ("machine", "power", "on")), ("machine", "power", "on"))
    assert read(strict, hears("machine power off"), asked("power")) is strict
    denied = Denied("power.done", ("machine", "power", "not", "on"))
    assert read(denied, hears("machine power on"), asked("power")) is denied


@pytest.mark.parametrize("found", [TALK, not_understood("it on")])
def test_without_the_second_model_nothing_is_read_freely(found: Understanding) -> None:
    assert read(found, nothing, asked("power")) is found
    assert read(found, hears(""), asked("power")) is found


def test_an_ordinary_item_passes_where_both_models_heard_the_same() -> None:
    found = read(not_understood("it's on"), hears("it's on"), asked("power"))
    assert isinstance(found, Understood)
    assert found.match.rule == "power.done"


def test_a_stop_item_is_read_back_even_where_both_heard_the_same() -> None:
    found = read(not_understood("it's firm"), hears("it's firm"), asked("irrigation-line"))
    assert isinstance(found, Unconfirmed)


@pytest.mark.parametrize("found", [TALK, not_understood("in")])
def test_what_one_model_heard_is_read_back(found: Understanding) -> None:
    assert isinstance(read(found, hears("it's on"), asked("power")), Unconfirmed)
    whole = read(found, hears("the irrigation line is firm"), asked("irrigation-line"))
    assert isinstance(whole, Unconfirmed)


def test_a_permitted_sentence_that_something_spoke_against_is_not_read_anew() -> None:
    at = asked("irrigation-line")
    words = ("irrigation", "line", "firm")
    ambiguous = NotUnderstood(words, "it may also have been another", doubt=Doubt.AMBIGUOUS)
    assert read(ambiguous, hears("irrigation line firm"), at) is ambiguous
    vetoed = not_understood("irrigation line firm")
    assert read(vetoed, hears("the irrigation line is firm"), at) is vetoed


def test_what_the_recogniser_alone_heard_is_nothing() -> None:
    found = not_understood("printout matched")
    assert read(found, hears("does the printout match"), asked("printout")) is found


def test_what_is_loosely_an_answer_needs_a_word_that_both_heard() -> None:
    words = "they are free the old one squeaks like my knees"
    assert read(TALK, hears(words), asked("vent-side")) is TALK
    heard = read(not_understood("free"), hears(words), asked("vent-side"))
    assert isinstance(heard, Unconfirmed)


def test_a_denial_is_taken_up_and_talk_that_only_sounds_like_trouble_is_not() -> None:
    at = asked("irrigation-line")
    denied = read(not_understood("irrigation firm"), hears("it isn't firm"), at)
    assert isinstance(denied, Denied)
    assert read(TALK, hears("it isn't firm"), at) is TALK
    told = not_understood("line")
    assert read(told, hears("the line to the car park is wrong"), at) is told


def test_a_fault_that_one_model_heard_is_reported_only_if_meant() -> None:
    found = read(not_understood("on"), hears("it's off"), asked("power"))
    assert isinstance(found, Denied)


def test_numbers_are_left_to_the_permitted_sentences() -> None:
    found = not_understood("lens power")
    at = asked("lens-power")
    assert read(found, hears("plus nineteen"), at) is found


@pytest.mark.parametrize(
    ("words", "command", "done"),
    [
        ("what was that", "say_again", True),
        ("where are we up to", "where_are_we", True),
        ("skip this one for now", "defer", False),
        ("not applicable", "not_applicable", False),
        ("undo that", "undo", False),
        ("pause", "hold_on", False),
        ("yes", "correct", True),
        ("yes", "abandon_now", False),
        ("no", "do_not_report", True),
    ],
)
def test_commands_that_one_model_heard_change_no_answer(
    words: str, command: str, done: bool
) -> None:
    found = read(TALK, hears(words), asked("power", command))
    assert isinstance(found, Understood) is done


@pytest.mark.parametrize("found", [TALK, not_understood("in")])
@pytest.mark.parametrize("words", ["yes", "no"])
def test_yes_or_no_by_itself_asks_again_and_passes_nothing(
    found: Understanding, words: str
) -> None:
    heard = read(found, hears(words), asked("irrigation-line"))
    assert heard == NotUnderstood((words,), BARE_WORD)


def test_two_models_that_heard_other_sides_or_quantities_agree_on_nothing() -> None:
    item = asked("implant-eye")
    same = read(not_understood("left eye"), hears("left eye"), item)
    assert isinstance(same, Understood)
    other = read(not_understood("left eye"), hears("right eye"), item)
    assert not isinstance(other, Understood)
    accepts = asked("quadrant-profile", "accept")
    one = not_understood("surgeon accepts the vacuum")
    assert read(one, hears("surgeon accepts the flow"), accepts) is one
    agreed = read(one, hears("surgeon accepts the vacuum"), accepts)
    assert isinstance(agreed, Understood)
