"""A live microphone whose loss is noticed, said, and mended where the same device comes back.

The device is captured in a child process (`voicelist.audio.capture`). No block for a quarter of
a second means that it is lost, whatever the library says. Where none comes for longer, another
child is started, which looks for a device of the same name until it is there. Each wait has its
limit: a child that does not open the device, hangs in the sound library or gives no sound is ended,
and the next one begins after a pause. Sample numbers go on by the monotonic clock through every
gap, so that a sample always has a time.
"""

from __future__ import annotations

import logging
import time
from dataclasses import dataclass
from types import TracebackType

import numpy as np
import numpy.typing as npt

from voicelist.audio.capture import (
    Captured,
    DeviceOpened,
    NotOpened,
    StillLooking,
    Wanted,
    capture_loop,
)
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.child import START_ALLOWANCE_S, Child, ChildLost
from voicelist.errors import MissingPart, UsageError

LOST_AFTER_S = 0.25
# Most stalls are over sooner than a new process is there, above all on a busy machine.
GIVEN_UP_AFTER_S = 2.0
DEAD_AFTER_S = 2.0
# Some microphones give plain zeros between words: each time the signal came back of itself, its
# absence is borne longer before it is told again.
DEAD_AFTER_AT_MOST_S = 120.0
DEAD_AFTER_TIMES = 4.0
# Until the device is open; on a machine that is busy a process needs many seconds to begin, and
# another one would be no faster. A search that hangs in the library is noticed sooner, by the
# missing sign of life.
OPEN_DEADLINE_S = START_ALLOWANCE_S
# Then until it is heard. Project choice.
FIRST_BLOCK_DEADLINE_S = 5.0
# Between two processes; what was heard for so long begins with the shortest again.
FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 2.0
STEADY_AFTER_S = 2.0

_NS = 1_000_000_000
_GLANCE_S = 0.05

_log = logging.getLogger(__name__)

Samples = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Block:
    """Sound, shape (channels, n), 16 kHz. `first_sample` counts from the first block ever read;
    a jump in it is a gap. `mono_ns` (monotonic clock) is when the first sample was sounded.
    `source_known`: that no channel has the sound of another device was seen lately."""

    first_sample: int
    samples: Samples
    mono_ns: int
    source_known: bool = True


@dataclass(frozen=True, slots=True)
class MicrophoneLost:
    """Nothing comes any more; `reason` is for a person. It is being looked for. Of two devices,
    `channel` is the one that is lost."""

    device: str
    reason: str
    channel: int | None = None


@dataclass(frozen=True, slots=True)
class MicrophoneBack:
    """The same device is heard again, after `gap_s` without sound."""

    device: str
    gap_s: float
    channel: int | None = None


@dataclass(frozen=True, slots=True)
class MicrophoneSilent:
    """A channel has given the very same value for two seconds: muted, or broken."""

    device: str
    channel: int


Told = Block | MicrophoneLost | MicrophoneBack | MicrophoneSilent


class SignalWatch:
    """Notices a channel without any signal. A live microphone has some noise, unless it or its
    driver cuts that off: what was told dead and is heard again is given longer the next time."""

    def __init__(self, channels: int, dead_after_s: float = DEAD_AFTER_S) -> None:
        self._limit_s = [dead_after_s] * channels
        self._value = [0] * channels
        self._run = [0] * channels
        self._said = [False] * channels

    def feed(self, samples: Samples) -> tuple[int, ...]:
        """Channels that are dead since just now; each is told once until its signal is back."""
        return tuple(
            channel for channel, heard in enumerate(samples) if self._newly_dead(channel, heard)
        )

    def _newly_dead(self, channel: int, heard: npt.NDArray[np.int16]) -> bool:
        value = int(heard[0])
        if not bool((heard == value).all()):
            self._is_alive(channel)
            return False
        if value != self._value[channel]:
            self._is_alive(channel)
        self._value[channel] = value
        self._run[channel] += len(heard)
        limit = self._limit_s[channel] * SAMPLE_RATE_HZ
        newly = self._run[channel] > limit and not self._said[channel]
        self._said[channel] = self._said[channel] or newly
        return newly

    def _is_alive(self, channel: int) -> None:
        if self._said[channel]:
            longer_s = self._limit_s[channel] * DEAD_AFTER_TIMES
            self._limit_s[channel] = min(DEAD_AFTER_AT_MOST_S, longer_s)
        self._run[channel], self._said[channel] = 0, False


class SampleClock:
    """Sample numbers that go on through restarts of the device, by the monotonic clock."""

    def __init__(self) -> None:
        self._offset: int | None = None
        self._next_sample = 0
        self._next_ns = 0

    @property
    def next_ns(self) -> int:
        """When the sample after the last one was, or would have been, sounded."""
        return self._next_ns

    def restart(self) -> None:
        """The device counts from zero again."""
        self._offset = None

    def place(self, captured: Captured) -> int:
        """The number of the first of these samples, never before the end of the last ones."""
        if self._offset is None or captured.overflowed:
            gap_ns = captured.mono_ns - self._next_ns if self._next_ns else 0
            expected = self._next_sample + max(0, round(gap_ns * SAMPLE_RATE_HZ / _NS))
            self._offset = expected - captured.first_sample
        first = max(self._next_sample, captured.first_sample + self._offset)
        count = captured.samples.shape[1]
        self._next_sample = first + count
        self._next_ns = captured.mono_ns + round(count * _NS / SAMPLE_RATE_HZ)
        return first


