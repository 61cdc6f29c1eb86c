""" "Please type" means that typing works there and then, in the same case and record."""

from __future__ import annotations

import os
import signal
import sys
import termios
from pathlib import Path

import pytest

from tests.command import PLAN
from tests.pretend_devices import PretendDevices
from tests.running_program import entries_in, on_terminal
from tests.session.talk import Talk
from tests.test_keys import Terminal, terminal
from voicelist.activity import Activity
from voicelist.asr.model import ModelPlace
from voicelist.keys import Keys
from voicelist.listening.sound import Piece
from voicelist.listening.typed import TypedHearer
from voicelist.session.events import Equipment, Utterance
from voicelist.session.state import State
from voicelist.typed_beside import TypedBeside

__all__ = ["terminal"]

PRETEND = Path(__file__).parent / "pretend"
LOST = Equipment("microphone", "no sound comes from it", "cannot-hear")
BACK = Equipment("microphone", "the microphone is back", "hear-again")


class Silent:
    channels = 1

    def cue(self, state: State) -> None: ...

    def answered(self) -> None: ...

    def read(self) -> Piece | None:
        return None


def beside(keys: Keys, told: list[str]) -> tuple[TypedBeside, Activity]:
    talk, activity = Talk(), Activity()
    made = TypedBeside(Silent(), activity, TypedHearer(talk.case, sys.stdin, told.append), keys)
    made.cue(talk.state)
    return made, activity


def is_shown_as_typed(there: Terminal) -> bool:
    return bool(termios.tcgetattr(there.slave)[3] & termios.ECHO)


def test_lines_count_only_while_nothing_is_heard(terminal: Terminal) -> None:
    told: list[str] = []
    passes: list[str] = []
    with Keys(watch=True) as keys:
        lines, activity = beside(keys, told)

        def look() -> object:
            return lines.line(lambda: passes.append("pass"))

        os.write(terminal.master, b"x")
        assert look() is None
        assert keys.pressed(), "a key silences"
        assert not is_shown_as_typed(terminal)
        activity.equipment(LOST)
        assert look() is None
        assert is_shown_as_typed(terminal)
        assert told == ["Type what would be said, then Enter; help lists it."]
        os.write(terminal.master, b"irrigation line")
        assert look() is None
        assert not keys.pressed(), "the line is not complete"
        os.write(terminal.master, b" firm\nhelp\n\n")
        assert keys.pressed()
        event = look()
        assert isinstance(event, Utterance)
        assert event.voice.by == "typed"
        assert event.understanding.words == ("irrigation", "line", "firm")
        assert look() is None
        assert any("irrigation line" in one for one in told[1:]), "help was told"
        assert look() is None
        activity.equipment(BACK)
        assert look() is None
        assert not is_shown_as_typed(terminal)
        assert len(passes) == 7, "the clocks are looked at meanwhile"
    assert is_shown_as_typed(terminal)


def test_a_terminal_that_is_gone_types_nothing_and_ends_nothing(terminal: Terminal) -> None:
    with Keys(watch=True) as keys:
        lines, activity = beside(keys, [])
        activity.equipment(LOST)
        os.close(terminal.master)
        terminal.master = -1
        for _ in range(3):
            assert lines.line(lambda: None) is None


def test_a_case_that_loses_its_microphone_takes_typed_lines_until_it_is_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, speech_model: ModelPlace
) -> None:
    assert speech_model
    devices = PretendDevices(tmp_path, monkeypatch)
    monkeypatch.setenv("PYTHONPATH", str(PRETEND))
    with on_terminal(tmp_path, "run", PLAN, "--mic", "Headset", "--voice", "none") as running:
        running.wait_until(lambda: "irrigation line?" in running.shown)
        devices.set(sound=False)
        running.wait_until(lambda: "Please type, or use paper." in running.shown)
        running.wait_until(lambda: "NOT LISTENING" in running.shown)
        running.wait_until(lambda: "then Enter" in running.shown)
        running.type("irrigation line firm")
        running.wait_until(lambda: "aspiration line?" in running.shown)
        devices.set(sound=True)
        running.wait_until(lambda: "I hear again." in running.shown)
        running.send(signal.SIGINT)
        assert running.ended() == 0
        assert running.as_before
    told = [
        (one.kind, one.body.get("by") or one.body.get("part") or one.body.get("words"))
        for one in entries_in(tmp_path, "practice-007")
        if one.kind in ("heard", "noticed", "answered")
        and one.body.get("status") in (None, "understood")
    ]
    assert told == [
        ("noticed", "microphone"),
        ("heard", "typed"),
        ("answered", "irrigation line firm"),
        ("noticed", "microphone"),
    ]
