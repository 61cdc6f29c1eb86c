"""Speech louder or softer than usual, for rooms and for ears."""

from __future__ import annotations

import numpy as np

from voicelist.speaking.speech import Sound

# Project choices: one step of "louder" or "softer", and the peak that is never passed.
LEVEL_STEP_DB = 4.0
PEAK_AT_MOST = 0.891

_FULL_SCALE = 32767.0


def raised(sound: Sound, steps: int) -> Sound:
    """The sound so many steps of 4 dB louder (softer if below 0). Peaks are rounded off, never cut
    or beyond -1 dBFS, so that speech that is at its full level already still grows louder."""
    if not steps or not sound.pcm:
        return sound
    wave = np.frombuffer(sound.pcm, "<i2").astype(np.float32) / _FULL_SCALE
    wave = wave * 10 ** (LEVEL_STEP_DB * steps / 20)
    if float(np.abs(wave).max()) > PEAK_AT_MOST:
        wave = np.tanh(wave / PEAK_AT_MOST) * PEAK_AT_MOST
    return Sound(np.round(wave * _FULL_SCALE).astype("<i2").tobytes())
