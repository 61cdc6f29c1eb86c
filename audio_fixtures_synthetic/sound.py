"""From a voice's sound to a clip as a close microphone would give it: trim, level, noise, file.

Levels. Speech is brought to an active level of -26 dB below full scale. "Active" are the 20 ms
frames within 30 dB of the loudest frame; the level is the RMS over them. The signal-to-noise ratio
of a noisy clip is that level over the RMS of the noise, which runs through the whole clip, in the
full band of 8 kHz. The noise is our own, from random numbers; no recording is in it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import soundfile

RATE_HZ = 16_000
Sound: TypeAlias = npt.NDArray[np.float64]

_FRAME = RATE_HZ // 50
_ACTIVE_WITHIN_dB = 30.0
_ACTIVE_LEVEL_dB = -26.0
_SPEECH_WITHIN_dB = 50.0  # what is trimmed off lies below this, relative to the loudest frame
_PAD_S = 0.35
_FLOOR_dB = -72.0  # a quiet microphone's own noise, so that a clean clip is no digital silence
# Steps of 16 of 32,768: their noise is under the floor, and FLAC does not store the four low bits.
_STEP = 16
_PEAK_AT_MOST = 0.95


def clip_of(said: Sound, snr_dB: float | None, seed: int) -> Sound:
    """A voice's sound as a clip, with 0.35 s before and after it; None is clean."""
    speech = trimmed(said)
    speech = speech * (_amplitude(_ACTIVE_LEVEL_dB) / active_rms(speech))
    speech = speech * min(1.0, _PEAK_AT_MOST / float(np.abs(speech).max()))
    pad = np.zeros(int(_PAD_S * RATE_HZ))
    padded = np.concatenate([pad, speech, pad])
    if snr_dB is None:
        return padded + pink_noise(len(padded), np.random.default_rng(seed)) * _amplitude(_FLOOR_dB)
    level = active_rms(speech) * _amplitude(-snr_dB)
    mixed = padded + theatre_noise(len(padded), seed) * level
    return mixed * min(1.0, _PEAK_AT_MOST / float(np.abs(mixed).max()))


def write_flac(path: Path, sound: Sound) -> None:
    """16 kHz, one channel, 16 bits of which the lower four are zero."""
    steps = np.round(sound * 32_768 / _STEP) * _STEP
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, steps.astype(np.int16), RATE_HZ, subtype="PCM_16", format="FLAC")


def trimmed(sound: Sound) -> Sound:
    """Without what is quiet before and after speech; a frame is kept on both sides."""
    level = _frame_rms(sound)
    loud = np.flatnonzero(level > level.max() * _amplitude(-_SPEECH_WITHIN_dB))
    return sound[max(0, loud[0] - 1) * _FRAME : (loud[-1] + 2) * _FRAME]


def active_rms(sound: Sound) -> float:
    """The RMS of the frames in which somebody speaks."""
    level = _frame_rms(sound)
    active = level[level > level.max() * _amplitude(-_ACTIVE_WITHIN_dB)]
    return float(np.sqrt(np.mean(active**2)))


def theatre_noise(samples: int, seed: int) -> Sound:
    """A theatre-like background, RMS 1: air, suction, mains hum and now and then a soft click."""
    chance = np.random.default_rng(seed)
    mix = (
        0.6 * pink_noise(samples, chance)
        + 0.6 * _suction(samples, chance)
        + 0.35 * _hum(samples, chance)
        + _clicks(samples, chance)
    )
    return mix / float(np.sqrt(np.mean(mix**2)))


def pink_noise(samples: int, chance: np.random.Generator) -> Sound:
    """Noise whose power falls by 3 dB an octave, from 20 Hz; RMS 1."""
    return _shaped(samples, chance, lambda hertz: 1 / np.sqrt(np.maximum(hertz, 20.0)))


def _suction(samples: int, chance: np.random.Generator) -> Sound:
    """A broad hiss around 2 kHz that swells slowly, as a sucker at a drape does."""

    def band(hertz: Sound) -> Sound:
        return np.asarray(np.exp(-((np.log2(np.maximum(hertz, 1.0) / 2_000)) ** 2) / 2.0))

    seconds = np.arange(samples) / RATE_HZ
    swell_Hz, phase = chance.uniform(0.2, 0.6), chance.uniform(0, 2 * np.pi)
    return _shaped(samples, chance, band) * (
        1 + 0.5 * np.sin(2 * np.pi * swell_Hz * seconds + phase)
    )


def _hum(samples: int, chance: np.random.Generator) -> Sound:
    """Twice the mains' 50 Hz with harmonics that fall off; RMS 1."""
    seconds = np.arange(samples) / RATE_HZ
    parts = [
        np.sin(2 * np.pi * 100 * order * seconds + chance.uniform(0, 2 * np.pi)) / order**1.5
        for order in range(1, 9)
    ]
    hum = np.sum(parts, axis=0)
    return np.asarray(hum / np.sqrt(np.mean(hum**2)))


def _clicks(samples: int, chance: np.random.Generator) -> Sound:
    """Soft clicks of instruments, about one in two seconds, each over within 15 ms."""
    clicks = np.zeros(samples)
    length = int(0.015 * RATE_HZ)
    fading = np.exp(-np.arange(length) / (0.003 * RATE_HZ))
    for at in chance.integers(0, samples - length, chance.poisson(0.5 * samples / RATE_HZ)):
        clicks[at : at + length] += chance.uniform(2, 5) * fading * chance.standard_normal(length)
    return clicks


def _shaped(samples: int, chance: np.random.Generator, gain: Callable[[Sound], Sound]) -> Sound:
    """White noise filtered by `gain`, a function of frequency in hertz; RMS 1."""
    hertz = np.fft.rfftfreq(samples, 1 / RATE_HZ).astype(np.float64)
    spectrum = np.fft.rfft(chance.standard_normal(samples))
    shaped = np.fft.irfft(spectrum * gain(hertz), samples)
    return np.asarray(shaped / np.sqrt(np.mean(shaped**2)))


def _frame_rms(sound: Sound) -> Sound:
    whole = np.pad(sound, (0, -len(sound) % _FRAME)).reshape(-1, _FRAME)
    return np.asarray(np.sqrt(np.mean(whole**2, axis=1)))


def _amplitude(decibels: float) -> float:
    return float(10 ** (decibels / 20))
