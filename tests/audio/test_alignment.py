"""Two devices whose clocks drift apart stay on one count of samples.

The clocks, jitter and losses are made up; what is checked against is the true time of each sample,
which the simulation knows and the code under test does not.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from voicelist.audio.alignment import Aligner, DriftEstimate, stretched

RATE_HZ = 16_000
NS = 1_000_000_000
WITHIN_MS = 10.0
# Until then the speed of a clock is not known.
SETTLED_S = 15.0
# And so long behind a gap, where a device counts: what is sounded meanwhile may be cut.
BACK_S = 3.0


@dataclass
class Device:
    """Counts samples by a clock that is `ppm` fast; tells when each block was sounded, late by
    jitter. `misplaced_ms` tells how far the last block was put from its true time."""

    ppm: float
    jitter_ms: float
    seed: int
    block_s: float = 0.02
    sample: int = 0
    true_s: float = 0.0
    settled_s: float = SETTLED_S
    aligner: Aligner = field(init=False)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.aligner = Aligner(DriftEstimate(0))

    def until(self, true_s: float) -> float:
        misplaced_ms = 0.0
        count = round(self.block_s * RATE_HZ)
        while self.true_s < true_s:
            late_s = self.chance.random() * self.jitter_ms / 1000
            if self.chance.random() < 0.005:
                late_s += 0.1
            told_ns = round((self.true_s + late_s) * NS)
            first, made = self.aligner.place(self.sample, count, told_ns)
            assert abs(made - count) <= 4 or self.true_s < self.settled_s
            misplaced_ms = (first / RATE_HZ - self.true_s) * 1000
            self.sample += count
            self.true_s += count / RATE_HZ / (1 + self.ppm * 1e-6)
        return misplaced_ms

    def lost_for(self, seconds: float, guessed_s: float) -> None:
        """So much sound is lost, and the device's count goes on by a guess of it."""
        self.true_s += seconds
        self.settled_s = max(self.settled_s, self.true_s + BACK_S)
        self.sample += round(guessed_s * RATE_HZ)


def apart_ms(one: Device, other: Device, from_s: float, until_s: float, step_s: float) -> float:
    at_most, at_s = 0.0, from_s
    one.until(from_s), other.until(from_s)
    while at_s < until_s:
        at_s += step_s
        at_most = max(at_most, abs(one.until(at_s) - other.until(at_s)))
    return at_most


def test_clocks_200_ppm_apart_stay_within_10_ms_for_an_hour() -> None:
    fast, slow = Device(100, 12, 1, block_s=0.1), Device(-100, 12, 2, block_s=0.1)
    # Unaligned they would be 720 ms apart.
    assert apart_ms(fast, slow, 4 * SETTLED_S, 3_600, 1.0) < WITHIN_MS


def test_and_so_they_do_after_a_day() -> None:
    """The day itself is in `tests/soak/two_microphones.py`."""
    fast, slow = Device(100, 12, 3), Device(-100, 12, 4)
    for one in (fast, slow):
        one.until(60)
        day_s = 86_400 - one.true_s
        one.lost_for(day_s, day_s * (1 + one.ppm * 1e-6))
    assert apart_ms(fast, slow, 86_400 + SETTLED_S, 86_400 + 120, 1.0) < WITHIN_MS


@settings(max_examples=15, deadline=None)
@given(
    ppm=st.tuples(st.integers(-150, 150), st.integers(-150, 150)),
    jitter_ms=st.floats(0, 15),
    seed=st.integers(0, 1_000),
    lost_s=st.floats(0.05, 20),
    guessed_wrong_ms=st.floats(-10, 10),
)
@example(ppm=(0, 0), jitter_ms=0.0, seed=52, lost_s=1.0, guessed_wrong_ms=0.0)
def test_they_are_in_place_again_after_a_loss_or_restart(
    ppm: tuple[int, int], jitter_ms: float, seed: int, lost_s: float, guessed_wrong_ms: float
) -> None:
    steady, lost = Device(ppm[0], jitter_ms, seed), Device(ppm[1], jitter_ms, seed + 1)
    assert apart_ms(steady, lost, SETTLED_S, 60, 0.5) < WITHIN_MS
    lost.lost_for(lost_s, max(0.0, lost_s + guessed_wrong_ms / 1000))
    back_s = 60 + lost_s
    assert apart_ms(steady, lost, back_s + BACK_S, back_s + 60, 0.5) < WITHIN_MS


@settings(max_examples=30, deadline=None)
@given(steps=st.lists(st.tuples(st.integers(-3_000, 40_000), st.integers(0, 60)), max_size=60))
def test_the_places_follow_each_other_whatever_comes(steps: list[tuple[int, int]]) -> None:
    aligner, sample, now_ns, end = Aligner(DriftEstimate(0)), 0, 0, None
    for leap, ms in steps:
        sample = max(0, sample + leap)
        now_ns += ms * NS // 1000
        first, count = aligner.place(sample, 320, now_ns)
        assert count >= 0
        assert end is None or first >= end
        end, sample = first + count, sample + 320


def test_a_block_is_made_longer_or_shorter_without_a_click() -> None:
    at = np.arange(320) / RATE_HZ
    tone = np.stack([10_000 * np.sin(2 * np.pi * 440 * at)]).astype(np.int16)
    for count in (319, 321, 324):
        made = stretched(tone, count)
        assert made.shape == (1, count)
        steepest = np.abs(np.diff(tone[0].astype(int))).max()
        assert np.abs(np.diff(made[0].astype(int))).max() <= steepest * 1.02 + 2
        assert (made[0, 0], made[0, -1]) == (tone[0, 0], tone[0, -1])
    assert stretched(tone, 0).shape == (1, 0)
    assert np.array_equal(stretched(tone, 100), tone[:, 220:])
