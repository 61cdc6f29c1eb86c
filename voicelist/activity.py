"""What the assistant is doing now: speaking, listening, deciding, or not listening.

Whoever speaks and hears tells it, in the thread of the case; displays look at it from threads of
their own. Nothing here waits, and nothing of it is kept.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from voicelist.audio.samples import Samples
from voicelist.listening.sound import Piece, SoundSource
from voicelist.session.events import Equipment, Event
from voicelist.session.ports import Hearer
from voicelist.session.state import State

STARTING = "starting"
SPEAKING = "speaking"
LISTENING = "listening"
DECIDING = "deciding"
DEAF = "not-listening"

_MICROPHONE = "microphone"
CANNOT_HEAR, HEARS_AGAIN = "cannot-hear", "hear-again"
# Digital silence has no level; this is below what any microphone gives.
SILENCE_DBFS = -96.0
_FULL_SCALE = 32768.0


@dataclass(slots=True)
class Activity:
    """`doing` is one of the constants; `deaf` counts the parts that do not hear (microphone,
    recogniser), `unheard` the one of two microphones, by whose it is, `typing` says that lines are
    typed (`waits_for_line`: from where the wait shows no sign of life, such as a pipe), `paused`
    that talk is on hold. `sign_s` is when the case last showed that it goes on (monotonic)."""

    doing: str = STARTING
    deaf: frozenset[str] = frozenset()
    unheard: frozenset[str] = frozenset()
    typing: bool = False
    waits_for_line: bool = False
    paused: bool = False
    level_dBFS: float = SILENCE_DBFS
    sign_s: float = field(default_factory=time.monotonic)
    watchers: list[Callable[[], None]] = field(default_factory=list)

    @property
    def shown(self) -> str:
        """What people are told: whatever else goes on, that nothing is heard comes first."""
        return DEAF if self.deaf else self.doing

    @property
    def silent_s(self) -> float:
        """Seconds since the last sign."""
        return time.monotonic() - self.sign_s

    def now(self, doing: str) -> None:
        """From now on."""
        self.sign()
        if doing != self.doing:
            self.doing = doing
            self._tell()

    def sign(self) -> None:
        """The case goes on."""
        self.sign_s = time.monotonic()

    def types(self, *, on_terminal: bool) -> None:
        """Lines are typed instead of spoken; but for a terminal nothing shows that it goes on."""
        self.typing, self.waits_for_line = True, not on_terminal

    def equipment(self, event: Equipment) -> None:
        """A part was lost, or is back."""
        before = self.deaf, self.unheard
        if event.key == CANNOT_HEAR:
            self.deaf |= {event.part}
        elif event.key == HEARS_AGAIN or event.heard:
            self.deaf -= {event.part}
        if event.channel is not None:
            whose = event.role or f"microphone {event.channel + 1}"
            self.unheard = self.unheard - {whose} if event.heard else self.unheard | {whose}
        if (self.deaf, self.unheard) != before:
            self._tell()

    def pause(self, paused: bool) -> None:
        """Talk is on hold, or goes on."""
        if paused != self.paused:
            self.paused = paused
            self._tell()

    def hears(self, samples: Samples) -> None:
        """A piece of sound came in, shape (channels, n)."""
        self.sign()
        self.level_dBFS = level_dBFS(samples)
        # A microphone that gave no signal does not say that it gives one again.
        if _MICROPHONE in self.deaf and samples.size and bool((np.ptp(samples, axis=-1) > 0).all()):
            self.deaf -= {_MICROPHONE}
            self._tell()

    def _tell(self) -> None:
        for watcher in self.watchers:
            watcher()


def level_dBFS(samples: Samples) -> float:
    """The level (RMS) of the loudest channel; 0 is a square wave at full scale (of the usual
    definitions the one without the 3 dB that a sine is given)."""
    if not samples.size:
        return SILENCE_DBFS
    power = float(np.max(np.mean(np.square(samples.astype(np.float64)), axis=-1)))
    if power <= 0.0:
        return SILENCE_DBFS
    return max(SILENCE_DBFS, 10 * math.log10(power / _FULL_SCALE**2))


@dataclass(slots=True)
class WatchedHearer:
    """Tells when it is listened, and what does not hear."""

    hearer: Hearer
    activity: Activity

    @property
    def heard_s(self) -> float:
        return self.hearer.heard_s

    def next_event(self, state: State) -> Event:
        self.activity.now(LISTENING)
        try:
            event = self.hearer.next_event(state)
        finally:
            self.activity.now(DECIDING)
        if isinstance(event, Equipment):
            self.activity.equipment(event)
        return event


@dataclass(slots=True)
class WatchedSource:
    """Tells how loud it is, and when what was heard is thought about."""

    source: SoundSource
    activity: Activity
    channels: int = field(init=False)

    def __post_init__(self) -> None:
        self.channels = self.source.channels

    def cue(self, state: State) -> None:
        self.source.cue(state)

    def answered(self) -> None:
        self.activity.now(DECIDING)
        self.source.answered()

    def read(self) -> Piece | Event | None:
        self.activity.now(LISTENING)
        told = self.source.read()
        if isinstance(told, Piece):
            self.activity.hears(told.samples)
        return told
