"""The parent's side of hearing: sound in, utterances out, the native recogniser in a child.

A child that dies or falls silent is replaced at once; what it had not decided is lost and named.
Results of an earlier grammar number are discarded.
"""

from __future__ import annotations

import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voicelist.child import Child, ChildEnd, ChildLost, wait_for
from voicelist.errors import MissingPart
from voicelist.hearing.channel import ChannelEar, Hearing
from voicelist.hearing.recogniser import HearingGrammar, Recogniser
from voicelist.hearing.sources import Samples
from voicelist.hearing.utterance import Utterance

# A child that dies this often without having heard anything will not come up by trying again.
_FRUITLESS_STARTS_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class EarsLost:
    """Hearing was lost, and with it `lost_samples` of sound that was fed but not decided."""

    reason: str
    lost_samples: int


@dataclass(frozen=True, slots=True)
class EarsBack:
    """Hearing is back after a loss."""


@dataclass(frozen=True, slots=True)
class Flushed:
    """All sound of a channel was decided."""

    channel: int


Told = Utterance | Hearing | EarsLost | EarsBack | Flushed


@dataclass(frozen=True, slots=True)
class _Listen:
    number: int
    grammar: HearingGrammar


@dataclass(frozen=True, slots=True)
class _Feed:
    channel: int
    first_sample: int
    data: bytes


@dataclass(frozen=True, slots=True)
class _Skip:
    channel: int
    samples: int


@dataclass(frozen=True, slots=True)
class _Finish:
    channel: int


@dataclass(frozen=True, slots=True)
class _Ready:
    load_s: float


@dataclass(frozen=True, slots=True)
class _Reached:
    channel: int
    sample: int


def _work(end: ChildEnd, model: Path, channels: int) -> None:
    """The child: loads the model, then hears what it is given until its parent is gone."""
    began_s = time.monotonic()
    recogniser = Recogniser(model, channels=channels)
    ears = [ChannelEar(number, recogniser, end.beat) for number in range(channels)]
    end.send(_Ready(time.monotonic() - began_s))
    while True:
        message = end.receive()
        if message is not None:
            _attend(end, ears, message)


def _attend(end: ChildEnd, ears: list[ChannelEar], message: object) -> None:
    told: list[Utterance | Hearing] = []
    match message:
        case _Listen():
            for ear in ears:
                ear.listen(message.number, message.grammar)
        case _Feed():
            samples = np.frombuffer(message.data, np.int16)
            told = ears[message.channel].hear(samples, message.first_sample)
        case _Skip():
            told = ears[message.channel].skip(message.samples)
        case _Finish():
            told = ears[message.channel].finish()
    for one in told:
        end.send(one)
    if isinstance(message, _Feed | _Skip):
        end.send(_Reached(message.channel, ears[message.channel].position))
    elif isinstance(message, _Finish):
        end.send(Flushed(message.channel))


class Ears:
    """Hears on one or two channels; `listen` first, then feed, then poll."""

    def __init__(self, model: Path, channels: int = 1) -> None:
        self.load_s: float | None = None
        self._child = Child("recogniser", _work, (model, channels))
        self._listening: _Listen | None = None
        self._number = 0
        self._fed = [0] * channels
        self._reached = [0] * channels
        self._back_due = False
        self._fruitless_starts = 0
        self._waiting: deque[Told] = deque()
        self._child.start()

    @property
    def pid(self) -> int | None:
        """The recogniser's process."""
        return self._child.pid

    @property
    def behind_samples(self) -> int:
        """How much sound was fed that the recogniser has not taken in yet."""
        return max(fed - done for fed, done in zip(self._fed, self._reached, strict=True))

    def listen(self, grammar: HearingGrammar) -> int:
        """From now on, hear under this grammar; returns its number."""
        self._number += 1
        self._listening = _Listen(self._number, grammar)
        self._child.send(self._listening, wait_s=None)
        return self._number

    def feed(self, channel: int, samples: Samples, first_sample: int) -> bool:
        """Give sound whose first sample has this position; False if it had to be dropped."""
        self._fed[channel] = first_sample + len(samples)
        return self._child.send(_Feed(channel, first_sample, samples.tobytes()))

    def skip(self, channel: int, samples: int) -> None:
        """So many samples are not to be heard; the position goes on."""
        self._fed[channel] += samples
        self._child.send(_Skip(channel, samples))

    def finish(self, channel: int) -> None:
        """The channel's sound is over: decide what is open; `Flushed` follows."""
        self._child.send(_Finish(channel), wait_s=None)

    def wait(self, timeout_s: float) -> None:
        """Return as soon as the recogniser has something to say, or after `timeout_s`."""
        if not self._waiting:
            wait_for([self._child], timeout_s)
            self._collect(0.0)

    def poll(self, timeout_s: float = 0.0) -> Told | None:
        """The next thing that was heard or happened, or None.

        Raises MissingPart when the recogniser cannot be started at all.
        """
        if not self._waiting:
            self._collect(timeout_s)
        return self._waiting.popleft() if self._waiting else None

    def close(self) -> None:
        """End the recogniser's process."""
        self._child.stop()

    def _collect(self, timeout_s: float) -> None:
        """Take in what the child has sent."""
        while (message := self._child.poll(timeout_s)) is not None:
            timeout_s = 0.0
            match message:
                case ChildLost():
                    self._start_again(message.reason)
                    return
                case _Ready():
                    self.load_s = message.load_s
                    if self._back_due:
                        self._waiting.append(EarsBack())
                    self._back_due = False
                case _Reached():
                    self._reached[message.channel] = message.sample
                    self._fruitless_starts = 0
                case Utterance() if message.grammar_no != self._number:
                    continue
                case _:
                    self._waiting.append(message)

    def _start_again(self, reason: str) -> None:
        self._fruitless_starts += 1
        if self._fruitless_starts > _FRUITLESS_STARTS_AT_MOST:
            raise MissingPart(
                f"The recogniser cannot be kept running ({reason}); run `voicelist model` to "
                "verify the speech model, or go on with `voicelist resume CASE --typed`."
            )
        self._waiting.append(EarsLost(reason, self.behind_samples))
        self._reached = list(self._fed)
        self._back_due = True
        self._child.start()
        if self._listening is not None:
            self._child.send(self._listening, wait_s=None)
