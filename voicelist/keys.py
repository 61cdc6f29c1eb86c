"""Any key on the terminal silences the assistant at once; while it does not hear, lines are typed
there instead, and each silences it when it is complete."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import termios
import tty
from types import TracebackType
from typing import Any, Self

_READ_AT_ONCE = 1024


class Keys:
    """Watches the terminal for a key press while it is entered; elsewhere it watches nothing."""

    def __init__(self, *, watch: bool) -> None:
        self._watch = watch and sys.stdin is not None and sys.stdin.isatty()
        self._lines = False
        self._terminal = sys.stdin.fileno() if self._watch else -1
        self._before: list[Any] | None = None

    def __enter__(self) -> Self:
        self._press()
        return self

    def _press(self) -> None:
        """Each key counts, and none is shown."""
        if self._watch:
            self._before = termios.tcgetattr(self._terminal)
            try:
                tty.setcbreak(self._terminal)
            except BaseException:
                self._restore()
                raise

    def take_lines(self, lines: bool) -> None:
        """Whether lines are typed from now on: shown as they are typed, and left to be read."""
        if lines == self._lines:
            return
        self._lines = lines
        if lines:
            self._restore()
        else:
            with contextlib.suppress(termios.error, OSError):
                self._press()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._restore()

    def _restore(self) -> None:
        if self._before is not None:
            # A terminal that is gone has nothing to be restored.
            with contextlib.suppress(termios.error, OSError):
                termios.tcsetattr(self._terminal, termios.TCSADRAIN, self._before)
            self._before = None

    def pressed(self) -> bool:
        """Whether a key was pressed since the last look."""
        if not self._watch:
            return False
        if self._lines:
            return bool(select.select([self._terminal], [], [], 0)[0])
        found = False
        while self._watch and select.select([self._terminal], [], [], 0)[0]:
            try:
                read = os.read(self._terminal, _READ_AT_ONCE)
            except OSError:
                read = b""
            # A terminal that is gone is always ready and never has anything.
            self._watch = bool(read)
            found = found or self._watch
        return found
