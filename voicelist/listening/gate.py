"""The microphone's gate: closed while the assistant speaks, and until the room no longer carries
it.

Pure: blocks of sound with their times go in, and those that may be heard come out. Nothing that was
sounded before the assistant began is lost, however late it is read. Behind its speech the gate
opens as soon as the level is back at the room's own, or rises out of an echo that was dying away,
which is somebody who speaks; otherwise when the time for an echo is over.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field, replace

import numpy as np

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples

_NS = 1_000_000_000
_LEAST_POWER = 1e-3


@dataclass(frozen=True, slots=True)
class GateRules:
    """Project choices, but for the first: after 250 ms an echo of a room that takes 0.6 s for 60 dB
    is 25 dB down.

    `echo_s`: how long the room may carry the assistant's voice. `back_dB`: so near to the room's
    own level the echo is over. `rise_dB` above the lowest level behind the speech, for
    `rise_blocks`, is somebody. `falling_s`, `falling_dB` and `fall_dB_per_s`: what has died away
    for so long, without rising by more than that and at least so fast (60 dB in a second), was
    nothing but an echo. Behind anything else somebody may have been speaking: nobody's beginning is
    known before a pause of `pause_s`, which ends an utterance. `before_rise_s` goes before a rise:
    words begin softly.
    """

    echo_s: float = 0.25
    back_dB: float = 6.0
    rise_dB: float = 9.0
    rise_blocks: int = 2
    falling_s: float = 0.15
    pause_s: float = 0.256
    falling_dB: float = 3.0
    fall_dB_per_s: float = 60.0
    before_rise_s: float = 0.08


@dataclass(frozen=True, slots=True)
class Sounded:
    """A block of sound, shape (channels, n), and when its first sample was sounded.

    `before_speech`: the assistant has spoken since. `whole_from`, of the first block behind its
    speech: whoever is heard from this sample on has not begun before; of an earlier beginning a
    part may be missing. `source_known`: as of a `Block`.
    """

    first_sample: int
    samples: Samples
    mono_ns: int
    before_speech: bool = False
    whole_from: int | None = None
    source_known: bool = True

    @property
    def end_ns(self) -> int:
        samples = int(self.samples.shape[-1])
        return self.mono_ns + round(samples * _NS / SAMPLE_RATE_HZ)


# The room's own level is the lowest of the last while; a block is 20 ms.
_FLOOR_BLOCKS = 500
# Sound that came in before it is known that the assistant has fallen silent.
_KEPT_BLOCKS = 100


@dataclass(slots=True)
class MicrophoneGate:
    """Feed it every block in order; tell it when speech begins and when it was last heard."""

    rules: GateRules = field(default_factory=GateRules)
    _closed_from_ns: int | None = None
    _silent_from_ns: int | None = None
    _nobody_before: bool = False
    _kept: deque[tuple[Sounded, float]] = field(default_factory=lambda: deque(maxlen=_KEPT_BLOCKS))
    _quiet_dB: deque[float] = field(default_factory=lambda: deque(maxlen=_FLOOR_BLOCKS))

    @property
    def closed(self) -> bool:
        """Whether what comes in now is held back."""
        return self._closed_from_ns is not None

    def speech_begins(self, now_ns: int) -> None:
        """From now on the assistant may be heard. An echo that is not over is one with it."""
        if self._closed_from_ns is None:
            self._closed_from_ns = now_ns
        self._silent_from_ns = None

    def speech_ended(self, silent_from_ns: int) -> list[Sounded]:
        """The assistant was last heard just before that; what may already be handed out."""
        if self._closed_from_ns is None:
            return []
        self._silent_from_ns = silent_from_ns
        self._nobody_before = self._was_quiet_before(silent_from_ns)
        while self._kept and self._kept[0][0].mono_ns < silent_from_ns:
            self._kept.popleft()
        return self._opened()

    def _was_quiet_before(self, end_ns: int) -> bool:
        """Whether neither the assistant nor anybody else was heard in the last while: so it is with
        a headset, and then a beginning is known."""
        since_ns = end_ns - round(self.rules.pause_s * _NS)
        levels = [level for one, level in self._kept if since_ns <= one.mono_ns < end_ns]
        most_dB = self.floor_dB + self.rules.back_dB
        return len(levels) > 1 and max(levels) <= most_dB

    def feed(self, block: Sounded) -> list[Sounded]:
        """What may be heard now: nothing, this block, or those kept with it."""
        level_dB = level_of(block.samples)
        if self._closed_from_ns is None:
            self._quiet_dB.append(level_dB)
            return [block]
        if block.end_ns <= self._closed_from_ns:
            self._quiet_dB.append(level_dB)
            return [replace(block, before_speech=True)]
        if self._silent_from_ns is None or block.mono_ns >= self._silent_from_ns:
            self._kept.append((block, level_dB))
        return self._opened() if self._silent_from_ns is not None else []

    def _opened(self) -> list[Sounded]:
        """What is kept from where the gate opens, if it does."""
        found = _opening([(one.mono_ns, level) for one, level in self._kept], self)
        if found is None:
            return []
        at, whole_from_ns = found
        blocks = [one for one, _ in self._kept][at:]
        self._quiet_dB.extend(level for _, level in list(self._kept)[at:])
        self._kept.clear()
        self._closed_from_ns = self._silent_from_ns = None
        late_s = max(0, whole_from_ns - blocks[0].mono_ns) / _NS
        whole_from = blocks[0].first_sample + round(late_s * SAMPLE_RATE_HZ)
        return [replace(blocks[0], whole_from=whole_from), *blocks[1:]]

    @property
    def silent_from_ns(self) -> int:
        return self._silent_from_ns or 0

    @property
    def nobody_before(self) -> bool:
        """Whether nothing was heard while the assistant said its last word."""
        return self._nobody_before

    @property
    def floor_dB(self) -> float:
        """The room's own level; nothing is that low where none is known."""
        return min(self._quiet_dB, default=-math.inf)


