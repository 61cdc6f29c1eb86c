"""Key presses on a terminal, and a terminal that goes away."""

from __future__ import annotations

import os
import pty
import sys
import termios
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from voicelist.keys import Keys


@dataclass(slots=True)
class Terminal:
    master: int
    slave: int


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    """A terminal as standard input."""
    master, slave = pty.openpty()
    stream = os.fdopen(os.dup(slave))
    monkeypatch.setattr(sys, "stdin", stream)
    there = Terminal(master, slave)
    yield there
    stream.close()
    for one in (there.master, there.slave):
        if one >= 0:
            os.close(one)


def test_a_key_is_noticed_once_and_the_terminal_is_as_before(terminal: Terminal) -> None:
    before = termios.tcgetattr(terminal.slave)
    with Keys(watch=True) as keys:
        assert termios.tcgetattr(terminal.slave) != before
        assert not keys.pressed()
        os.write(terminal.master, b"xy")
        assert keys.pressed()
        assert not keys.pressed()
    assert termios.tcgetattr(terminal.slave) == before


def test_a_terminal_that_is_gone_is_no_key_and_no_error(terminal: Terminal) -> None:
    with Keys(watch=True) as keys:
        os.close(terminal.master)
        terminal.master = -1
        assert not keys.pressed()
        assert not keys.pressed()


def test_an_interrupted_beginning_leaves_the_terminal_as_before(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = termios.tcgetattr(terminal.slave)
    real = termios.tcsetattr

    def interrupted(number: int) -> None:
        changed = termios.tcgetattr(number)
        changed[3] &= ~termios.ECHO
        real(number, termios.TCSANOW, changed)
        raise KeyboardInterrupt

    monkeypatch.setattr("voicelist.keys.tty.setcbreak", interrupted)
    with pytest.raises(KeyboardInterrupt), Keys(watch=True):
        pass
    assert termios.tcgetattr(terminal.slave) == before
