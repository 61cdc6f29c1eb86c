"""How much louder one channel was than another."""

from __future__ import annotations

import numpy as np
import pytest

from voicelist.audio.levels import Levels

PIECE = 512


def two_channels(ratio: float, seconds: float = 2.0) -> np.ndarray:
    noise = np.random.default_rng(1).normal(0.0, 4_000.0, int(seconds * 16_000))
    return np.stack([noise, noise / ratio]).astype(np.int16)


def fed(sound: np.ndarray) -> Levels:
    levels = Levels()
    for at in range(0, sound.shape[1], PIECE):
        levels.add(at, sound[:, at : at + PIECE])
    return levels


# 20 log10 of the ratio of amplitudes: the definition of the decibel (ISO 80000-3).
@pytest.mark.parametrize(("ratio", "expected_dB"), [(1.0, 0.0), (2.0, 6.02), (3.981, 12.0)])
def test_the_ratio_of_amplitudes_in_decibels(ratio: float, expected_dB: float) -> None:
    levels = fed(two_channels(ratio))
    assert levels.difference_dB((4_000, 20_000), 0, 1) == pytest.approx(expected_dB, abs=0.05)
    assert levels.difference_dB((4_000, 20_000), 1, 0) == pytest.approx(-expected_dB, abs=0.05)


def test_only_the_span_counts() -> None:
    sound = two_channels(4.0)
    sound[1, 16_000:] = sound[0, 16_000:] * 2
    levels = fed(sound)
    assert levels.difference_dB((0, 15_000), 0, 1) == pytest.approx(12.0, abs=0.1)
    assert levels.difference_dB((17_000, 32_000), 0, 1) == pytest.approx(-6.0, abs=0.1)


def test_digital_silence_and_what_was_never_heard_are_no_trouble() -> None:
    sound = two_channels(1.0)
    sound[1] = 0
    levels = fed(sound)
    assert 60.0 < levels.difference_dB((0, 16_000), 0, 1) < 200.0
    assert levels.difference_dB((900_000, 901_000), 0, 1) == 0.0
    assert Levels().difference_dB((0, 16_000), 0, 1) == 0.0


def test_no_more_than_half_a_minute_is_kept() -> None:
    levels = fed(two_channels(2.0, seconds=45.0))
    assert levels.difference_dB((0, 10 * 16_000), 0, 1) == 0.0
    assert levels.difference_dB((20 * 16_000, 45 * 16_000), 0, 1) == pytest.approx(6.02, abs=0.05)
