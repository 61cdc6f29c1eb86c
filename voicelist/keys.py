"""Any key on the terminal silences the assistant at once."""

from __future__ import annotations

import select
import sys
import termios
import tty
from types import TracebackType
from typing import Any, Self


class Keys:
    """Watches the terminal for a key press while it is entered; elsewhere it watches nothing."""

    def __init__(self, *, watch: bool) -> None:
        self._watch = watch and sys.stdin is not None and sys.stdin.isatty()
        self._before: list[Any] | None = None

    def __enter__(self) -> Self:
        if self._watch:
            self._before = termios.tcgetattr(sys.stdin)
            tty.setcbreak(sys.stdin)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._before is not None:
            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    def pressed(self) -> bool:
        """Whether a key was pressed since the last look."""
        if not self._watch:
            return False
        found = False
        while select.select([sys.stdin], [], [], 0)[0]:
            sys.stdin.read(1)
            found = True
        return found
