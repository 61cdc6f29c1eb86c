"""The parent's side of hearing: sound in, utterances out, the native recogniser in a child.

A child that dies or falls silent is replaced at once; what it had not decided is lost and named.
Results of an earlier grammar number are discarded. Poll often: what the child says waits for it in
a pipe of limited length.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voicelist.asr.recogniser import PhraseLists, Recogniser
from voicelist.asr.streaming import ChannelStream, Hearing
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import VerifierOnCall
from voicelist.audio.samples import Samples
from voicelist.child import (
    Child,
    ChildEnd,
    ChildLost,
    give_memory_back,
    hush,
    keep_nothing_large,
    wait_for,
)
from voicelist.errors import MissingPart
from voicelist.understanding.questions import Question, Reply

# A child that dies this often without having heard anything will not come up by trying again.
_FRUITLESS_STARTS_AT_MOST = 3
# Sound of a microphone must not wait while a reply is waited for.
_MEANWHILE_EVERY_S = 0.05


@dataclass(frozen=True, slots=True)
class RecogniserLost:
    """Hearing was lost, and with it `lost_samples` of sound that was fed but not decided: what was
    not yet taken in, and the utterance under way."""

    reason: str
    lost_samples: int


@dataclass(frozen=True, slots=True)
class RecogniserBack:
    """Hearing is back after a loss."""


@dataclass(frozen=True, slots=True)
class Flushed:
    """All sound of a channel was decided."""

    channel: int


Told = DecodedUtterance | Hearing | RecogniserLost | RecogniserBack | Flushed


@dataclass(frozen=True, slots=True)
class _Listen:
    number: int
    grammar: PhraseLists


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
class _Asked:
    """A question about the utterance of a channel that began at this sample; nobody waits for the
    reply after `by_s` of the monotonic clock, which all processes share."""

    number: int
    channel: int
    start_sample: int
    question: Question
    by_s: float


@dataclass(frozen=True, slots=True)
class _Replied:
    number: int
    reply: Reply | None


@dataclass(frozen=True, slots=True)
class _Ready:
    load_s: float


@dataclass(frozen=True, slots=True)
class _Reached:
    channel: int
    sample: int


@dataclass(frozen=True, slots=True)
class _Failed:
    reason: str


def _work(end: ChildEnd, model: Path, channels: int) -> None:
    """The child: hears until its parent is gone; what goes wrong is told, not written."""
    hush()
    keep_nothing_large()
    try:
        _hear(end, model, channels)
    except Exception as error:  # whatever it is, the parent has to know and start another
        end.send(_Failed(f"{type(error).__name__}: {error}"))
        sys.exit(1)


def _hear(end: ChildEnd, model: Path, channels: int) -> None:
    began_s = time.monotonic()
    recogniser = Recogniser(model)
    verifier = VerifierOnCall()
    streams = [ChannelStream(number, recogniser, verifier, end.beat) for number in range(channels)]
    end.send(_Ready(time.monotonic() - began_s))
    while True:
        message = end.receive()
        if message is not None:
            _attend(end, streams, message)


def _attend(end: ChildEnd, streams: list[ChannelStream], message: object) -> None:
    told: list[DecodedUtterance | Hearing] = []
    match message:
        case _Listen():
            for stream in streams:
                stream.listen(message.number, message.grammar)
        case _Feed():
            samples = np.frombuffer(message.data, np.int16)
            told = streams[message.channel].hear(samples, message.first_sample)
        case _Skip():
            told = streams[message.channel].skip(message.samples)
        case _Finish():
            told = streams[message.channel].finish()
        case _Asked():
            decoder = streams[message.channel].decoder(message.start_sample)
            found = decoder.ask(message.question, message.by_s) if decoder is not None else None
            end.send(_Replied(message.number, found))
    for one in told:
        end.send(one)
    if isinstance(message, _Feed | _Skip):
        end.send(_Reached(message.channel, streams[message.channel].position))
    elif isinstance(message, _Finish):
        end.send(Flushed(message.channel))
    # Nobody waits for this any more.
    if isinstance(message, _Asked) or any(isinstance(one, DecodedUtterance) for one in told):
        give_memory_back()


class RecogniserProcess:
    """Hears on one or two channels; `listen` first, then feed, then poll."""

    def __init__(self, model: Path, channels: int = 1) -> None:
        self.load_s: float | None = None
        self._child = Child("recogniser", _work, (model, channels))
        self._listening: _Listen | None = None
        self._number = 0
        self._fed = [0] * channels
        self._reached = [0] * channels
        self._open_from: list[int | None] = [None] * channels
        self._finishing: set[int] = set()
        self._failure: str | None = None
        self._back_due = False
        self._fruitless_starts = 0
        self._waiting: deque[Told] = deque()
        self._asked_number = 0
        self._replied: _Replied | None = None
        self._child.start()

    @property
    def pid(self) -> int | None:
        """The recogniser's process."""
        return self._child.pid

    @property
    def behind_samples(self) -> int:
        """How much sound was fed that the recogniser has not taken in yet."""
        return max(fed - done for fed, done in zip(self._fed, self._reached, strict=True))

    def reached_sample(self, channel: int) -> int:
        """Up to which sample a channel's sound was taken in."""
        return self._reached[channel]

    def open_from_sample(self, channel: int) -> int | None:
        """Where the utterance under way on a channel began, None where nobody speaks."""
        return self._open_from[channel]

    def listen(self, grammar: PhraseLists) -> int:
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
        self._finishing.add(channel)
        self._child.send(_Finish(channel), wait_s=None)

    def ask(
        self,
        utterance: DecodedUtterance,
        question: Question,
        by_s: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Reply | None:
        """Wait for the reply to a question about an utterance just heard, until `by_s` of the
        monotonic clock; None where it cannot be had by then. `meanwhile` is called again and
        again."""
        if by_s <= time.monotonic():
            return None
        self._asked_number += 1
        self._replied = None
        number, begins_at = self._asked_number, utterance.start_sample
        asked = _Asked(number, utterance.channel, begins_at, question, by_s)
        if not self._child.send(asked, wait_s=by_s - time.monotonic()):
            return None
        while self._replied is None and (left_s := by_s - time.monotonic()) > 0.0:
            if meanwhile is not None:
                meanwhile()
            self._collect(min(left_s, _MEANWHILE_EVERY_S))
        return self._replied.reply if self._replied is not None else None

    def wait(self, timeout_s: float) -> None:
        """Take in what the recogniser says next; returns at the latest after `timeout_s`."""
        wait_for([self._child], timeout_s)
        self._collect(0.0)

    def poll(self, timeout_s: float = 0.0) -> Told | None:
        """The next thing that was heard or happened, or None.

        Raises MissingPart when the recogniser cannot be started at all.
        """
        end_s = time.monotonic() + timeout_s
        while not self._waiting:
            left_s = max(0.0, end_s - time.monotonic())
            self._collect(left_s)
            if left_s <= 0.0:
                break
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
                        self._waiting.append(RecogniserBack())
                    self._back_due = False
                case _Reached():
                    self._reached[message.channel] = message.sample
                    self._fruitless_starts = 0
                case _Failed():
                    self._failure = message.reason
                case _Replied():
                    if message.number == self._asked_number:
                        self._replied = message
                case _:
                    self._note(message)

    def _note(self, told: Told) -> None:
        """What is told goes on, save the results of an earlier grammar."""
        match told:
            case Hearing():
                self._open_from[told.channel] = told.start_sample
            case DecodedUtterance():
                self._open_from[told.channel] = None
                if told.grammar_no != self._number:
                    return
            case Flushed():
                self._finishing.discard(told.channel)
        self._waiting.append(told)

    def _undecided_samples(self) -> int:
        channels = zip(self._fed, self._reached, self._open_from, strict=True)
        return max(
            fed - (reached if start is None else min(start, reached))
            for fed, reached, start in channels
        )

    def _start_again(self, reason: str) -> None:
        reason, self._failure = self._failure or reason, None
        self._fruitless_starts += 1
        if self._fruitless_starts > _FRUITLESS_STARTS_AT_MOST:
            raise MissingPart(
                f"The recogniser cannot be kept running ({reason}); run `voicelist model` to "
                "verify the speech model, or go on with `voicelist resume CASE --typed`."
            )
        self._waiting.append(RecogniserLost(reason, self._undecided_samples()))
        # Whoever waits for it waits in vain.
        self._replied = _Replied(self._asked_number, None)
        self._reached = list(self._fed)
        self._open_from = [None] * len(self._fed)
        self._back_due = True
        self._child.start()
        if self._listening is not None:
            self._child.send(self._listening, wait_s=None)
        for channel in self._finishing:
            self._child.send(_Finish(channel), wait_s=None)
