"""Sound that a site wants kept: what was just heard is held in memory, and of it the utterances
whose words are in the record are written, encrypted."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.listening.sound import Piece, SoundSource
from voicelist.record.sound import SoundFolder
from voicelist.session.events import Event
from voicelist.session.record_base import Record
from voicelist.session.records import Heard
from voicelist.session.state import State

# What is held in memory: longer than any utterance with the time that it takes to be understood.
_HELD_SAMPLES: Final = 120 * SAMPLE_RATE_HZ
# Around the speech, so that its first and last sounds are not cut. Common practice, no source.
_AROUND_S: Final = 0.2


class HeldSound:
    """A source that hands on what another one hands out, and holds the last two minutes of it."""

    def __init__(self, source: SoundSource) -> None:
        self.channels = source.channels
        self._source = source
        self._pieces: deque[Piece] = deque()
        self._end = 0

    def cue(self, state: State) -> None:
        """The session begins to listen."""
        self._source.cue(state)

    def answered(self) -> None:
        """Something was understood, or at least heard."""
        self._source.answered()

    def read(self) -> Piece | Event | None:
        """The next piece, an event about the equipment, or None at the end."""
        told = self._source.read()
        if isinstance(told, Piece):
            self._pieces.append(told)
            self._end = told.first_sample + told.samples.shape[1]
            while self._pieces[0].first_sample < self._end - _HELD_SAMPLES:
                self._pieces.popleft()
        return told

    def cut(self, channel: int, start_s: float, end_s: float) -> tuple[int, Samples]:
        """The first sample, and the sound from a little before to a little behind, as far as it is
        held; silence where nothing was listened to."""
        start = max(round((start_s - _AROUND_S) * SAMPLE_RATE_HZ), 0)
        end = min(round((end_s + _AROUND_S) * SAMPLE_RATE_HZ), self._end)
        sound = np.zeros(max(end - start, 0), np.int16)
        for piece in self._pieces:
            first, behind = piece.first_sample, piece.first_sample + piece.samples.shape[1]
            a, b = max(first, start), min(behind, end)
            if a < b:
                sound[a - start : b - start] = piece.samples[channel, a - first : b - first]
        return start, sound


@dataclass(slots=True)
class SoundKeeper:
    """Writes the sound of what the record holds words of, and of nothing else: what was not for the
    assistant, or was said freely, leaves no words and no sound."""

    held: HeldSound
    folder: SoundFolder
    keys: tuple[str, ...]
    tell: Callable[[str], None]
    _failed: bool = field(default=False)

    def keep(self, seq: int, record: Record) -> None:
        """Called when the record is on disk as event `seq`. Sound that cannot be kept ends no case:
        it is told once."""
        if self._failed or not isinstance(record, Heard) or not record.words:
            return
        if record.channel is None or record.start_s is None or record.end_s is None:
            return
        start, sound = self.held.cut(record.channel, record.start_s, record.end_s)
        try:
            self.folder.keep(seq, record.channel, start, sound, self.keys)
        except Exception as error:  # whatever it is, the record goes on
            self._failed = True
            self.tell(f"The sound is no longer kept ({error}). The record goes on.")
