"""Typed lines in a case that is heard, while nothing is heard: "please type" means here."""

from __future__ import annotations

import codecs
import os
import select
import sys
from collections.abc import Callable
from dataclasses import dataclass, field

from voicelist.activity import Activity
from voicelist.keys import Keys
from voicelist.listening.sound import Piece, SoundSource
from voicelist.listening.typed import TypedHearer
from voicelist.session.events import Event
from voicelist.session.state import State

_READ_AT_ONCE = 4096
_HOW = "Type what would be said, then Enter; help lists it."


class InputLines:
    """Complete lines of the standard input, as they come; nothing is waited for."""

    def __init__(self) -> None:
        try:
            self._number = sys.stdin.fileno()
        except (OSError, ValueError, AttributeError):
            self._number = -1
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._rest = ""

    def next(self) -> str | None:
        """The next line that is complete, None where there is none (yet)."""
        while "\n" not in self._rest:
            if self._number < 0 or not select.select([self._number], [], [], 0)[0]:
                return None
            try:
                read = os.read(self._number, _READ_AT_ONCE)
            except OSError:
                read = b""
            if not read:
                self._number = -1  # nobody is there to type
            self._rest += self._decoder.decode(read)
        line, _, self._rest = self._rest.partition("\n")
        return line


@dataclass(slots=True)
class TypedBeside:
    """A source of sound beside which lines count while the activity says that nothing is heard."""

    source: SoundSource
    activity: Activity
    typed: TypedHearer
    keys: Keys
    lines: InputLines = field(default_factory=InputLines)
    channels: int = field(init=False)
    _state: State = field(default_factory=State)

    def __post_init__(self) -> None:
        self.channels = self.source.channels

    def cue(self, state: State) -> None:
        self._state = state
        self.source.cue(state)

    def answered(self) -> None:
        self.source.answered()

    def read(self) -> Piece | Event | None:
        return self.source.read()

    def line(self, each_pass: Callable[[], None]) -> Event | None:
        """What somebody has typed meanwhile; the case goes on."""
        each_pass()
        wanted = bool(self.activity.deaf)
        if wanted != self.activity.typing:
            self.activity.typing = wanted
            self.keys.take_lines(wanted)
            if wanted:
                self.typed.tell(_HOW)
        if not wanted:
            return None
        line = self.lines.next()
        return self.typed.event_of(line, self._state) if line and line.strip() else None
