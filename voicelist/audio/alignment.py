"""Two devices that count samples by clocks of their own, on one count.

No two sound devices have the same clock: 200 ppm apart they are 0.7 s apart after an hour. Each
block comes with the time at which it was sounded on the clock of the computer, which all devices
share, but with jitter. From many of them it is known how fast a device counts; its blocks are made
longer or shorter by single samples so that they stay in their place. Pure: no clock is read here.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples

_NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class AlignmentRules:
    """Project choices. Of the jitter of `bucket_s` the median is taken, and a straight line laid
    through the last `buckets`; from `steady_buckets` on its slope is believed. Where a device is
    out of place by up to `near_ms` a block is changed by one sample, by more by `far_samples`, and
    from `jump_ms` on it is put where it belongs at once."""

    bucket_s: float = 1.0
    buckets: int = 60
    steady_buckets: int = 10
    near_ms: float = 5.0
    far_samples: int = 4
    jump_ms: float = 40.0
    # More than this no device is off; common practice, no source (crystals: within 100 ppm).
    drift_at_most: float = 1e-3


@dataclass(slots=True)
class DriftEstimate:
    """How far a device's count of samples is from the common one, as it changes."""

    origin_ns: int
    rules: AlignmentRules = field(default_factory=AlignmentRules)
    drift: float = 0.0
    _next_sample: int | None = None
    _bucket_from: int = 0
    _bucket: list[float] = field(default_factory=list)
    _medians: deque[tuple[float, float]] = field(default_factory=deque)
    _at: float = 0.0
    _offset: float = 0.0

    def take(self, first_sample: int, count: int, mono_ns: int) -> None:
        """One block: its first sample, how many, and when the first was sounded."""
        if self.leaps_to(first_sample):
            self._begin_anew(first_sample)
        self._next_sample = first_sample + count
        due = (mono_ns - self.origin_ns) / _NS * SAMPLE_RATE_HZ
        self._bucket.append(due - first_sample)
        if first_sample + count - self._bucket_from >= self.rules.bucket_s * SAMPLE_RATE_HZ:
            self._close_bucket()
        elif not self._medians:
            self._at = (self._bucket_from + first_sample) / 2
            self._offset = float(np.median(self._bucket))

    def leaps_to(self, first_sample: int) -> bool:
        """Whether something is missing before this sample."""
        return first_sample != self._next_sample

    def place_of(self, sample: int) -> float:
        """Where a sample of the device is on the common count."""
        return sample + self._offset + self.drift * (sample - self._at)

    def _begin_anew(self, first_sample: int) -> None:
        """Behind a gap nothing is known of where the device counts, but still how fast."""
        self._medians.clear()
        self._bucket.clear()
        self._bucket_from = first_sample

    def _close_bucket(self) -> None:
        end = self._next_sample or 0
        self._medians.append(((self._bucket_from + end) / 2, float(np.median(self._bucket))))
        self._bucket_from, self._bucket = end, []
        if len(self._medians) > self.rules.buckets:
            self._medians.popleft()
        at = np.array([one for one, _ in self._medians])
        offsets = np.array([one for _, one in self._medians])
        self._at = float(at.mean())
        if len(at) >= self.rules.steady_buckets:
            apart = at - self._at
            slope = float(np.dot(apart, offsets) / np.dot(apart, apart))
            most = self.rules.drift_at_most
            self.drift = min(most, max(-most, slope))
        self._offset = float(np.mean(offsets - self.drift * (at - self._at)))


@dataclass(slots=True)
class Aligner:
    """Puts the blocks of one device on the common count, one behind the other."""

    estimate: DriftEstimate
    _next: int | None = None

    def place(self, first_sample: int, count: int, mono_ns: int) -> tuple[int, int]:
        """The first place of a block on the common count, and of how many samples it should be
        (fewer than it has where some were in the place of earlier ones, maybe none)."""
        rules, leaps = self.estimate.rules, self.estimate.leaps_to(first_sample)
        self.estimate.take(first_sample, count, mono_ns)
        begins = round(self.estimate.place_of(first_sample))
        ends = round(self.estimate.place_of(first_sample + count))
        if self._next is None:
            self._next = begins
        out_of_place = begins - self._next
        if out_of_place > (0 if leaps else _samples(rules.jump_ms)):
            self._next = begins
        elif out_of_place < -_samples(rules.jump_ms):
            count = max(0, ends - self._next)
        else:
            far = abs(out_of_place) > _samples(rules.near_ms)
            most = rules.far_samples if far else 1
            count += min(most, max(-most, ends - self._next - count))
        first, self._next = self._next, self._next + count
        return first, count


def stretched(samples: Samples, count: int) -> Samples:
    """Sound, shape (channels, n), with a few samples more or fewer; only its end where much is to
    be left out."""
    here = samples.shape[1]
    if count == here:
        return samples
    if here - count > here // 10:
        return samples[:, here - count :]
    at = np.linspace(0, here - 1, count)
    return np.stack([np.interp(at, np.arange(here), one) for one in samples]).astype(np.int16)


def _samples(milliseconds: float) -> int:
    return round(milliseconds * SAMPLE_RATE_HZ / 1000)
