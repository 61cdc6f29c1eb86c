"""Listening to sound: pieces from a source through the ears to what they amount to.

Only what the session listens to is fed: while the assistant speaks a recording rests and a live
microphone is gated, so that the assistant never hears itself.
"""

from __future__ import annotations

import itertools
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from voicelist.asr.forced_choice import Nearness, Sentence
from voicelist.asr.recogniser_process import Ears, EarsBack, EarsLost, Flushed
from voicelist.asr.redecoding import SPEEDS
from voicelist.asr.streaming import Hearing
from voicelist.asr.utterance import Alternative
from voicelist.asr.utterance import Utterance as HeardSound
from voicelist.audio.endpoint import CHUNK_SAMPLES
from voicelist.audio.levels import Levels
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.documents.phone_table import phone_table, sound_alikes
from voicelist.errors import VoicelistError
from voicelist.grammar.grammar import UNHEARD
from voicelist.listening.both_hear import Place, Sound, heard_by_both
from voicelist.listening.crosstalk import Crosstalk, Standing
from voicelist.listening.free_transcript import Asked, heard_freely
from voicelist.session.case import Case, is_harmless
from voicelist.session.events import Equipment, Event, Silence, Stop, Voice
from voicelist.session.machine import context_of
from voicelist.session.manners import prompt_due_s
from voicelist.session.order import heard_here
from voicelist.session.ports import nothing
from voicelist.session.state import State
from voicelist.understanding.evidence import Evidence
from voicelist.understanding.interpretation import (
    EDGE_NOISE_AT_MOST_S,
    Context,
    Hypothesis,
    Understanding,
)
from voicelist.understanding.near_by_phones import NearByPhones
from voicelist.understanding.out_of_grammar import unless_otherwise, was_alone
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.voting import settled

# How far feeding may run ahead of what the ears have decided, so that nothing is heard long after
# the assistant has spoken again.
_LEAD_SAMPLES = int(0.25 * SAMPLE_RATE_HZ)
_CATCH_UP_S = 2.0
# While somebody speaks a decision may come with each piece of sound; it is not left lying until the
# next one, 32 ms later.
_AT_ONCE_S = 0.025
_PATIENCE_S = 0.05
_FLUSH_WITHIN_S = 10.0
_ALTERNATIVES_KEPT = 3
# Hearing an utterance again takes some tenths of a second, in much noise longer; somebody waits.
_AGAIN_WITHIN_S = 4.0
# A witness takes some tenths of a second, when it is first asked half a second more.
_EVIDENCE_WITHIN_S = 1.5


# Sources hand out what the voice activity takes at once: 32 ms.
PIECE_SAMPLES = CHUNK_SAMPLES


@dataclass(frozen=True, slots=True)
class Piece:
    """Sound of all channels, shape (channels, n), 16 kHz; `first_sample` counts since the source
    began. A gap between two pieces was not to be heard (the assistant spoke)."""

    first_sample: int
    samples: Samples


class Source(Protocol):
    """Where the room's sound comes from."""

    channels: int

    def cue(self, state: State) -> None:
        """The session begins to listen."""

    def answered(self) -> None:
        """Something was understood, or at least heard."""

    def read(self) -> Piece | Event | None:
        """The next piece, an event about the equipment, or None at the end."""


class Further(Protocol):
    """What else can be asked of the sound of an utterance; None where it cannot be had."""

    def again(self, heard: HeardSound, speed: float, /) -> HeardSound | None:
        """It is heard once more, at a speed."""

    def evidence(
        self, heard: HeardSound, sentences: Sequence[str], freely: bool, /
    ) -> Evidence | None:
        """What a witness says of it: how likely sentences are, and what it hears freely."""

    def among(self, heard: HeardSound, sentences: Sequence[Sentence], /) -> Nearness | None:
        """How near sentences are to it where nothing else is permitted."""


