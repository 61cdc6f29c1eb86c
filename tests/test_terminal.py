"""The case on a terminal: 80 columns, hanging indents, a status line, plain lines on request."""

from __future__ import annotations

import io
import os
import pty
import re
import select
import time
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from tests.command import PLAN, Command, voicelist
from tests.running_program import on_terminal
from voicelist.activity import (
    DEAF,
    DECIDING,
    LISTENING,
    SPEAKING,
    Activity,
    WatchedHearer,
    level_dBFS,
)
from voicelist.display import TerminalDisplay
from voicelist.session.events import Equipment, Event, Silence
from voicelist.session.state import State
from voicelist.status_line import StatusLine, meter, status_text

__all__ = ["voicelist"]

COLOURS = re.compile(r"\x1b\[[\d;]*m")
LONG = "Still open: the irrigation line, the aspiration line, the quadrant settings and 14 more."
LOST = Equipment("microphone", "no sound comes from it", "cannot-hear")
BACK = Equipment("microphone", "the microphone is back", "hear-again")


def on_columns(columns: int, **more: bool) -> tuple[TerminalDisplay, io.StringIO]:
    out = io.StringIO()
    console = Console(file=out, force_terminal=True, width=columns, color_system=None)
    return TerminalDisplay(console, **more), out


@pytest.mark.parametrize("columns", [40, 60, 80, 132])
def test_long_lines_go_on_below_their_own_words_and_break_between_words(columns: int) -> None:
    display, out = on_columns(columns)
    display.said(LONG)
    display.show("permitted", LONG)
    lines = out.getvalue().splitlines()
    assert all(len(line) <= columns for line in lines)
    first, *rest = lines
    assert first.startswith("  voicelist  Still open")
    assert all(line.startswith(" " * 13) and line[13] != " " for line in rest)
    assert " ".join(" ".join(lines).split()) == f"voicelist {LONG} (say: {LONG})"


def test_how_it_may_be_answered_stands_below_what_was_said_once() -> None:
    display, out = on_columns(80)
    display.permits(("irrigation line firm", "irrigation line loose"))
    display.said("Firm or loose: the irrigation line?")
    display.said("Firm or loose: the irrigation line?")
    told = out.getvalue().splitlines()
    assert told[1].strip() == "(say: irrigation line firm  ·  irrigation line loose)"
    assert len(told) == 3


def test_plain_lines_have_no_column_no_colour_and_no_break() -> None:
    out = io.StringIO()
    console = Console(file=out, force_terminal=False, width=40, color_system=None)
    display = TerminalDisplay(console, plain=True)
    display.permits(("irrigation line firm", "irrigation line loose"))
    display.said(LONG)
    assert out.getvalue() == (
        f"voicelist: {LONG}\n(say: irrigation line firm, or: irrigation line loose)\n"
    )


def test_each_call_of_a_case_says_how_it_may_be_answered(voicelist: Command) -> None:
    lines = "irrigation line firm\naspiration line firm\nbottle full\npriming is almost complete\n"
    lines += "hold on please\ncarry on please\n"
    told = voicelist("run", PLAN, "--typed", "--voice", "none", typed=lines).out.splitlines()
    asked = [n for n, line in enumerate(told) if line.endswith("priming?")]
    assert len(asked) == 3, "called, read back, asked again after the pause"
    for place in asked:
        assert told[place + 1].strip().startswith("(say: ")
        assert "priming complete" in told[place + 1]


@pytest.mark.parametrize(
    ("doing", "deaf", "words"),
    [
        (SPEAKING, (), "speaking"),
        (LISTENING, (), "listening"),
        (DECIDING, (), "deciding"),
        (LISTENING, (LOST,), "NOT LISTENING"),
        (SPEAKING, (LOST,), "NOT LISTENING"),
        (LISTENING, (LOST, BACK), "listening"),
    ],
)
def test_the_status_line_always_says_what_is_done(
    doing: str, deaf: tuple[Equipment, ...], words: str
) -> None:
    activity = Activity()
    activity.now(doing)
    for event in deaf:
        activity.equipment(event)
    assert activity.shown == (DEAF if words.isupper() else doing)
    for letters_alone in (False, True):
        shown = status_text(activity, letters_alone=letters_alone).plain
        assert words in shown
        assert len(shown) < 80
        assert not letters_alone or shown.isascii()


