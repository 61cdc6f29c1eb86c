"""Being asked to stop: by Ctrl-C, by the system, or because the terminal is gone.

A signal sets a mark and nothing else, so that no write is ever cut in two. Only while nothing but
the next event is waited for does it break in.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
from collections.abc import Iterator
from types import FrameType, TracebackType
from typing import Any, Self, TextIO

from voicelist.errors import VoicelistError

TERMINAL_GONE = "the terminal was closed"
# Why a case ended, as its record says it.
_REASONS = {
    "SIGINT": "interrupted",
    "SIGTERM": "the computer asked the program to end",
    "SIGHUP": TERMINAL_GONE,
}


def lead_nowhere(stream: TextIO | None) -> None:
    """What is written to a terminal or pipe that is gone goes nowhere from now on, instead of
    failing again and again, and once more at the end of the program."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        number = stream.fileno()  # type: ignore[union-attr]  # None is suppressed as well
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, number)
        os.close(nowhere)


def last_words(sentence: str) -> None:
    """Tell the terminal why the program ends, if it is still there."""
    for stream, text in ((sys.stdout, ""), (sys.stderr, f"{sentence}\n")):
        try:
            stream.write(text)
            stream.flush()
        except OSError:
            lead_nowhere(stream)


class StoppedBefore(VoicelistError):
    """The program was asked to stop before a case began."""

    def __init__(self, number: int) -> None:
        super().__init__("Stopped before the case began; nothing was recorded.")
        self.exit_code = 128 + number  # as shells tell of a signal


class StopRequests:
    """Takes the signals while it is entered. `reason` says why the case is to end, "" while nobody
    asked; `urgent` is true from a signal on until the session has taken it up."""

    def __init__(self) -> None:
        self.reason = ""
        self.urgent = False
        self._number = 0
        self._may_break_in = False
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Self:
        if threading.current_thread() is threading.main_thread():
            for name in _REASONS:
                self._take(getattr(signal, name, None))
        return self

    def _take(self, number: signal.Signals | None) -> None:
        # What is ignored on purpose (nohup) stays so.
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            self._before[number] = signal.signal(number, self._signalled)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)
        self._before.clear()

    def _signalled(self, number: int, frame: FrameType | None) -> None:
        del frame
        self._number = self._number or number
        self.reason = self.reason or _REASONS[signal.Signals(number).name]
        self.urgent = True
        if self._may_break_in:
            self._may_break_in = False
            raise KeyboardInterrupt

    def ask(self, reason: str) -> None:
        """Somebody else than the system wants the case to end."""
        if not self.reason:
            self.reason, self.urgent = reason, True

    def taken_up(self) -> None:
        """The session is ending; what is still to be said may be said, until the next signal."""
        self.urgent = False

    def refuse(self) -> None:
        """Raises StoppedBefore if the program was asked to stop."""
        if self.reason:
            raise StoppedBefore(self._number or int(signal.SIGINT))

    @contextlib.contextmanager
    def breaking_in(self) -> Iterator[None]:
        """Inside, a request to stop raises KeyboardInterrupt at once."""
        self._may_break_in = True
        try:
            self._break_in_if_asked()
            yield
        finally:
            self._may_break_in = False

    @contextlib.contextmanager
    def held_back(self) -> Iterator[None]:
        """Inside, nothing breaks in; afterwards it does if it would have before."""
        before, self._may_break_in = self._may_break_in, False
        try:
            yield
        finally:
            self._may_break_in = before
        if before:
            self._break_in_if_asked()

    def _break_in_if_asked(self) -> None:
        if self.reason:
            self._may_break_in = False
            raise KeyboardInterrupt