class SoundHearer:
    """Feeds a source to the ears until something happens."""

    def __init__(
        self,
        case: Case,
        ears: Ears,
        source: Source,
        roles: tuple[str, ...],
        known: frozenset[str],
    ) -> None:
        """`known` are the words of the speech model."""
        self.each_pass: Callable[[], None] = nothing
        self._case = case
        self._known = known
        self._grammars: dict[tuple[str, ...], HearingGrammar] = {}
        self._refused: VoicelistError | None = None
        self._listening_to: tuple[str, ...] | None = None
        self._ears = ears
        self._source = source
        self._roles = roles
        self._near = near_by_phones(case)
        self._levels = Levels()
        self._crosstalk = Crosstalk(self._levels, case.room)
        self._equipment: deque[Event] = deque()
        self._fed = 0
        self._quiet_from = 0
        self._flushed = False
        self._flushing = 0

    @property
    def heard_s(self) -> float:
        return self._fed / SAMPLE_RATE_HZ

    def next_event(self, state: State) -> Event:
        """The next utterance, silence, loss or end."""
        self._listen(state)
        self._source.cue(state)
        self._quiet_from = self._fed
        while True:
            self.each_pass()
            if self._refused is not None:
                raise self._refused
            event = self._heard(state) or self._prompt_due(state)
            if event is not None:
                return event
            piece = self._source.read()
            if piece is None:
                return self._last_words(state) or Stop("the sound is over")
            if not isinstance(piece, Piece):
                return piece
            self._feed(piece)

    def _listen(self, state: State) -> None:
        """From now on under the phrases of where the case stands."""
        roots = heard_here(self._case, state)
        if roots == self._listening_to:
            return
        first = self._listening_to is None
        self._listening_to = roots
        self._ears.listen(self._grammar(roots))
        if first:
            threading.Thread(target=self._prepare, name="phrases", daemon=True).start()

    def _prepare(self) -> None:
        """The phrases of the other sections, so that none is waited for (numbers take a while). A
        section whose phrases are refused ends the case now, not when it is reached."""
        try:
            for section in self._case.sections():
                at_first = State(section=section.id, current=section.items[0].id)
                self._grammar(heard_here(self._case, at_first))
        except VoicelistError as error:
            self._refused = error

    def _grammar(self, roots: tuple[str, ...]) -> HearingGrammar:
        if roots not in self._grammars:
            case = self._case
            made = hearing_grammar(case.grammar, case.room, self._known, roots, is_harmless)
            self._grammars[roots] = made
        return self._grammars[roots]

    def _feed(self, piece: Piece) -> None:
        gap = piece.first_sample - self._fed
        # While nothing was to be heard nobody was silent either: the assistant spoke.
        self._quiet_from += max(0, gap)
        for channel in range(piece.samples.shape[0]):
            if gap > 0:
                self._ears.skip(channel, gap)
            self._ears.feed(channel, piece.samples[channel], piece.first_sample)
        self._levels.add(piece.first_sample, piece.samples)
        self._fed = piece.first_sample + piece.samples.shape[1]
        self._wait_until_behind(_LEAD_SAMPLES, _CATCH_UP_S)
        if any(one.open_from_sample is not None for one in self._standing()):
            self._wait_until_behind(0, _AT_ONCE_S)

    def _wait_until_behind(self, samples: int, at_most_s: float) -> None:
        """Until the ears have taken in all but so many samples."""
        give_up_s = time.monotonic() + at_most_s
        while self._ears.behind_samples > samples:
            left_s = give_up_s - time.monotonic()
            if left_s <= 0.0:
                return
            self._ears.wait(min(left_s, _PATIENCE_S))

    def _standing(self) -> list[Standing]:
        return [
            Standing(self._ears.reached_sample(channel), self._ears.open_from_sample(channel))
            for channel in range(self._source.channels)
        ]

    def _prompt_due(self, state: State) -> Event | None:
        due_s = prompt_due_s(state)
        quiet_s = (self._fed - self._quiet_from) / SAMPLE_RATE_HZ
        return Silence(quiet_s) if due_s is not None and quiet_s >= due_s else None

    def _heard(self, state: State) -> Event | None:
        # What two channels heard at the same time has to be seen together.
        together = self._source.channels > 1
        while together or not self._crosstalk.waiting:
            told = self._ears.poll(0.0)
            if told is None:
                break
            self._take_in(told)
        return self._next_heard(state)

    def _take_in(self, told: object) -> None:
        match told:
            case HeardSound():
                self._crosstalk.add(told)
            case Hearing():
                self._quiet_from = self._fed
            case EarsLost():
                lost_s = told.lost_samples / SAMPLE_RATE_HZ
                what = f"hearing was lost ({told.reason}); {lost_s:.1f} s of sound with it"
                self._equipment.append(Equipment("hearing", what, "cannot-hear"))
            case EarsBack():
                self._equipment.append(Equipment("hearing", "hearing is back", "hear-again"))
            case Flushed():
                self._flushing -= 1

    def _next_heard(self, state: State) -> Event | None:
        """What was heard, before anything that happened to the ears after it."""
        over = self._flushed and not self._flushing
        event = self._crosstalk.next(
            self._standing(), lambda sound: self._meaning(sound, state), over=over
        )
        if event is not None:
            return event
        return self._equipment.popleft() if self._equipment else None

    def _last_words(self, state: State) -> Event | None:
        """At the end of a recording: what was still being heard, decided now."""
        if not self._flushed:
            self._flushed = True
            for channel in range(self._source.channels):
                self._ears.finish(channel)
            self._flushing = self._source.channels
        give_up_s = time.monotonic() + _FLUSH_WITHIN_S
        while True:
            event = self._heard(state)
            if event is not None or not self._flushing or time.monotonic() >= give_up_s:
                return event
            told = self._ears.poll(_PATIENCE_S)
            if told is not None:
                self._take_in(told)

    def _meaning(self, sound: HeardSound, state: State) -> tuple[Understanding, Voice]:
        """What an utterance amounts to as the case stands, and who and what was heard."""
        self._source.answered()
        further = _InTime(self._ears)
        context = context_by_sound(self._case, state)
        strictly = understand_sound(sound, context, further)
        asked = Asked.of(self._case.natural, state, context)
        ask, among = partial(further.evidence, sound), partial(further.among, sound)
        both = Sound(looks_of(sound), ask, among)
        place = Place(asked, context, self._near)
        understanding = heard_by_both(heard_freely(strictly, ask, asked), strictly, both, place)
        role = self._roles[sound.channel] if sound.channel < len(self._roles) else ""
        voice = Voice(
            by="voice",
            role=role,
            role_known_by="channel" if role else "",
            channel=sound.channel,
            alternatives=tuple(one.text for one in sound.alternatives[:_ALTERNATIVES_KEPT]),
            second_look=_likeliest(sound.second_look),
            again=tuple(further.heard),
            witness=further.witness,
            start_s=round(sound.start_sample / SAMPLE_RATE_HZ, 3),
            end_s=round(sound.speech_end_s, 3),
            decided_s=round(sound.decided_at_s, 3),
        )
        return understanding, voice


