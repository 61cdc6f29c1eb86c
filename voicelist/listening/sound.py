"""Listening to sound: pieces from a source through the recogniser to what they amount to.

Only what the session listens to is fed: while the assistant speaks a recording rests and a live
microphone is gated, so that the assistant never hears itself.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from voicelist.asr.recogniser_process import (
    Flushed,
    RecogniserBack,
    RecogniserLost,
    RecogniserProcess,
)
from voicelist.asr.streaming import Hearing
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.endpoint import CHUNK_SAMPLES
from voicelist.audio.levels import Levels
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.documents.phone_table import phone_table, sound_alikes
from voicelist.errors import VoicelistError
from voicelist.listening.both_hear import AskedPlace, BySound
from voicelist.listening.crosstalk import ChannelProgress, Crosstalk
from voicelist.listening.free_transcript import PlainSpeechBySound
from voicelist.listening.own_speech import OwnSpeech
from voicelist.session.case import Case, is_harmless
from voicelist.session.events import Equipment, Event, Silence, Stop, Voice
from voicelist.session.machine import context_of
from voicelist.session.manners import prompt_due_s
from voicelist.session.order import heard_here
from voicelist.session.ports import nothing
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.decision import decide
from voicelist.understanding.hypothesis import NBest, Passes
from voicelist.understanding.interpretation import Understanding
from voicelist.understanding.near_by_phones import NearByPhones
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Question, Reply, Transcript

# How far feeding may run ahead of what the recogniser has decided, so that nothing is heard long
# after the assistant has spoken again.
_LEAD_SAMPLES = int(0.25 * SAMPLE_RATE_HZ)
_CATCH_UP_S = 2.0
# While somebody speaks a decision may come with each piece of sound; it is not left lying until the
# next one, 32 ms later.
_AT_ONCE_S = 0.025
_PATIENCE_S = 0.05
_FLUSH_WITHIN_S = 10.0
_HYPOTHESES_KEPT = 3
# After talk made the assistant break off a call, and was no answer. Project choice.
_SOON_S = 1.5

# Sources hand out what the voice activity takes at once: 32 ms.
PIECE_SAMPLES = CHUNK_SAMPLES


@dataclass(frozen=True, slots=True)
class Piece:
    """Sound of all channels, shape (channels, n), 16 kHz; `first_sample` counts since the source
    began. A gap between two pieces was not to be heard (the assistant spoke). `before_speech`,
    `whole_from`, `source_known`: as in `listening/gate.py`."""

    first_sample: int
    samples: Samples
    before_speech: bool = False
    whole_from: int | None = None
    source_known: bool = True


class LiveMicrophones(Protocol):
    """What is to be read while an utterance is decided, too, so that its loss is noticed."""

    def take_in(self) -> None:
        """What waits there, without waiting for more."""

    @property
    def all_heard(self) -> bool:
        """Whether nothing that was taken in says that one of them is not heard."""


class SoundSource(Protocol):
    """Where the room's sound comes from."""

    channels: int

    def cue(self, state: State) -> None:
        """The session begins to listen."""

    def answered(self) -> None:
        """Something was understood, or at least heard."""

    def read(self) -> Piece | Event | None:
        """The next piece, an event about the equipment, or None at the end."""


