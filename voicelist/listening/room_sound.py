"""Sources of the room's sound: a recording, or the microphone behind its gate."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

import numpy as np

from voicelist.audio.microphone import (
    Block,
    MicrophoneBack,
    MicrophoneLost,
    MicrophoneSilent,
    Told,
)
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import look_through
from voicelist.listening.gate import MicrophoneGate, Sounded
from voicelist.listening.sound import PIECE_SAMPLES, Piece
from voicelist.session.events import Equipment, Event
from voicelist.session.state import State

_READ_TIMEOUT_S = 0.1
_NS = 1_000_000_000


def _nothing_else() -> Event | None:
    return None


@dataclass(slots=True)
class Recording:
    """A sound file as the room, however long. It rests while the assistant speaks, as people
    would. It is looked through first: a case does not break off over a file that was cut."""

    file: Path
    real_pace: bool
    channels: int = field(init=False)
    _blocks: Iterator[Samples] = field(init=False)
    _rest: Samples = field(init=False)
    _position: int = 0
    _due_s: float = 0.0

    def __post_init__(self) -> None:
        sound = look_through(self.file)
        self.channels = sound.channels
        self._blocks = sound.blocks()
        self._rest = np.zeros((self.channels, 0), np.int16)

    def cue(self, state: State) -> None:
        self._due_s = time.monotonic()

    def answered(self) -> None:
        """Nothing: the recording goes on."""

    def read(self) -> Piece | None:
        while self._rest.shape[1] < PIECE_SAMPLES:
            block = next(self._blocks, None)
            if block is None:
                break
            self._rest = np.concatenate([self._rest, block], axis=1)
        if not self._rest.shape[1]:
            return None
        samples, self._rest = self._rest[:, :PIECE_SAMPLES], self._rest[:, PIECE_SAMPLES:]
        first, self._position = self._position, self._position + PIECE_SAMPLES
        if self.real_pace:
            self._due_s += PIECE_SAMPLES / SAMPLE_RATE_HZ
            time.sleep(max(0.0, self._due_s - time.monotonic()))
        return Piece(first, samples)


def _ignored(event: Equipment) -> None:
    """Nobody needs to know at once."""


class Hears(Protocol):
    """A microphone, or two as one."""

    def read(self, timeout_s: float) -> Told | None:
        """What comes next, or None after that time."""


@dataclass(slots=True)
class LiveRoom:
    """The microphone behind its gate. It is read while the assistant speaks, too, so that nothing
    at the edges is lost and its loss is noticed."""

    microphone: Hears
    gate: MicrophoneGate
    channels: int
    # Asked again and again while sound is waited for: whether something else has happened.
    meanwhile: Callable[[], Event | None] = _nothing_else
    _due: deque[Piece | Event] = field(default_factory=deque)
    # Told at once what happens to a microphone; the session is told when it listens next.
    noticed: Callable[[Equipment], None] = _ignored
    # Whose microphone each of two channels is; empty where that is nobody's.
    roles: tuple[str, ...] = ()
    _unheard: set[int] = field(default_factory=set)
    _began: bool = False
    # A sample and when it was sounded.
    _last: tuple[int, int] = (0, 0)

    def cue(self, state: State) -> None:
        """Nothing: the microphone runs all the time, the gate decides."""

    def answered(self) -> None:
        """Nothing: people go on talking as they like."""

    def begin(self, stopped: Callable[[], object]) -> None:
        """Waits until sound comes in, or it is known that none does, or `stopped`."""
        while not (self._began or self._due or stopped()):
            self._take(self.microphone.read(_READ_TIMEOUT_S))

    def speech_begins(self) -> None:
        """The assistant is about to be heard."""
        self.take_in()
        self._due = deque(_before_speech(one) for one in self._due)
        self.gate.speech_begins(time.monotonic_ns())

    def speech_ended(self, silent_for_s: float) -> None:
        """The assistant was last heard so long ago."""
        self.take_in()
        silent_from_ns = time.monotonic_ns() - round(silent_for_s * _NS)
        self._due += map(_piece, self.gate.speech_ended(silent_from_ns))

    @property
    def all_heard(self) -> bool:
        """Whether nothing that was taken in says that one of two microphones is not heard."""
        return not self._unheard

    def take_in(self) -> None:
        """What waits at the microphone, without waiting for more."""
        while (told := self.microphone.read(0.0)) is not None:
            self._take(told)

    def sample_now(self) -> int:
        """The sample that is sounded now."""
        first, mono_ns = self._last
        return first + round((time.monotonic_ns() - mono_ns) * SAMPLE_RATE_HZ / _NS)

    def wait_for_sound(self) -> None:
        """A moment, at the longest."""
        self._take(self.microphone.read(_READ_TIMEOUT_S))

    def sound_due(self) -> list[Piece]:
        """The pieces that are due; news is left to be read."""
        pieces = [one for one in self._due if isinstance(one, Piece)]
        self._due = deque(one for one in self._due if not isinstance(one, Piece))
        return pieces

    def news(self) -> list[Equipment]:
        """What happened to the microphone; it is told nobody else."""
        found = [one for one in self._due if isinstance(one, Equipment)]
        self._due = deque(one for one in self._due if not isinstance(one, Equipment))
        return found

    def tell(self, event: Event) -> None:
        """Something about the microphone, before what else is due."""
        self._due.appendleft(event)

    def read(self) -> Piece | Event | None:
        while not self._due:
            event = self.meanwhile()
            if event is not None:
                return event
            self._take(self.microphone.read(_READ_TIMEOUT_S))
        return self._due.popleft()

    def _take(self, told: Told | None) -> None:
        if isinstance(told, Block):
            self._began, self._last = True, (told.first_sample, told.mono_ns)
            self._news(self._heard_again(told))
            known = told.source_known
            sounded = Sounded(told.first_sample, told.samples, told.mono_ns, source_known=known)
            self._due += map(_piece, self.gate.feed(sounded))
        elif told is not None:
            self._news(self._equipment(told))

    def _news(self, events: list[Equipment]) -> None:
        for event in events:
            self.noticed(event)
            self._due.append(event)

    def _heard_again(self, block: Block) -> list[Equipment]:
        """Channels of two that give a signal again."""
        heard = [one for one in self._unheard if np.ptp(block.samples[one]) > 0]
        self._unheard.difference_update(heard)
        return [self._of_channel(one, "it is heard again", heard=True) for one in sorted(heard)]

    def _equipment(
        self, told: MicrophoneLost | MicrophoneSilent | MicrophoneBack
    ) -> list[Equipment]:
        """What to tell. Of one channel of two it is told by sound that it is back."""
        channel = told.channel if self.channels > 1 else None
        match told:
            case MicrophoneBack():
                back = Equipment("microphone", "the microphone is back", "hear-again")
                return [back] if channel is None else []
            case MicrophoneSilent():
                what = "the microphone gives no signal"
            case MicrophoneLost():
                what = told.reason
        if channel is None:
            return [Equipment("microphone", what, "cannot-hear")]
        if channel in self._unheard:
            return []
        self._unheard.add(channel)
        return [self._of_channel(channel, f"{told.device}: {what}", heard=False)]

    def _of_channel(self, channel: int, what: str, *, heard: bool) -> Equipment:
        role = self.roles[channel] if channel < len(self.roles) else ""
        if heard:
            key = "role-heard-again" if role else "hear-again"
        elif len(self._unheard) == self.channels:
            key = "cannot-hear"
        else:
            key = "role-not-heard" if role else "microphone-not-heard"
        return Equipment("microphone", what, key, channel, role, heard)


def _piece(heard: Sounded) -> Piece:
    return Piece(
        heard.first_sample,
        heard.samples,
        heard.before_speech,
        heard.whole_from,
        heard.source_known,
    )


def _before_speech(told: Piece | Event) -> Piece | Event:
    return replace(told, before_speech=True) if isinstance(told, Piece) else told
