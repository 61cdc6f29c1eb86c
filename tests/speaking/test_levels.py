"""Every voice at one rate, at one level, without long silence at its edges."""

from __future__ import annotations

import numpy as np
import pytest

from voicelist.speaking.levels import standard_sound

RATE_HZ = 22_050


def hum(amplitude: float, seconds: float = 1.0, before_s: float = 0.0) -> np.ndarray:
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    wave = amplitude * np.sin(2 * np.pi * 300 * time_s)
    edge = np.zeros(int(before_s * RATE_HZ))
    return np.concatenate([edge, wave, edge]).astype(np.int16)


def samples_of(pcm: bytes) -> np.ndarray:
    return np.frombuffer(pcm, dtype="<i2").astype(float) / 32767


@pytest.mark.parametrize("amplitude", [300, 3_000, 30_000])
def test_quiet_and_loud_voices_come_out_at_the_same_level(amplitude: float) -> None:
    wave = samples_of(standard_sound(hum(amplitude), RATE_HZ).pcm)
    assert 20 * np.log10(np.sqrt(np.mean(wave**2))) == pytest.approx(-20.0, abs=0.5)


def test_a_voice_with_rare_peaks_is_not_clipped() -> None:
    spiky = hum(300)
    spiky[::2_000] = 32_000
    wave = samples_of(standard_sound(spiky, RATE_HZ).pcm)
    assert np.abs(wave).max() <= 10 ** (-1 / 20) + 0.001


def test_silence_at_the_edges_is_cut_to_40_ms() -> None:
    sound = standard_sound(hum(8_000, 1.0, before_s=0.8), RATE_HZ)
    assert sound.seconds == pytest.approx(1.08, abs=0.005)


def test_silence_alone_is_no_sound() -> None:
    assert standard_sound(np.zeros(1_000, np.int16), RATE_HZ).pcm == b""
    assert standard_sound(np.zeros(0, np.int16), RATE_HZ).pcm == b""
