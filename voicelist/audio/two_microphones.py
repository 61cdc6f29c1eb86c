"""Two microphones as one of two channels, aligned by their samples (`voicelist.audio.alignment`).

One that is lost is told with its channel, which is plain zeros until it is back; the other one goes
on. Sound comes out when both have given theirs, or one is known to be lost.
"""

from __future__ import annotations

import time
from collections import deque
from dataclasses import replace

import numpy as np

from voicelist.audio.alignment import Aligner, DriftEstimate, stretched
from voicelist.audio.microphone import (
    Block,
    Microphone,
    MicrophoneBack,
    MicrophoneLost,
    MicrophoneSilent,
    Told,
)
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.child import wait_for
from voicelist.errors import UsageError

_NS = 1_000_000_000
_GLANCE_S = 0.05
# 20 ms, as a single device gives them.
_AT_ONCE_SAMPLES = 320
# While both were lost for longer there is a gap, as with a single device, and not hours of zeros.
_GAP_SAMPLES = SAMPLE_RATE_HZ


class JoinedChannels:
    """Blocks of single devices in, blocks of all channels out. Pure."""

    def __init__(self, channels: int) -> None:
        self._origin_ns: int | None = None
        self._aligners: list[Aligner] = []
        self._parts: list[deque[tuple[int, Samples]]] = [deque() for _ in range(channels)]
        self._end: list[int | None] = [None] * channels
        self._lost = [False] * channels
        # Of each channel, whether it was seen lately that its sound is its own.
        self._known = [True] * channels
        self._out: int | None = None

    def add(self, channel: int, block: Block) -> None:
        """A block, shape (1, n), of the device of this channel."""
        if self._origin_ns is None:
            self._origin_ns = block.mono_ns
            self._aligners = [Aligner(DriftEstimate(block.mono_ns)) for _ in self._parts]
        here = block.samples.shape[1]
        first, count = self._aligners[channel].place(block.first_sample, here, block.mono_ns)
        self._lost[channel], self._known[channel] = False, block.source_known
        if count:
            self._parts[channel].append((first, stretched(block.samples, count)[0]))
        self._end[channel] = first + count

    def lost(self, channel: int) -> None:
        """Nothing more comes of this channel until something is added; nor what it gave last, which
        may already have been the sound of another device."""
        self._lost[channel] = True
        self._parts[channel].clear()

    def next(self) -> Block | None:
        """20 ms of all channels, once all that are there have given them. While both were lost is
        a gap."""
        ends = [end for end, lost in zip(self._end, self._lost, strict=True) if not lost]
        known = [end for end in ends if end is not None]
        if self._origin_ns is None or not ends or len(known) < len(ends):
            return None
        if self._out is None:
            self._out = max(part[0][0] for part in self._parts if part)
        if min(known) < self._out + _AT_ONCE_SAMPLES:
            return None
        begins = min((part[0][0] for part in self._parts if part), default=self._out)
        if begins - self._out > _GAP_SAMPLES:
            self._out = begins
        first, behind = self._out, self._out + _AT_ONCE_SAMPLES
        if min(known) < behind:
            return None
        samples = np.stack([self._cut(part, first, behind) for part in self._parts])
        self._out = behind
        mono_ns = self._origin_ns + round(first * _NS / SAMPLE_RATE_HZ)
        return Block(first, samples, mono_ns, all(self._known))

    def _cut(self, parts: deque[tuple[int, Samples]], first: int, behind: int) -> Samples:
        """What a channel has between two places, zeros where it has nothing."""
        found = np.zeros(behind - first, np.int16)
        for at, heard in parts:
            begins, ends = max(at, first), min(at + len(heard), behind)
            if begins < ends:
                found[begins - first : ends - first] = heard[begins - at : ends - at]
        while parts and parts[0][0] + len(parts[0][1]) <= behind:
            parts.popleft()
        return found


class TwoMicrophones:
    """Two devices by name, or part of it; the first one's sound is channel 0. For one thread; a
    context manager. Raises as `Microphone` does."""

    def __init__(self, first: str, second: str) -> None:
        self.channels = 2
        self._joined = JoinedChannels(2)
        self._waiting: deque[Told] = deque()
        self._microphones: list[Microphone] = []
        try:
            for name in (first, second):
                self._microphones.append(Microphone(name, 1))
            self.devices = tuple(one.device for one in self._microphones)
            if len(set(self.devices)) < len(self.devices):
                raise UsageError(
                    f"{first} and {second} are the same microphone, {self.devices[0]}; name two."
                )
        except BaseException:
            self.close()
            raise

    @property
    def processes(self) -> tuple[int | None, ...]:
        """The capturing processes, while they are there."""
        return tuple(one.pid for one in self._microphones)

    def close(self) -> None:
        for one in self._microphones:
            one.close()

    def read(self, timeout_s: float) -> Told | None:
        """What comes next, or None after `timeout_s`. Read steadily, as a single one."""
        end_s = time.monotonic() + timeout_s
        while True:
            if self._waiting:
                return self._waiting.popleft()
            some = [self._take(number, one) for number, one in enumerate(self._microphones)]
            while (block := self._joined.next()) is not None:
                self._waiting.append(block)
            if self._waiting or any(some):
                continue
            left_s = end_s - time.monotonic()
            if left_s <= 0.0:
                return None
            wait_for([one.child for one in self._microphones], min(left_s, _GLANCE_S))

    def _take(self, channel: int, microphone: Microphone) -> bool:
        told = microphone.read(0.0)
        match told:
            case Block():
                self._joined.add(channel, told)
            case MicrophoneLost() | MicrophoneBack():
                if isinstance(told, MicrophoneLost):
                    self._joined.lost(channel)
                self._waiting.append(replace(told, channel=channel))
            case MicrophoneSilent():
                self._waiting.append(replace(told, channel=channel))
        return told is not None