class Microphone:
    """A microphone by name, or part of it, or the default one; for one thread. A context manager.

    Opening it raises MissingPart when there is no such device or no PortAudio, UsageError when the
    name fits several devices or the device has too few channels: one sentence with a remedy.
    """

    def __init__(self, device: str | None, channels: int = 1) -> None:
        if channels not in (1, 2):
            raise UsageError(f"A microphone is heard on 1 or 2 channels, not {channels}.")
        self.channels = channels
        self.dropped_blocks = 0
        self.overflows = 0
        self._clock = SampleClock()
        self._watch = SignalWatch(channels)
        self._waiting: list[Told] = []
        self._child = Child("microphone", capture_loop, (Wanted(device, channels),))
        self._child.start()
        self._source = ""
        self.device = self._opened()
        self._last_sign_s = self._back_at_s = time.monotonic()
        self._open, self._heard, self._lost = True, False, False
        self._pause_s = FIRST_PAUSE_S
        self._retry_at_s = 0.0
        self._dropped_before = 0

    def __enter__(self) -> Microphone:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def pid(self) -> int | None:
        """The capturing process, while there is one."""
        return self._child.pid if self._child.waitable is not None else None

    @property
    def child(self) -> Child:
        """What to wait for together with other microphones."""
        return self._child

    def read(self, timeout_s: float) -> Told | None:
        """What comes next, or None after `timeout_s`. Read steadily: about two seconds are kept."""
        end_s = time.monotonic() + timeout_s
        while True:
            if self._waiting:
                return self._waiting.pop(0)
            left_s = max(0.0, end_s - time.monotonic())
            if self._child.waitable is None:
                self._rest(left_s)
            else:
                self._take(self._child.poll(min(left_s, _GLANCE_S)))
            if not self._waiting and time.monotonic() >= end_s:
                return None

    def discard(self) -> None:
        """Forget the sound that waits to be read, such as our own voice; news is kept."""
        kept: list[Told] = []
        while (told := self.read(0.0)) is not None:
            if not isinstance(told, Block):
                kept.append(told)
        self._waiting = kept

    def close(self) -> None:
        self._child.kill()

    def _opened(self) -> str:
        answer = self._child.poll(OPEN_DEADLINE_S)
        if isinstance(answer, DeviceOpened):
            _log.info("microphone %s at %d Hz", answer.device, answer.rate_hz)
            self._source = answer.source
            return answer.device
        self._child.kill()
        if isinstance(answer, NotOpened):
            raise (UsageError if answer.usage else MissingPart)(answer.sentence)
        raise MissingPart(
            "The microphone does not answer; unplug it, plug it in again, and see whether"
            " `voicelist devices` lists it."
        )

    def _take(self, message: object) -> None:
        if message is not None:
            self._last_sign_s = time.monotonic()
        match message:
            case Captured():
                self._sound(message)
            case DeviceOpened():
                # Said again where the sound server tells its source later.
                self._open, self._source = True, message.source
            case StillLooking():
                self._search(message.reason)
            case NotOpened():
                self._fail(message.sentence)
            case ChildLost():
                self._fail(f"its process {message.reason}")
            case _:
                self._nothing_came(time.monotonic() - self._last_sign_s)

    def _nothing_came(self, for_s: float) -> None:
        if self._heard:
            if for_s > LOST_AFTER_S:
                self._tell_lost("no sound comes from it")
            patience_s = GIVEN_UP_AFTER_S
        else:
            patience_s = FIRST_BLOCK_DEADLINE_S if self._open else OPEN_DEADLINE_S
        if for_s > patience_s:
            self._fail("no sound comes from it")

    def _sound(self, captured: Captured) -> None:
        if self._lost and self._heard:
            # The same device goes on after a stall, and may not have counted meanwhile.
            self._clock.restart()
        gap_s = (captured.mono_ns - self._clock.next_ns) / _NS
        first = self._clock.place(captured)
        self._heard = True
        self.dropped_blocks = self._dropped_before + captured.dropped
        self.overflows += captured.overflowed
        if self._lost:
            self._lost, self._back_at_s = False, self._last_sign_s
            self._waiting.append(MicrophoneBack(self.device, max(0.0, gap_s)))
        elif self._last_sign_s - self._back_at_s > STEADY_AFTER_S:
            self._pause_s = FIRST_PAUSE_S
        known = captured.source_known
        self._waiting.append(Block(first, captured.samples, captured.mono_ns, known))
        for channel in self._watch.feed(captured.samples):
            self._waiting.append(MicrophoneSilent(self.device, channel))

    def _search(self, reason: str) -> None:
        """It is lost, and its process looks for it."""
        _log.debug("microphone %s: %s", self.device, reason)
        self._tell_lost(reason)
        self._open = self._heard = False
        self._dropped_before = self.dropped_blocks
        self._clock.restart()

    def _tell_lost(self, reason: str) -> None:
        """Once, until it is heard again."""
        if not self._lost:
            self._lost = True
            self._waiting.append(MicrophoneLost(self.device, reason))

    def _fail(self, reason: str) -> None:
        """Say so, end the child, and wait before the next one."""
        _log.info("microphone %s: %s; again in %.1f s", self.device, reason, self._pause_s)
        self._search(reason)
        self._child.kill()
        self._retry_at_s = time.monotonic() + self._pause_s
        self._pause_s = min(LONGEST_PAUSE_S, 2 * self._pause_s)

    def _rest(self, left_s: float) -> None:
        """Between two children."""
        wait_s = self._retry_at_s - time.monotonic()
        if wait_s > 0.0:
            time.sleep(min(wait_s, left_s, _GLANCE_S))
            return
        self._last_sign_s = time.monotonic()
        same = Wanted(self.device, self.channels, exact=True, source=self._source)
        self._child = Child("microphone", capture_loop, (same,))
        try:
            self._child.start()
        except OSError as error:
            self._fail(f"its process cannot be started ({error})")