def level_of(samples: Samples) -> float:
    """The level (RMS, in dB of one step of the samples) of the loudest channel."""
    if not samples.size:
        return 10 * math.log10(_LEAST_POWER)
    power = float(np.max(np.mean(np.square(samples.astype(np.float64)), axis=-1)))
    return 10 * math.log10(power + _LEAST_POWER)


def _opening(heard: list[tuple[int, float]], gate: MicrophoneGate) -> tuple[int, int] | None:
    """The block behind the speech with which the gate opens, and from when on whoever is heard has
    not begun before; None as long as it stays closed."""
    rules, lowest_dB, rising = gate.rules, math.inf, 0
    for number, (mono_ns, level_dB) in enumerate(heard):
        rising = rising + 1 if level_dB >= lowest_dB + rules.rise_dB else 0
        if rising >= rules.rise_blocks:
            rise = number - rising + 1
            return _opens_at(_before(heard, rise, rules), heard, rise, gate)
        if rising:
            continue
        lowest_dB = min(lowest_dB, level_dB)
        over = mono_ns - gate.silent_from_ns >= rules.echo_s * _NS
        if over or level_dB <= gate.floor_dB + rules.back_dB:
            return _opens_at(number, heard, number, gate)
    return None


def _before(heard: list[tuple[int, float]], rise: int, rules: GateRules) -> int:
    """The block a little before a rise."""
    first_ns = heard[rise][0] - rules.before_rise_s * _NS
    return next(number for number, (mono_ns, _) in enumerate(heard) if mono_ns >= first_ns)


def _opens_at(
    at: int, heard: list[tuple[int, float]], behind: int, gate: MicrophoneGate
) -> tuple[int, int]:
    """Whoever spoke while the assistant did has let the level fall too, between two syllables. Only
    what has died away steadily since the assistant was heard was nothing but an echo."""
    rules, begun_ns = gate.rules, gate.silent_from_ns
    if gate.nobody_before:
        return at, begun_ns
    needed_ns = round(rules.falling_s * _NS)
    # What is handed out with a rise may be a soft beginning.
    behind = at if heard[at][0] - begun_ns >= needed_ns else behind
    if _died_away(heard[:behind], rules):
        return at, begun_ns + needed_ns
    return at, heard[at][0] + round(rules.pause_s * _NS)


def _died_away(heard: list[tuple[int, float]], rules: GateRules) -> bool:
    """Whether no block is above the lowest before it, nor above what an echo would have left."""
    lowest_dB = math.inf
    for mono_ns, level_dB in heard:
        passed_s = (mono_ns - heard[0][0]) / _NS
        left_dB = heard[0][1] - rules.fall_dB_per_s * passed_s
        if level_dB > min(lowest_dB, left_dB) + rules.falling_dB:
            return False
        lowest_dB = min(lowest_dB, level_dB)
    return True
