"""Whether microphones are fit for a case, in a sentence each: level, clipping, noise, and whose
each one is. Pure but for `SoundCheck.run`, which reads what it is given.

A person says a few words; what was heard before is the room.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from voicelist.audio.microphone import Block
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.listening.channels import PLAINLY_LOUDER_dB
from voicelist.listening.sound import Piece

ASKS_FOR_WORDS = "please say one two three."


@dataclass(frozen=True, slots=True)
class CheckRules:
    """Project choices. Levels are RMS below full scale. Speech begins where a channel is
    `begins_dB` above the room for `begins_blocks`, and is over after `pause_s`."""

    room_s: float = 1.0
    begins_dB: float = 10.0
    begins_blocks: int = 5
    pause_s: float = 0.7
    patience_s: float = 12.0
    longest_s: float = 5.0
    low_dBFS: float = -42.0
    high_dBFS: float = -9.0
    above_noise_dB: float = 15.0


@dataclass(frozen=True, slots=True)
class CheckedSound:
    """By channel: the level of the room and of the words, and how many samples stood at full scale
    in a row of two or more."""

    room_dBFS: tuple[float, ...]
    words_dBFS: tuple[float, ...]
    clipped: tuple[int, ...]

    @property
    def nearest(self) -> int:
        """The channel in which the words were loudest."""
        return max(range(len(self.words_dBFS)), key=lambda one: self.words_dBFS[one])

    @property
    def louder_dB(self) -> float:
        """By how much they were louder there than in any other."""
        others = [one for at, one in enumerate(self.words_dBFS) if at != self.nearest]
        return self.words_dBFS[self.nearest] - max(others, default=-math.inf)


def dBFS(power: float) -> float:  # the unit's own spelling
    """A mean square as a level; 0 is a square wave at full scale."""
    return float(10 * math.log10(max(power, 1e-3) / 32768.0**2))


def clipped_samples(channel: Samples) -> int:
    """Samples at full scale that have a neighbour there: a single one may be a peak."""
    top = np.abs(channel.astype(np.int32)) >= 32767
    beside = np.zeros_like(top)
    beside[1:] |= top[:-1]
    beside[:-1] |= top[1:]
    return int((top & beside).sum())


def sentences(heard: CheckedSound, channel: int, rules: CheckRules) -> tuple[str, str, str]:
    """Level, clipping and noise of one channel."""
    level, room = heard.words_dBFS[channel], heard.room_dBFS[channel]
    shown = f"{level:.0f} dBFS"
    if level < rules.low_dBFS:
        loud = f"The level is low, {shown}: come closer, or raise the microphone's gain."
    elif level > rules.high_dBFS:
        loud = f"The level is high, {shown}: lower the microphone's gain."
    else:
        loud = f"The level is good, {shown}."
    clipped = heard.clipped[channel]
    clips = (
        f"{clipped} samples are cut off at full scale: lower the microphone's gain."
        if clipped
        else "Nothing is cut off."
    )
    above = level - room
    noise = f"Speech is {above:.0f} dB above the room"
    if above < rules.above_noise_dB:
        return loud, clips, f"{noise}, which is little: come closer, or make the room quieter."
    return loud, clips, f"{noise}."


def whose(heard: CheckedSound, channel: int, role: str, names: Sequence[str]) -> str:
    """Which microphone somebody with this role speaks into; it should be that of `channel`."""
    if len(heard.words_dBFS) < 2:
        return f"{role} is heard by {names[0]}."
    louder = f"{heard.louder_dB:.0f} dB louder than the other"
    nearest = names[heard.nearest]
    if heard.louder_dB < PLAINLY_LOUDER_dB:
        return (
            f"{role} is as loud in both microphones ({heard.louder_dB:.0f} dB apart): nobody can"
            " be told apart by them; wear each closer to its own speaker."
        )
    if heard.nearest != channel:
        return f"{role} speaks into {nearest}, {louder}: the two are swapped; exchange them."
    return f"{role} speaks into {nearest}, {louder}."


Read = Callable[[], object | None]


@dataclass(slots=True)
class SoundCheck:
    """Asks one after the other to say a few words, and tells what was found. `read` gives what the
    microphone tells, or None after a moment; `stopped` ends it."""

    read: Read
    tell: Callable[[str], None]
    stopped: Callable[[], object]
    rules: CheckRules = field(default_factory=CheckRules)

    def run(self, roles: Sequence[str], names: Sequence[str]) -> None:
        """`roles` in the order of the channels; one of "" for a microphone of nobody's."""
        for channel, role in enumerate(roles):
            who = role or "Anybody"
            self.tell(f"{who}: {ASKS_FOR_WORDS}")
            heard = self._listen()
            if self.stopped():
                return
            if heard is None:
                self.tell(f"{who} was not heard: see whether the microphone is on and near.")
                continue
            of = heard.nearest if len(roles) == 1 else channel
            for sentence in (*sentences(heard, of, self.rules), whose(heard, of, who, names)):
                self.tell(sentence)

    def _listen(self) -> CheckedSound | None:
        rules = self.rules
        room: list[Samples] = []
        words: list[Samples] = []
        above, quiet_s = 0, 0.0
        threshold: np.ndarray | None = None
        for block in self._blocks(rules.patience_s):
            if _seconds(room) < rules.room_s:
                room.append(block)
                continue
            if threshold is None:
                threshold = _power(np.concatenate(room, axis=1)) * 10 ** (rules.begins_dB / 10)
            speaks = bool((_power(block) > threshold).any())
            begun = above >= rules.begins_blocks
            # Less is a cough.
            above = above + speaks if begun or speaks else 0
            words = [*words, block] if begun or speaks else []
            quiet_s = 0.0 if speaks else quiet_s + _seconds([block])
            if begun and (quiet_s >= rules.pause_s or _seconds(words) >= rules.longest_s):
                return _heard(np.concatenate(room, axis=1), words, threshold)
        return None

    def _blocks(self, patience_s: float) -> Iterator[Samples]:
        """Sound, for so long; nothing else that the microphone tells."""
        given_s, empty = 0.0, 0
        while given_s < patience_s and empty < 10 * patience_s and not self.stopped():
            told = self.read()
            if isinstance(told, Block | Piece):
                given_s += _seconds([told.samples])
                yield told.samples
            else:
                empty += 1


def _heard(room: Samples, words: list[Samples], threshold: np.ndarray) -> CheckedSound:
    """Of the words those blocks count in which somebody speaks."""
    spoken = [one for one in words if bool((_power(one) > threshold).any())]
    said = np.concatenate(spoken, axis=1)
    return CheckedSound(
        tuple(map(dBFS, _power(room))),
        tuple(map(dBFS, _power(said))),
        tuple(clipped_samples(one) for one in said),
    )


def _power(samples: Samples) -> np.ndarray:
    found: np.ndarray = np.mean(np.square(samples.astype(np.float64)), axis=1)
    return found


def _seconds(blocks: list[Samples]) -> float:
    return sum(int(one.shape[1]) for one in blocks) / SAMPLE_RATE_HZ
