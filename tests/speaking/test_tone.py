"""The one soft tone: a single note, short, without overtones, softer than speech."""

from __future__ import annotations

import numpy as np

from voicelist.speaking.levels import SPEECH_RMS_DBFS
from voicelist.speaking.tone import soft_tone

SAMPLES = np.frombuffer(soft_tone().pcm, dtype="<i2").astype(float) / 32767


def decibels(value: float) -> float:
    return float(20 * np.log10(value))


def test_it_lasts_120_ms() -> None:
    assert soft_tone().seconds == 0.12


def test_its_peak_is_26_db_below_full_scale_and_it_is_softer_than_speech() -> None:
    assert abs(decibels(np.abs(SAMPLES).max()) + 26.0) < 0.1
    assert decibels(float(np.sqrt(np.mean(SAMPLES**2)))) < SPEECH_RMS_DBFS - 6.0


def test_it_is_one_note_of_330_hz_without_overtones() -> None:
    spectrum = np.abs(np.fft.rfft(SAMPLES, 16_000))
    assert abs(int(spectrum.argmax()) - 330) <= 1
    above = spectrum[500:].max() / spectrum.max()
    assert decibels(above) < -50.0, "an alarm pulse has four or more components within 15 dB"


def test_it_is_one_pulse_that_rises_and_falls_once_and_smoothly() -> None:
    envelope = np.array([np.abs(part).max() for part in np.array_split(SAMPLES, 24)])
    peak = int(envelope.argmax())
    assert (np.diff(envelope[:6]) > 0).all()
    assert (np.diff(envelope[-6:]) < 0).all()
    assert (envelope[6:-6] > 0.8 * envelope[peak]).all()
    assert envelope[0] < 0.15 * envelope[peak]
    assert SAMPLES[0] == 0.0
    assert abs(SAMPLES[-1]) < 0.001
