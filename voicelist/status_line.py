"""The last line of a terminal: whether the assistant speaks, listens, decides or does not listen.

It is drawn over again in its place, and taken away while anything else is printed. Where lines are
typed it stands before what is typed.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator

from rich.console import Console
from rich.control import Control
from rich.segment import ControlType
from rich.text import Text

from voicelist.activity import DEAF, DECIDING, LISTENING, SPEAKING, STARTING, Activity

_DRAWN_EVERY_S = 0.12
_CLEAR = Control(ControlType.CARRIAGE_RETURN, (ControlType.ERASE_IN_LINE, 2))
_MARGIN = "  "
# Shape and word; the second shape where the terminal shows plain letters alone.
_SHAPES = {
    STARTING: ("\N{MIDDLE DOT}", "."),
    SPEAKING: ("\N{BLACK RIGHT-POINTING TRIANGLE}", ">"),
    LISTENING: ("\N{FISHEYE}", "o"),
    DECIDING: ("\N{HORIZONTAL ELLIPSIS}", "..."),
    DEAF: ("\N{MULTIPLICATION X}", "x"),
}
_WORDS = {DEAF: "NOT LISTENING"}
_STYLES = {DEAF: "bold reverse", SPEAKING: "blue", LISTENING: "green"}
_PAUSED = "paused: carry on please"
_TYPE = "type: "
# The meter begins at the level of a quiet room's noise in a usual microphone; project choice.
_METER_FROM_DBFS, _METER_CELLS = -60.0, 10


def status_text(activity: Activity, *, letters_alone: bool) -> Text:
    """The line, for a terminal that shows all characters or letters alone."""
    doing = activity.shown
    shape = _SHAPES[doing][letters_alone]
    text = Text(_MARGIN)
    text.append(f"{shape} {_WORDS.get(doing, doing)}", _STYLES.get(doing, "dim"))
    if doing == LISTENING and not activity.typing:
        text.append(f"  {meter(activity.level_dBFS, letters_alone=letters_alone)}", "dim")
    for whose in sorted(activity.unheard):
        text.append(f"  {whose} NOT HEARD", "bold reverse")
    if activity.paused:
        text.append(f"  {_PAUSED}", "bold")
    if activity.typing and activity.doing == LISTENING:
        text.append(f"  {_TYPE}")
    return text


def meter(level_dBFS: float, *, letters_alone: bool) -> str:
    """A level as a row of cells: none at a quiet room's noise, all at full scale."""
    part = (level_dBFS - _METER_FROM_DBFS) / -_METER_FROM_DBFS
    filled = min(_METER_CELLS, max(0, round(part * _METER_CELLS)))
    full, empty = ("#", "-") if letters_alone else ("\u25ae", "\u25af")
    return full * filled + empty * (_METER_CELLS - filled)


class StatusLine:
    """Draws while it is entered, on a terminal; elsewhere it does nothing."""

    def __init__(self, console: Console, activity: Activity, gone: Callable[[], None]) -> None:
        self._console = console
        self._activity = activity
        self._gone = gone
        self._shown = console.is_terminal and not console.is_dumb_terminal
        self._letters_alone = not console.encoding.lower().startswith("utf")
        self._drawn = ""
        self._turn = threading.RLock()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._go_on, name="status", daemon=True)

    def __enter__(self) -> StatusLine:
        if self._shown:
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        if self._shown:
            self._thread.join()
            with self._turn, contextlib.suppress(OSError, SystemExit):
                self._clear()
                self._console.file.flush()

    @contextlib.contextmanager
    def lifted(self) -> Iterator[None]:
        """Inside, something else is printed."""
        with self._turn:
            self._clear()
            yield

    def _clear(self) -> None:
        if self._shown and self._drawn:
            self._console.control(_CLEAR)
            self._drawn = ""

    def _go_on(self) -> None:
        while not self._over.wait(_DRAWN_EVERY_S):
            try:
                self._draw()
            except (OSError, SystemExit):
                self._shown = False
                self._gone()
                return

    def _draw(self) -> None:
        text = status_text(self._activity, letters_alone=self._letters_alone)
        with self._turn:
            if text.plain == self._drawn or self._over.is_set():
                return
            self._console.control(_CLEAR)
            text.truncate(max(1, self._console.width - 1))
            self._console.print(text, end="", soft_wrap=True)
            self._console.file.flush()
            self._drawn = text.plain
