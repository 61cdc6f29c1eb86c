"""What the loop needs of the world: something to hear with, to speak with, to keep and to show."""

from __future__ import annotations

import contextlib
from typing import Protocol

from voicelist.session.events import Event, Voice
from voicelist.session.record_base import Record
from voicelist.session.records import ClockChanged
from voicelist.session.state import State
from voicelist.understanding.interpretation import Understanding


def nothing() -> None:
    """Nothing is to be done."""


class Keeper(Protocol):
    """Makes records durable; returns only when one is."""

    def keep(self, record: Record) -> None: ...


class Speaker(Protocol):
    """Says a sentence. Returns the seconds of speech and a problem for a person ("" if none)."""

    def speak(self, text: str) -> tuple[float, str]: ...

    def tone(self) -> None: ...

    def adjust(self, pace: int, level: int) -> None:
        """Speak so many steps faster (slower if below 0) and louder than usual."""


class Hearer(Protocol):
    """Waits for the next thing that happens while the session listens.

    `heard_s` is the time listened to so far, in seconds of sound (0 if typed).
    """

    @property
    def heard_s(self) -> float: ...

    def next_event(self, state: State) -> Event: ...


class Display(Protocol):
    """Shows what happens; nothing shown as taken is not yet on disk."""

    def said(self, text: str) -> None: ...

    def heard(self, understanding: Understanding, voice: Voice) -> None: ...

    def taken(self) -> None: ...

    def show(self, kind: str, text: str) -> None: ...


class Stopping(Protocol):
    """Whether the program is asked to stop. `reason` is "" while it is not."""

    @property
    def reason(self) -> str: ...

    def taken_up(self) -> None:
        """The session is ending; what it still says is not to be cut off by the same request."""

    def breaking_in(self) -> contextlib.AbstractContextManager[None]:
        """Inside, a request raises KeyboardInterrupt at once."""

    def held_back(self) -> contextlib.AbstractContextManager[None]:
        """Inside, nothing is raised: something is being written."""


class Watch(Protocol):
    """Watches the clocks."""

    def look(self) -> tuple[ClockChanged, ...]:
        """What has happened to them since the last look."""


class NeverAsked:
    """Nobody asks for an end, but for the keyboard's interrupt."""

    reason = ""

    def taken_up(self) -> None:
        """Nothing was asked."""

    def breaking_in(self) -> contextlib.AbstractContextManager[None]:
        return contextlib.nullcontext()

    def held_back(self) -> contextlib.AbstractContextManager[None]:
        return contextlib.nullcontext()


class NoWatch:
    """Nobody watches the clocks."""

    def look(self) -> tuple[ClockChanged, ...]:
        return ()