class SoundHearer:
    """Feeds a source to the recogniser until something happens."""

    def __init__(
        self,
        case: Case,
        recogniser: RecogniserProcess,
        source: SoundSource,
        roles: tuple[str, ...],
        known: frozenset[str],
    ) -> None:
        """`known` are the words of the speech model."""
        self.each_pass: Callable[[], None] = nothing
        # Somebody spoke into the last call, so that it was not heard to its end.
        self.asks_again_soon = False
        self.microphones: LiveMicrophones | None = None
        self._case = case
        self._known = known
        self._grammars: dict[tuple[str, ...], HearingGrammar] = {}
        self._refused: VoicelistError | None = None
        self._listening_to: tuple[str, ...] | None = None
        self._recogniser = recogniser
        self._source = source
        self._roles = roles
        self._near = near_by_phones(case)
        self._levels = Levels()
        self._crosstalk = Crosstalk(self._levels, case.room)
        self.own_speech = OwnSpeech(is_harmless, case.natural.names_thing)
        self._equipment: deque[Event] = deque()
        self._unheard: set[int] = set()
        self._all_heard_from = 0
        self._fed = 0
        self._quiet_from = 0
        self._flushed = False
        self._flushing = 0

    @property
    def heard_s(self) -> float:
        return self._fed / SAMPLE_RATE_HZ

    def make_ready(self, state: State, stopped: Callable[[], object]) -> None:
        """Before something is asked in `state`: its phrases are worked out, and whoever listens is
        there. Returns when `stopped`; what stands against it is told when it is listened."""
        try:
            self.listen_for(state)
            while self._recogniser.load_s is None and not stopped():
                self._recogniser.wait(_PATIENCE_S)
        except VoicelistError as error:
            self._refused = error

    def next_event(self, state: State) -> Event:
        """The next utterance, silence, loss or end."""
        self.listen_for(state)
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
                self._all_heard(piece)
                return piece
            self.feed(piece)

    def listen_for(self, state: State) -> None:
        """From now on under the phrases of where the case stands."""
        roots = heard_here(self._case, state)
        if roots == self._listening_to:
            return
        first = self._listening_to is None
        self._listening_to = roots
        self._recogniser.listen(self._grammar(roots))
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

    def feed(self, piece: Piece) -> None:
        """A piece, to whoever listens."""
        self.own_speech.take(piece)
        gap = piece.first_sample - self._fed
        # While nothing was to be heard nobody was silent either: the assistant spoke.
        self._quiet_from += max(0, gap)
        for channel in range(piece.samples.shape[0]):
            if gap > 0:
                self._recogniser.skip(channel, gap)
            self._recogniser.feed(channel, piece.samples[channel], piece.first_sample)
        self._levels.add(piece.first_sample, piece.samples)
        self._fed = piece.first_sample + piece.samples.shape[1]
        if not piece.source_known:
            self._all_heard_from = self._fed
        self._wait_until_behind(_LEAD_SAMPLES, _CATCH_UP_S)
        if any(one.open_from_sample is not None for one in self._standing()):
            self._wait_until_behind(0, _AT_ONCE_S)

    def _wait_until_behind(self, samples: int, at_most_s: float) -> None:
        """Until the recogniser has taken in all but so many samples."""
        give_up_s = time.monotonic() + at_most_s
        while self._recogniser.behind_samples > samples:
            left_s = give_up_s - time.monotonic()
            if left_s <= 0.0:
                return
            self._recogniser.wait(min(left_s, _PATIENCE_S))

    def _standing(self) -> list[ChannelProgress]:
        return [
            ChannelProgress(
                self._recogniser.reached_sample(channel), self._recogniser.open_from_sample(channel)
            )
            for channel in range(self._source.channels)
        ]

    def _all_heard(self, event: Event) -> None:
        """While one of two microphones is not heard, nobody is known by the other: whoever speaks
        may be the one whose microphone is lost. Nor is anybody while the sound server does not say
        from which of them sound comes."""
        if isinstance(event, Equipment) and event.channel is not None:
            (self._unheard.discard if event.heard else self._unheard.add)(event.channel)
            self._all_heard_from = self._fed

    def _role_by_channel(self, utterance: DecodedUtterance) -> str:
        all_heard = self.microphones is None or self.microphones.all_heard
        known = not self._unheard and utterance.start_sample >= self._all_heard_from and all_heard
        of_channel = utterance.channel < len(self._roles)
        return self._roles[utterance.channel] if known and of_channel else ""

    def speaking_s(self) -> float:
        """How long somebody has been speaking, as far as the recogniser has come."""
        self._recogniser.wait(0.0)
        spans = [
            one.reached_sample - one.open_from_sample
            for one in self._standing()
            if one.open_from_sample is not None
        ]
        return max(spans, default=0) / SAMPLE_RATE_HZ

    def _prompt_due(self, state: State) -> Event | None:
        due_s = prompt_due_s(state)
        quiet_s = (self._fed - self._quiet_from) / SAMPLE_RATE_HZ
        if due_s is None or quiet_s < (_SOON_S if self.asks_again_soon else due_s):
            return None
        return Silence(quiet_s, spoken_into=self.asks_again_soon)

    def _heard(self, state: State) -> Event | None:
        # What two channels heard at the same time has to be seen together.
        together = self._source.channels > 1
        while together or not self._crosstalk.waiting:
            told = self._recogniser.poll(0.0)
            if told is None:
                break
            self._take_in(told)
        return self._next_heard(state)

    def _take_in(self, told: object) -> None:
        match told:
            case DecodedUtterance():
                self._crosstalk.add(told)
            case Hearing():
                self._quiet_from = self._fed
            case RecogniserLost():
                lost_s = told.lost_samples / SAMPLE_RATE_HZ
                what = f"hearing was lost ({told.reason}); {lost_s:.1f} s of sound with it"
                self._equipment.append(Equipment("hearing", what, "cannot-hear"))
            case RecogniserBack():
                self._equipment.append(Equipment("hearing", "hearing is back", "hear-again"))
            case Flushed():
                self._flushing -= 1

    def _next_heard(self, state: State) -> Event | None:
        """What was heard, before anything that happened to the recogniser after it."""
        over = self._flushed and not self._flushing
        event = self._crosstalk.next(self._standing(), partial(self._meaning, state), over=over)
        if event is not None:
            return event
        return self._equipment.popleft() if self._equipment else None

    def _last_words(self, state: State) -> Event | None:
        """At the end of a recording: what was still being heard, decided now."""
        if not self._flushed:
            self._flushed = True
            for channel in range(self._source.channels):
                self._recogniser.finish(channel)
            self._flushing = self._source.channels
        give_up_s = time.monotonic() + _FLUSH_WITHIN_S
        while True:
            event = self._heard(state)
            if event is not None or not self._flushing or time.monotonic() >= give_up_s:
                return event
            told = self._recogniser.poll(_PATIENCE_S)
            if told is not None:
                self._take_in(told)

    def _meaning(
        self, state: State, utterance: DecodedUtterance, known: Understanding | None = None
    ) -> tuple[Understanding, Voice]:
        """What an utterance amounts to as the case stands, and who and what was heard. Nothing is
        decided where that is known."""
        self._source.answered()
        meanwhile = None if self.microphones is None else self.microphones.take_in
        decoder = _NotingDecoder(self._recogniser, utterance, meanwhile)
        if known is None:
            context = context_by_sound(self._case, state, self._near)
            known = decide(utterance.passes, context, decoder, POLICY)
        understanding = self.own_speech.judged(utterance, known)
        role = self._role_by_channel(utterance)
        voice = Voice(
            by="voice",
            role=role,
            role_known_by="channel" if role else "",
            channel=utterance.channel,
            alternatives=tuple(one.text for one in utterance.passes.first[:_HYPOTHESES_KEPT]),
            second_look=_likeliest(utterance.passes.second),
            again=tuple(decoder.decoded_again),
            witness=decoder.transcript,
            start_s=round(utterance.start_sample / SAMPLE_RATE_HZ, 3),
            end_s=round(utterance.speech_end_s, 3),
            decided_s=round(utterance.decided_at_s, 3),
        )
        return understanding, voice


