"""Every voice brought to one rate, one level and short edges."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import soxr

from voicelist.speaking.speech import RATE_HZ, Sound

# Project choices: speech at one level whatever the voice, and never clipped.
SPEECH_RMS_DBFS = -20.0
PEAK_AT_MOST_DBFS = -1.0
EDGE_S = 0.04

_FULL_SCALE = 32767.0
_QUIET_DB = 45.0


def standard_sound(samples: npt.NDArray[np.int16], rate_hz: int) -> Sound:
    """Mono samples at any rate as 16 kHz sound: silence at the edges cut to 40 ms, and the level
    set so that the spoken parts have an RMS of -20 dBFS, unless a peak would pass -1 dBFS."""
    wave = samples.astype(np.float32) / _FULL_SCALE
    if rate_hz != RATE_HZ:
        wave = soxr.resample(wave, rate_hz, RATE_HZ)
    peak = float(np.abs(wave).max(initial=0.0))
    if peak == 0.0:
        return Sound(b"")
    loud = np.flatnonzero(np.abs(wave) > peak * _ratio(-_QUIET_DB))
    edge = round(EDGE_S * RATE_HZ)
    wave = wave[max(0, loud[0] - edge) : loud[-1] + 1 + edge]
    spoken = wave[np.abs(wave) > peak * _ratio(-_QUIET_DB)]
    gain = min(
        _ratio(SPEECH_RMS_DBFS) / float(np.sqrt(np.mean(spoken**2))),
        _ratio(PEAK_AT_MOST_DBFS) / peak,
    )
    return Sound(np.round(wave * gain * _FULL_SCALE).astype("<i2").tobytes())


def _ratio(decibels: float) -> float:
    return float(10 ** (decibels / 20))
