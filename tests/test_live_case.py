"""A case heard live through a sound server: answers soon after a call, into a call, by two
microphones, one of which is lost."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.asr.spoken import say
from tests.command import PLAN
from tests.live_room import Ears, Person
from tests.pulse import SINK, PulseRoom, pulse_room
from tests.running_program import OnTerminal, entries_in, on_terminal
from voicelist.asr.model import ModelPlace
from voicelist.audio.samples import Samples
from voicelist.speaking.levels import EDGE_S
from voicelist.speaking.speaker import SpeechOutput

CALL = "Firm or loose: the irrigation line?"
NEXT_CALL = "Firm or loose: the aspiration line?"
THIRD_CALL = "Full or low: the infusion bottle?"


@pytest.fixture
def one_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseRoom]:
    with pulse_room(tmp_path, monkeypatch) as running:
        yield running


@pytest.fixture
def two(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseRoom]:
    with pulse_room(tmp_path, monkeypatch, ("nurse", "surgeon")) as running:
        yield running


def answered(folder: Path) -> list[tuple[str, str, str]]:
    return [
        (one.body["item"], one.body["words"], one.body["role"])
        for one in entries_in(folder, "practice-007")
        if one.kind == "answered"
    ]


def length_s(call: str) -> float:
    """How long the assistant takes to say it."""
    with SpeechOutput("hibari", play=False, out=None) as mouth:
        return mouth.say(call).seconds - 2 * EDGE_S


def say_behind(running: OnTerminal, ears: Ears, person: Person, call: str, line: Samples) -> None:
    """A fifth of a second after the call, which is about to be spoken."""
    spoken_s = length_s(call)
    running.wait_until(lambda: call in running.shown)
    since_s = time.monotonic()
    running.wait_until(lambda: ears.first_sound_after(since_s) is not None)
    began_s = ears.first_sound_after(since_s)
    assert began_s is not None
    running.wait_until(lambda: time.monotonic() >= began_s + spoken_s + 0.2)
    person.say(line)


def test_an_answer_a_fifth_of_a_second_after_the_call_is_heard_whole(
    one_room: PulseRoom, tmp_path: Path, speech_model: ModelPlace
) -> None:
    """The microphone hears the loudspeaker at full level, and so the gate is needed."""
    assert one_room
    assert speech_model
    person, ears = Person(SINK), Ears(SINK)
    lines = [say("irrigation line firm"), say("aspiration line firm")]
    try:
        with (
            ears.listening(),
            on_terminal(tmp_path, "run", PLAN, "--voice", "hibari") as running,
        ):
            for call, line in zip((CALL, NEXT_CALL), lines, strict=True):
                say_behind(running, ears, person, call, line)
            running.wait_until(lambda: THIRD_CALL in running.shown)
            running.send(signal.SIGINT)
            assert running.ended() == 0
    finally:
        person.close()
    assert [words for _, words, _ in answered(tmp_path)] == [
        "irrigation line firm",
        "aspiration line firm",
    ]
    asked_again = [one for one in entries_in(tmp_path, "practice-007") if one.kind == "asked-again"]
    assert not asked_again


def listens(running: OnTerminal, said: str) -> None:
    """Until it has said this, and listens."""
    running.wait_until(lambda: "listening" in running.shown.partition(said)[2])
    time.sleep(0.2)  # as people take; Levinson & Torreira 2015


def at_both(near: Person, far: Person, line: Samples) -> None:
    """Somebody speaks into their own microphone; the other one hears it four times as far away."""
    near.say(line)
    far.say((line * 0.25).astype(line.dtype))


def test_two_microphones_say_who_answered_and_one_that_is_lost_who_is_not_heard(
    two: PulseRoom, tmp_path: Path, speech_model: ModelPlace
) -> None:
    assert speech_model
    nurse, surgeon, ears = Person("nurse"), Person("surgeon", seed=2), Ears(SINK)
    microphones = ("--mic", "nurse", "--mic", "surgeon", "--from", "pedal")
    try:
        with (
            ears.listening(),
            on_terminal(tmp_path, "run", PLAN, *microphones, "--voice", "hibari") as running,
        ):
            heard_again = "Surgeon is heard again."
            listens(running, "reflux control?")
            at_both(surgeon, nurse, say("reflux control found"))
            listens(running, "the pedal?")
            surgeon.pulled_out(two)
            listens(running, "Surgeon is not heard just now.")
            assert "surgeon NOT HEARD" in running.shown
            nurse.say(say("pedal in reach"))
            listens(running, "Which case number?")
            surgeon.plugged_in(two)
            listens(running, heard_again)
            at_both(nurse, surgeon, say("case number zero zero seven"))
            running.wait_until(lambda: "identity and consent?" in running.shown)
            running.send(signal.SIGINT)
            assert running.ended() == 0
    finally:
        nurse.close()
        surgeon.close()
    assert answered(tmp_path) == [
        ("reflux", "reflux control found", "surgeon"),
        # The nurse's microphone alone may have heard anybody.
        ("pedal-reach", "pedal in reach", ""),
        ("case-number", "case number zero zero seven", "circulating-nurse"),
    ]