def _likeliest(hypotheses: NBest) -> str:
    return hypotheses[0].text if hypotheses else ""


class _NotingDecoder:
    """Asks the recogniser's process about one utterance; keeps what was found, for the record."""

    def __init__(
        self,
        recogniser: RecogniserProcess,
        utterance: DecodedUtterance,
        meanwhile: Callable[[], None] | None,
    ) -> None:
        self.decoded_again: list[str] = []
        self.transcript = ""
        self._recogniser, self._utterance = recogniser, utterance
        self._meanwhile = meanwhile

    def now_s(self) -> float:
        """The monotonic clock."""
        return time.monotonic()

    def ask(self, question: Question, by_s: float) -> Reply | None:
        """The reply; None where it cannot be had by then."""
        found = self._recogniser.ask(self._utterance, question, by_s, self._meanwhile)
        if isinstance(found, Passes):
            self.decoded_again.append(_likeliest(found.first))
        elif isinstance(found, Transcript):
            self.transcript = " ".join(found.words) or self.transcript
        return found


def near_by_phones(case: Case) -> NearByPhones:
    """What a case's answers in plain speech sound like."""
    table = phone_table(case.bundle.checklist.language)
    return NearByPhones(case.natural.answers, case.natural.rules, table)


def context_by_sound(case: Case, state: State, near: NearByPhones | None = None) -> Context:
    """What may be said now, a short answer beside what sounds like it; and where nothing of that
    was understood, people's own words."""
    alikes = sound_alikes(case.bundle.checklist.language)
    context = replace(context_of(case, state), alikes=alikes)
    asked = PlainSpeechBySound.of(case.natural, state, context)
    place = AskedPlace(asked, context, near or near_by_phones(case))
    return replace(context, plain_speech=BySound(place))
