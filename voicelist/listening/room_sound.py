"""Sources of the room's sound: a recording, or the microphone behind its gate."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from voicelist.audio.microphone import (
    Block,
    Microphone,
    MicrophoneBack,
    MicrophoneLost,
    MicrophoneSilent,
)
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import look_through
from voicelist.listening.sound import PIECE_SAMPLES, Piece
from voicelist.session.events import Equipment, Event
from voicelist.session.state import State

# The room still carries the assistant's voice when it has ended; project choice, at least 250 ms.
_ECHO_NS = 250_000_000
_READ_TIMEOUT_S = 0.1


def _nothing_else() -> Event | None:
    return None


@dataclass(slots=True)
class MicrophoneGate:
    """Until when (monotonic nanoseconds) the microphone would hear the assistant itself."""

    closed_until_ns: int = 0

    def close_behind_speech(self) -> None:
        """The assistant has just stopped speaking."""
        self.closed_until_ns = time.monotonic_ns() + _ECHO_NS


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


@dataclass(slots=True)
class LiveRoom:
    """The microphone. What was captured while the gate was closed is left out."""

    microphone: Microphone
    gate: MicrophoneGate
    channels: int
    # Asked again and again while sound is waited for: whether something else has happened.
    meanwhile: Callable[[], Event | None] = _nothing_else
    _early: list[Event] = field(default_factory=list)

    def cue(self, state: State) -> None:
        """Nothing: the microphone runs all the time, the gate decides."""

    def answered(self) -> None:
        """Nothing: people go on talking as they like."""

    def begin(self, stopped: Callable[[], object]) -> None:
        """Waits until sound comes in, or it is known that none does, or `stopped`."""
        while not (self._early or stopped()):
            told = self.microphone.read(_READ_TIMEOUT_S)
            if isinstance(told, Block):
                return
            if told is not None:
                self._early.append(_equipment(told))

    def read(self) -> Piece | Event | None:
        while True:
            event = self._early.pop(0) if self._early else self.meanwhile()
            if event is not None:
                return event
            told = self.microphone.read(_READ_TIMEOUT_S)
            if isinstance(told, Block):
                if told.mono_ns >= self.gate.closed_until_ns:
                    return Piece(told.first_sample, told.samples)
            elif told is not None:
                return _equipment(told)


def _equipment(told: MicrophoneLost | MicrophoneSilent | MicrophoneBack) -> Equipment:
    match told:
        case MicrophoneLost():
            return Equipment("microphone", told.reason, "cannot-hear")
        case MicrophoneSilent():
            return Equipment("microphone", "the microphone gives no signal", "cannot-hear")
        case MicrophoneBack():
            return Equipment("microphone", "the microphone is back", "hear-again")