def test_a_pause_and_where_to_type_are_in_the_status_line() -> None:
    activity = Activity()
    activity.types(on_terminal=True)
    activity.now(LISTENING)
    assert status_text(activity, letters_alone=True).plain.endswith("type: ")
    activity.pause(True)
    assert "paused: carry on please" in status_text(activity, letters_alone=True).plain


def test_two_lost_parts_have_both_to_be_back() -> None:
    activity = Activity()
    ears = Equipment("hearing", "hearing was lost", "cannot-hear")
    for event in (LOST, ears, BACK):
        activity.equipment(event)
    assert activity.shown == DEAF
    activity.equipment(Equipment("hearing", "hearing is back", "hear-again"))
    assert activity.shown != DEAF


def test_a_microphone_that_gave_no_signal_hears_when_it_gives_one_again() -> None:
    activity = Activity()
    activity.equipment(Equipment("microphone", "gives no signal", "cannot-hear"))
    activity.hears(np.zeros((2, 512), np.int16))
    activity.hears(np.array([[0] * 512, [0, 1] * 256], np.int16))
    assert activity.shown == DEAF, "one of two channels is no ear for both"
    activity.hears(np.array([[0, 2] * 256, [0, 1] * 256], np.int16))
    assert activity.shown != DEAF


def test_the_level_is_that_of_the_sample_values() -> None:
    """A square wave at full scale is 0 dBFS by this definition, a sine 3.01 dB below, and half the
    amplitude 6.02 dB below that (decibels of amplitudes, 20 lg; IEC 60027-3)."""
    time_s = np.arange(16_000) / 16_000
    sine = (32767 * np.sin(2 * np.pi * 440 * time_s)).astype(np.int16)
    assert level_dBFS(np.full((1, 512), -32768, np.int16)) == pytest.approx(0.0, abs=0.01)
    assert level_dBFS(sine[None, :]) == pytest.approx(-3.01, abs=0.02)
    assert level_dBFS(sine[None, :] // 2) == pytest.approx(-9.03, abs=0.02)
    louder = np.stack([sine // 2, sine])
    assert level_dBFS(louder) == pytest.approx(-3.01, abs=0.02), "the loudest channel"


def test_the_meter_grows_with_the_level() -> None:
    cells = [meter(level, letters_alone=True).count("#") for level in range(-96, 1)]
    assert (cells[0], cells[-1]) == (0, 10)
    assert cells == sorted(cells)
    assert len(set(cells)) == 11


def test_the_hearer_is_listening_until_something_happens() -> None:
    seen: list[str] = []

    class Waits:
        heard_s = 0.0

        def next_event(self, state: State) -> Event:
            seen.append(activity.shown)
            return Silence(8.0)

    activity = Activity()
    assert isinstance(WatchedHearer(Waits(), activity).next_event(State()), Silence)
    assert seen == [LISTENING]
    assert activity.shown == DECIDING


def all_of(master: int) -> str:
    """What the terminal has been sent."""
    raw = b""
    while select.select([master], [], [], 0.3)[0]:
        raw += os.read(master, 65536)
    return raw.decode()


def test_the_status_line_is_drawn_again_in_its_place_and_taken_away_at_the_end() -> None:
    master, slave = pty.openpty()
    with os.fdopen(slave, "w", encoding="utf-8") as terminal:
        console = Console(file=terminal, force_terminal=True, width=80, color_system=None)
        activity = Activity()
        with StatusLine(console, activity, lambda: None) as status:
            display = TerminalDisplay(console, status=status)
            for doing in (SPEAKING, LISTENING, DECIDING):
                activity.now(doing)
                time.sleep(0.3)
            display.said("Firm or loose?")
            time.sleep(0.3)
        drawn = all_of(master)
    os.close(master)
    erase = "\r\x1b[2K"
    places = [drawn.index(word) for word in ("speaking", "listening", "deciding")]
    assert places == sorted(places)
    assert f"{erase}  voicelist  Firm or loose?" in drawn
    assert drawn.endswith(erase)
    assert drawn.count("\n") == 1, "only what was said stays"


def test_a_typed_case_on_a_terminal_shows_where_to_type(tmp_path: Path) -> None:
    with on_terminal(tmp_path, "run", PLAN, "--typed", "--voice", "none") as running:
        running.wait_until(lambda: "listening  type: " in COLOURS.sub("", running.shown))
        assert "irrigation line?" in running.shown
        running.type("irrigation line firm")
        running.wait_until(lambda: "aspiration line?" in running.shown)
        running.type("\x04")
        assert running.ended() == 0
        assert running.as_before
