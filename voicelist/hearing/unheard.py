"""Speech at the edges of an utterance that a hypothesis leaves without a word.

The recogniser may take a short word before or behind a permitted sentence for noise. Where speech
begins and ends is known from voice activity; what is there but quieter than the words is the room.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt

from voicelist.hearing.sources import Samples
from voicelist.hearing.utterance import SAMPLE_RATE_HZ, Alternative

# Own measurements: words left out lie from 2.9 dB below to 2.4 dB above the words heard, kitchen
# noise 6 dB below speech 4 to 15 dB below them.
_AS_LOUD_dB = -3.0
_FRAME_SAMPLES = 320
_LOUD_PERCENTILE = 80.0

_Levels = npt.NDArray[np.float64]


def with_unheard(
    alternatives: tuple[Alternative, ...],
    samples: Samples,
    first_sample: int,
    speech: tuple[int, int],
) -> tuple[Alternative, ...]:
    """The alternatives, each with the seconds of speech that it leaves unheard at its edges.

    `samples` begin at position `first_sample`; `speech` are the positions between which speech was
    found.
    """
    levels = _levels(samples)
    bounds = tuple((at - first_sample) / SAMPLE_RATE_HZ for at in speech)
    offset_s = first_sample / SAMPLE_RATE_HZ
    return tuple(_with_unheard(one, levels, bounds, offset_s) for one in alternatives)


def _with_unheard(
    one: Alternative, levels: _Levels, speech_s: tuple[float, ...], offset_s: float
) -> Alternative:
    if not one.words:
        return one
    begin_s, end_s = one.words[0].start_s - offset_s, one.words[-1].end_s - offset_s
    words = _loudness(levels, begin_s, end_s)
    before_s, behind_s = (
        max(0.0, to_s - from_s) if _loudness(levels, from_s, to_s) - words >= _AS_LOUD_dB else 0.0
        for from_s, to_s in ((speech_s[0], begin_s), (end_s, speech_s[1]))
    )
    return dataclasses.replace(one, before_s=before_s, behind_s=behind_s)


def _levels(samples: Samples) -> _Levels:
    """The level of each 20 ms, in dB of one step of a sample."""
    whole = len(samples) - len(samples) % _FRAME_SAMPLES
    frames = samples[:whole].astype(np.float64).reshape(-1, _FRAME_SAMPLES)
    levels: _Levels = 10.0 * np.log10(np.mean(frames**2, axis=1) + 1.0)
    return levels


def _loudness(levels: _Levels, from_s: float, to_s: float) -> float:
    """The level of the louder part of a stretch; far down where there is none."""
    per_s = SAMPLE_RATE_HZ / _FRAME_SAMPLES
    part = levels[max(0, int(from_s * per_s)) : max(0, int(to_s * per_s))]
    return float(np.percentile(part, _LOUD_PERCENTILE)) if len(part) else -np.inf