def _likeliest(alternatives: Sequence[Alternative]) -> str:
    return alternatives[0].text if alternatives else ""


class _InTime:
    """Asks the ears further, while somebody waits; keeps what was heard."""

    def __init__(self, ears: Ears) -> None:
        self.heard: list[str] = []
        self.witness = ""
        self._ears = ears
        self._end_s = time.monotonic() + _AGAIN_WITHIN_S

    def again(self, heard: HeardSound, speed: float) -> HeardSound | None:
        found = self._ears.again(heard, speed, self._end_s - time.monotonic())
        if found is not None:
            self.heard.append(_likeliest(found.alternatives))
        return found

    def evidence(
        self, heard: HeardSound, sentences: Sequence[str], freely: bool
    ) -> Evidence | None:
        found = self._ears.evidence(heard, sentences, freely, _EVIDENCE_WITHIN_S)
        if found is not None:
            self.witness = " ".join(found.words) or self.witness
        return found

    def among(self, heard: HeardSound, sentences: Sequence[Sentence]) -> Nearness | None:
        return self._ears.among(heard, sentences, self._end_s - time.monotonic())


def near_by_phones(case: Case) -> NearByPhones:
    """What a case's answers in plain speech sound like."""
    table = phone_table(case.bundle.checklist.language)
    return NearByPhones(case.natural.answers, case.natural.rules, table)


def looks_of(sound: HeardSound) -> list[tuple[str, ...]]:
    """The words that the recogniser heard, the best first."""
    return [tuple(word.text for word in one.words) for one in sound.alternatives]


def context_by_sound(case: Case, state: State) -> Context:
    """What may be said now, a short answer beside what sounds like it."""
    alikes = sound_alikes(case.bundle.checklist.language)
    return replace(context_of(case, state), alikes=alikes)


def understand_sound(sound: HeardSound, context: Context, further: Further) -> Understanding:
    """What an utterance amounts to, by both looks at it; where that is doubtful it is heard again,
    and a witness is asked; then, in noise or where it was not alone above all, whether it sounds
    more like something else."""
    first = looks_at(sound)
    hearings = (further.again(sound, speed) for speed in SPEEDS)
    looks = (looks_at(one) if one is not None else None for one in hearings)
    ask = partial(further.evidence, sound)
    found = settled(itertools.chain((first,), looks), context, ask)
    alone = not sound.in_noise and was_alone(found, first, context)
    among = partial(further.among, sound)
    return unless_otherwise(found, first, context, among, ask, alone=alone)


def looks_at(sound: HeardSound) -> tuple[list[Hypothesis], list[Hypothesis]]:
    """The recogniser's alternatives of the first and of the second look as word hypotheses, best
    first."""
    return (
        [hypothesis_of(one) for one in sound.alternatives],
        [hypothesis_of(one) for one in sound.second_look],
    )


def hypothesis_of(one: Alternative) -> Hypothesis:
    """Speech before the first or behind the last word stands as what was not heard."""
    words = [(word.text, word.end_s - word.start_s) for word in one.words]
    if one.before_s > EDGE_NOISE_AT_MOST_S:
        words.insert(0, (UNHEARD, one.before_s))
    if one.behind_s > EDGE_NOISE_AT_MOST_S:
        words.append((UNHEARD, one.behind_s))
    texts, seconds = zip(*words, strict=True) if words else ((), ())
    faint = (one.faint_before, one.faint_behind)
    return Hypothesis(texts, seconds, one.score, faint, one.amid_talk, one.loud_around)
