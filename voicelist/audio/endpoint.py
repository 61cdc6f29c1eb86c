"""Where an utterance begins and ends, given how likely each short chunk of sound is speech.

Pure: no sound, no clock, no model. Positions count chunks since the stream began.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

CHUNK_SAMPLES = 512  # what the voice-activity model takes: 32 ms at 16 kHz


@dataclass(frozen=True, slots=True)
class EndpointRules:
    """When speech counts as begun and as ended; one chunk is 32 ms.

    The pause of 256 ms is an own measurement: shorter ones (192 and 128 ms) cost 2 and 4 of 30
    synthetic commands. The two probabilities are those of the voice-activity model's makers
    (threshold 0.5, and 0.15 below it to stay in speech; from memory).
    """

    on_probability: float = 0.5
    off_probability: float = 0.35
    voiced_to_begin: int = 2
    pre_roll: int = 10  # 320 ms
    pause: int = 8  # 256 ms
    growing_pause: int = 22  # 704 ms
    longest: int = 625  # 20 s


@dataclass(frozen=True, slots=True)
class Began:
    """Speech begins with chunk `speech`; sound from chunk `first` on belongs to the utterance."""

    first: int
    speech: int


@dataclass(frozen=True, slots=True)
class Ended:
    """Speech ended before chunk `end`, as known after chunk `decided - 1`.

    `by` says whether a pause ended it or the greatest length was reached.
    """

    speech: int
    end: int
    decided: int
    by: Literal["pause", "length"]


class Endpointer:
    """Takes one probability a chunk; returns an event when speech begins or ends."""

    def __init__(self, rules: EndpointRules | None = None) -> None:
        self._rules = rules or EndpointRules()
        self._next = 0
        self.restart_at(0)

    @property
    def in_speech(self) -> bool:
        return self._speech is not None

    @property
    def ends_next(self) -> bool:
        """Whether one more chunk of silence ends the speech, if it cannot grow."""
        return self._speech is not None and self._next - self._end == self._rules.pause - 1

    def restart_at(self, chunk: int) -> None:
        """Forget everything: the next probability is that of `chunk`, the first there is."""
        self._next = chunk
        self._earliest = chunk
        self._voiced = 0
        self._speech: int | None = None
        self._end = chunk

    def push(self, probability: float, can_grow: Callable[[], bool]) -> Began | Ended | None:
        """The event that this chunk completes, if any.

        `can_grow()` is asked from 256 ms of pause on, chunk after chunk: while what was heard may
        still become a longer permitted sentence, the end waits, at most 704 ms.
        """
        chunk, self._next = self._next, self._next + 1
        if self._speech is None:
            return self._while_silent(chunk, probability)
        if probability >= self._rules.off_probability:
            self._end = chunk + 1
        return self._while_speaking(self._speech, chunk + 1, can_grow)

    def finish(self) -> Ended | None:
        """The stream is over: end what is open."""
        if self._speech is None:
            return None
        return self._close(Ended(self._speech, self._end, self._next, "pause"))

    def _while_silent(self, chunk: int, probability: float) -> Began | None:
        self._voiced = self._voiced + 1 if probability >= self._rules.on_probability else 0
        if self._voiced < self._rules.voiced_to_begin:
            return None
        self._speech = chunk + 1 - self._voiced
        self._end = chunk + 1
        return Began(max(self._earliest, self._speech - self._rules.pre_roll), self._speech)

    def _while_speaking(self, speech: int, now: int, can_grow: Callable[[], bool]) -> Ended | None:
        paused = now - self._end
        over = paused >= self._rules.growing_pause
        if over or (paused >= self._rules.pause and not can_grow()):
            return self._close(Ended(speech, self._end, now, "pause"))
        if now - speech >= self._rules.longest:
            return self._close(Ended(speech, self._end, now, "length"))
        return None

    def _close(self, ended: Ended) -> Ended:
        self._earliest = ended.end if ended.by == "pause" else ended.decided
        self._speech = None
        self._voiced = 0
        return ended
