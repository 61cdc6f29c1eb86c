"""How loud each channel was, piece by piece, over the last half minute."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples

# Longer than the longest utterance (20 s).
_KEPT_SAMPLES = 30 * SAMPLE_RATE_HZ
# Keeps digital silence at a finite level.
_LEAST_POWER = 1e-3


@dataclass(frozen=True, slots=True)
class _Loudness:
    """The energy of one piece, by channel."""

    first_sample: int
    samples: int
    energies: tuple[float, ...]


class Levels:
    """Takes the pieces of all channels, compares channels over a span of samples."""

    def __init__(self) -> None:
        self._pieces: deque[_Loudness] = deque()

    def add(self, first_sample: int, samples: Samples) -> None:
        """One piece, shape (channels, n), whose first sample has this position."""
        heard = samples.astype(np.float64)
        energies = tuple(float(np.dot(one, one)) for one in heard)
        self._pieces.append(_Loudness(first_sample, samples.shape[1], energies))
        while self._pieces[0].first_sample < first_sample - _KEPT_SAMPLES:
            self._pieces.popleft()

    def difference_dB(self, span: tuple[int, int], channel: int, other: int) -> float:
        """How much louder (RMS) `channel` was than `other` from one sample to another.

        Exact to a piece: those count whose middle lies within. 0 where nothing is known.
        """
        within = [
            one for one in self._pieces if span[0] <= one.first_sample + one.samples // 2 < span[1]
        ]
        samples = sum(one.samples for one in within)
        if not samples:
            return 0.0
        ours, theirs = (
            sum(one.energies[which] for one in within) / samples + _LEAST_POWER
            for which in (channel, other)
        )
        return 10 * math.log10(ours / theirs)
