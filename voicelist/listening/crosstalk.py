"""Utterances of two channels in the order they were decided, those at the same time held together.

A decision waits only while the other channel's overlapping utterance is still open, or may still be
announced, and at most `HELD_AT_MOST_S` of sound. With one channel nothing ever waits. What a
plainly farther microphone heard in the same words as the nearer one means the same: nobody is asked
about it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.endpoint import CHUNK_SAMPLES, EndpointRules
from voicelist.audio.levels import Levels
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.listening.channels import (
    ChannelChoice,
    Judgement,
    PLAINLY_LOUDER_dB,
    judge,
    shared_span,
    together,
)
from voicelist.session import events
from voicelist.session.events import Overheard, Voice
from voicelist.understanding.interpretation import NotForUs, NotUnderstood, Understanding
from voicelist.understanding.room_words import Room

HELD_AT_MOST_S = 0.4
STILL_SPEAKING = "the other channel was still hearing somebody, and its microphone may be nearer"
NEARER_THERE = "the same was heard at the nearer microphone"
DECIDED_BEFORE = "it overlaps what the other channel had already settled"

_HELD_AT_MOST = int(HELD_AT_MOST_S * SAMPLE_RATE_HZ)
# So much sound after its beginning an utterance is announced.
_ANNOUNCED_AFTER = (EndpointRules().voiced_to_begin + 1) * CHUNK_SAMPLES
_REMEMBERED = 30 * SAMPLE_RATE_HZ


class Meaning(Protocol):
    """What an utterance amounts to as the case stands now; no more is asked about one whose meaning
    is known."""

    def __call__(
        self, sound: DecodedUtterance, known: Understanding | None = None
    ) -> tuple[Understanding, Voice]: ...


@dataclass(frozen=True, slots=True)
class ChannelProgress:
    """How far a channel was heard, and where the utterance under way on it began, if any is."""

    reached_sample: int
    open_from_sample: int | None = None


@dataclass(frozen=True, slots=True)
class _Side:
    """An utterance and what it amounts to. `settled` is False while it is undecided or was merely
    set aside, so that a later one may still count."""

    sound: DecodedUtterance
    understanding: Understanding
    voice: Voice
    settled: bool = False

    @property
    def empty(self) -> bool:
        return not any(one.words for one in self.sound.passes.first)


class Crosstalk:
    """Takes utterances as they are decided; gives the events that they amount to."""

    def __init__(self, levels: Levels, room: Room) -> None:
        self._levels = levels
        self._room = room
        self._held: deque[DecodedUtterance] = deque()
        self._past: deque[_Side] = deque()
        self._ready: deque[events.Event] = deque()

    @property
    def waiting(self) -> bool:
        """Whether anything was added that has not yet come out."""
        return bool(self._held or self._ready)

    def add(self, sound: DecodedUtterance) -> None:
        """One more utterance, later decided than those before."""
        self._held.append(sound)

    def next(
        self, channels: Sequence[ChannelProgress], meaning: Meaning, *, over: bool = False
    ) -> events.Event | None:
        """The next event, or None where there is none yet; `over` where no more sound comes."""
        while not self._ready and self._held:
            self._put_nearer_first()
            if not over and self._must_wait(self._held[0], channels):
                return None
            self._settle(self._held.popleft(), channels, meaning)
        return self._ready.popleft() if self._ready else None

    def _must_wait(self, head: DecodedUtterance, channels: Sequence[ChannelProgress]) -> bool:
        others = _others(head, channels)
        waited = min(one.reached_sample for one in channels) - head.decided_sample
        if not others or waited >= _HELD_AT_MOST:
            return False
        announced = head.end_sample + _ANNOUNCED_AFTER
        return any(
            one.reached_sample < announced or _open_span(head, one) is not None for one in others
        )

    def _settle(
        self, sound: DecodedUtterance, channels: Sequence[ChannelProgress], meaning: Meaning
    ) -> None:
        overlapping = self._overlapping(sound)
        head = _Side(sound, *meaning(sound))
        copied = len(overlapping) == 1 and self._is_farther_copy(overlapping[0], sound)
        known = head.understanding if copied else None
        beside = [_Side(one, *meaning(one, known)) for one in overlapping]
        before = [one for one in self._past if _shared(sound, one.sound)]
        if any(one.settled for one in before):
            self._come_late(head, before)
            return
        if not self._nearer_than_open(sound, channels):
            self._leave(head, STILL_SPEAKING)
            return
        found = together([self._judge(head, one) for one in (*beside, *before)])
        if found.choice is ChannelChoice.OURS:
            self._take(head, beside)
        elif found.choice is ChannelChoice.THEIRS and beside:
            self._leave(head, NEARER_THERE)
        else:
            self._doubt([head, *beside], found.why or STILL_SPEAKING)

    def _put_nearer_first(self) -> None:
        """Of two at the same time the nearer one is settled first, or it would be decided twice."""
        overlapping = self._overlapping(self._held[0])
        if len(overlapping) == 1:
            nearer = overlapping[0]
            if self._louder_dB(nearer, self._held[0]) >= PLAINLY_LOUDER_dB:
                self._held.remove(nearer)
                self._held.appendleft(nearer)

    def _overlapping(self, sound: DecodedUtterance) -> list[DecodedUtterance]:
        """What else is held that is at the same time."""
        last = sound.decided_sample + _HELD_AT_MOST
        return [one for one in self._held if one.decided_sample <= last and _shared(sound, one)]

    def _is_farther_copy(self, sound: DecodedUtterance, near: DecodedUtterance) -> bool:
        """Whether the recogniser heard the same words first in both, and ours is plainly softer."""
        ours, theirs = sound.passes.first[:1], near.passes.first[:1]
        same = bool(ours and theirs) and ours[0].words == theirs[0].words
        return same and self._louder_dB(near, sound) >= PLAINLY_LOUDER_dB

    def _come_late(self, head: _Side, before: Sequence[_Side]) -> None:
        """What it overlaps is settled: at most it asks again. Its words are not kept: they belong
        to a place at which the case no longer stands, perhaps one where nothing may be kept."""
        found = together([self._judge(head, one) for one in before])
        head = _without_words(head)
        if found.choice is ChannelChoice.THEIRS:
            self._leave(head, DECIDED_BEFORE)
        else:
            self._doubt([head], found.why or DECIDED_BEFORE)

    def _judge(self, ours: _Side, theirs: _Side) -> Judgement:
        louder_dB = self._louder_dB(ours.sound, theirs.sound)
        return judge(ours.understanding, theirs.understanding, louder_dB, self._room)

    def _louder_dB(self, ours: DecodedUtterance, theirs: DecodedUtterance) -> float:
        """By how much ours is the louder one over the time that they share."""
        span = _shared(ours, theirs)
        if span is None:
            raise AssertionError("two utterances are compared that do not overlap")
        return self._levels.difference_dB(span, ours.channel, theirs.channel)

    def _nearer_than_open(
        self, sound: DecodedUtterance, channels: Sequence[ChannelProgress]
    ) -> bool:
        for number, one in enumerate(channels):
            span = None if number == sound.channel else _open_span(sound, one)
            if span is not None:
                louder_dB = self._levels.difference_dB(span, sound.channel, number)
                if louder_dB < PLAINLY_LOUDER_dB:
                    return False
        return True

    def _take(self, head: _Side, beside: Sequence[_Side]) -> None:
        for one in beside:
            self._held.remove(one.sound)
            self._leave(one, NEARER_THERE)
        if not head.empty:
            self._ready.append(events.Utterance(head.understanding, head.voice))
        self._remember(head, settled=True)

    def _leave(self, side: _Side, why: str) -> None:
        if not side.empty:
            self._ready.append(Overheard(side.understanding, side.voice, why))
        self._remember(side, settled=False)

    def _doubt(self, sides: Sequence[_Side], why: str) -> None:
        """Nothing is taken: one of the utterances asks again, the others are kept beside it."""
        told = [one for one in sides if not isinstance(one.understanding, NotForUs)]
        speaking = told[0] if told else sides[0]
        for one in sides[1:]:
            self._held.remove(one.sound)
        for one in sides:
            if one is not speaking:
                self._leave(one, why)
        heard = speaking.understanding
        if told:
            heard = NotUnderstood(heard.words, why)
        if not speaking.empty:
            self._ready.append(events.Utterance(heard, speaking.voice))
        self._remember(speaking, settled=True)

    def _remember(self, side: _Side, *, settled: bool) -> None:
        self._past.append(replace(side, settled=settled))
        while self._past[0].sound.end_sample < side.sound.end_sample - _REMEMBERED:
            self._past.popleft()


def _without_words(side: _Side) -> _Side:
    """The same, of talk as much as talk is, of anything else as not understood."""
    talk = isinstance(side.understanding, NotForUs)
    understanding = NotForUs(()) if talk else NotUnderstood((), DECIDED_BEFORE)
    voice = replace(side.voice, alternatives=(), second_look="", again=(), witness="")
    return replace(side, understanding=understanding, voice=voice)


def _others(sound: DecodedUtterance, channels: Sequence[ChannelProgress]) -> list[ChannelProgress]:
    return [one for number, one in enumerate(channels) if number != sound.channel]


def _shared(ours: DecodedUtterance, theirs: DecodedUtterance) -> tuple[int, int] | None:
    """The span of samples that both channels heard, if it matters."""
    if ours.channel == theirs.channel:
        return None
    span = (ours.start_sample, ours.end_sample)
    return shared_span(span, (theirs.start_sample, theirs.end_sample), SAMPLE_RATE_HZ)


def _open_span(sound: DecodedUtterance, other: ChannelProgress) -> tuple[int, int] | None:
    """The span shared with an utterance that is still under way."""
    if other.open_from_sample is None:
        return None
    span = (sound.start_sample, sound.end_sample)
    # However long it becomes, what is shared ends with ours.
    under_way = (other.open_from_sample, max(other.reached_sample, sound.end_sample))
    return shared_span(span, under_way, SAMPLE_RATE_HZ)
