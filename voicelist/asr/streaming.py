"""One channel's sound: from samples to utterances, with positions that survive gaps."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from voicelist.asr.decoder import DecoderHere
from voicelist.asr.edges import passes_with_edges
from voicelist.asr.recogniser import Look, PhraseLists, Recogniser
from voicelist.asr.redecoding import Past
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import VerifierOnCall
from voicelist.audio.endpoint import CHUNK_SAMPLES, Began, Ended, Endpointer, EndpointRules
from voicelist.audio.samples import Samples
from voicelist.audio.sound_files import quiet
from voicelist.audio.voice_activity import VoiceActivity
from voicelist.understanding.hypothesis import NBest, Passes

# Chunks fed between two signs of life while an utterance is decoded anew.
_CHUNKS_A_BEAT = 8
# The recogniser needs a little sound after the last word.
_QUIET_BEHIND = 4096
# So many utterances can be asked about.
_REMEMBERED = 4

Finished = tuple[NBest, NBest, float]


@dataclass(frozen=True, slots=True)
class Hearing:
    """Speech has begun on a channel, at this sample. Exactly one `DecodedUtterance` follows, unless
    the recogniser is lost meanwhile."""

    channel: int
    start_sample: int


@dataclass(slots=True)
class _Open:
    """The utterance under way; `finishing` once the end of its look was begun ahead."""

    look: Look
    held: list[Samples]
    first_sample: int
    speech_sample: int
    finishing: Future[Finished] | None = None

    def feed(self, samples: Samples) -> None:
        """More sound for the look, unless its end was begun."""
        if self.finishing is None:
            self.look.feed(samples)

    def finished(self) -> Finished:
        """What the look has found at its end."""
        if self.finishing is not None:
            return self.finishing.result()
        return self.look.finish(self.first_sample)


Told = Hearing | DecodedUtterance


class ChannelStream:
    """Takes one channel's samples in pieces of any size; tells what was heard.

    Until `listen` nothing is heard. An utterance under way at a new `listen` is decoded anew under
    the new grammar, so that of two answers in one breath the second is not lost. An utterance that
    a gap cuts off comes without hypotheses: half a sentence must not be taken for a whole one.
    `beat` is called now and then during longer work.
    """

    def __init__(
        self,
        channel: int,
        recogniser: Recogniser,
        verifier: VerifierOnCall | None = None,
        beat: Callable[[], None] = lambda: None,
    ) -> None:
        self._channel = channel
        self._recogniser = recogniser
        self._verifier = verifier or VerifierOnCall()
        self._beat = beat
        self._activity = VoiceActivity()
        rules = EndpointRules()
        self._endpointer = Endpointer(rules)
        self._recent: deque[Samples] = deque(maxlen=rules.pre_roll + rules.voiced_to_begin)
        self._grammar: PhraseLists | None = None
        self._grammar_no = 0
        self._base_sample = 0
        self._chunks = 0
        self._rest: Samples = np.zeros(0, np.int16)
        self._open: _Open | None = None
        self._past: deque[tuple[int, Past]] = deque(maxlen=_REMEMBERED)
        self._ahead = ThreadPoolExecutor(1)

    @property
    def position(self) -> int:
        """The sample that comes next."""
        return self._base_sample + self._chunks * CHUNK_SAMPLES + len(self._rest)

    def listen(self, grammar_no: int, grammar: PhraseLists) -> None:
        """From now on, hear under this grammar."""
        self._grammar, self._grammar_no = grammar, grammar_no
        if self._open is not None:
            self._look_anew(self._open, grammar)

    def hear(self, samples: Samples, first_sample: int) -> list[Told]:
        """Take samples whose first has the position `first_sample`; a leap is a gap."""
        if self._grammar is None:
            return self._gap_to(first_sample + len(samples))
        told = self._gap_to(first_sample) if first_sample != self.position else []
        waiting = np.concatenate([self._rest, samples])
        whole = len(waiting) - len(waiting) % CHUNK_SAMPLES
        self._rest = waiting[whole:]
        for at in range(0, whole, CHUNK_SAMPLES):
            # The rest already counts in `position`, which nothing in this loop reads.
            told += self._take(waiting[at : at + CHUNK_SAMPLES])
            self._beat()
        return told

    def skip(self, samples: int) -> list[Told]:
        """So many samples are not heard (the gate is closed); the position goes on."""
        return self._gap_to(self.position + samples)

    def finish(self) -> list[Told]:
        """The stream is over: decide what is open."""
        end = self.position
        told: list[Told] = []
        if len(self._rest):
            last = np.zeros(CHUNK_SAMPLES, np.int16)
            last[: len(self._rest)] = self._rest
            self._rest = self._rest[:0]
            told += self._take(last)
        ended = self._endpointer.finish()
        if ended is not None and self._open is not None:
            self._open.feed(quiet(_QUIET_BEHIND))
            told.append(self._decide(ended, end))
        return told + self._gap_to(end)

    def decoder(self, start_sample: int) -> DecoderHere | None:
        """Answers about one of the last utterances, by where it began; None where it is
        forgotten."""
        past = next((past for start, past in self._past if start == start_sample), None)
        if past is None:
            return None
        return DecoderHere(self._recogniser, self._verifier, past, self._beat)

    def _can_grow(self) -> bool:
        if self._open is None or self._grammar is None or self._open.finishing is not None:
            return False
        return self._grammar.can_grow(self._open.look.words_so_far())

    def _take(self, chunk: Samples) -> list[Told]:
        self._recent.append(chunk)
        self._chunks += 1
        if self._open is not None:
            self._open.held.append(chunk)
            self._open.feed(chunk)
        match self._endpointer.push(self._activity.probability(chunk), self._can_grow):
            case Began() as began:
                return [self._begin(began)]
            case Ended() as ended:
                return [self._decide(ended, self._sample(ended.decided))]
        if self._open is not None and self._grammar is not None:
            self._look_ahead(self._open, self._grammar)
        return []

    def _look_ahead(self, under_way: _Open, grammar: PhraseLists) -> None:
        """The end of a look takes some milliseconds: it begins a chunk before the speech is over,
        and is thrown away if that goes on."""
        if under_way.finishing is not None:
            self._look_anew(under_way, grammar)
        elif self._endpointer.ends_next and not self._can_grow():
            finish, first_sample = under_way.look.finish, under_way.first_sample
            under_way.finishing = self._ahead.submit(finish, first_sample)

    def _look_anew(self, under_way: _Open, grammar: PhraseLists) -> None:
        under_way.finishing = None
        under_way.look = self._look_at(grammar, under_way.held)

    def _sample(self, chunk: int) -> int:
        return self._base_sample + chunk * CHUNK_SAMPLES

    def _begin(self, began: Began) -> Hearing:
        held = list(self._recent)[began.first - self._chunks :]
        if self._grammar is None:
            raise AssertionError("speech began before there was a grammar")
        look = self._look_at(self._grammar, held)
        speech = self._sample(began.speech)
        self._open = _Open(look, held, self._sample(began.first), speech)
        return Hearing(self._channel, speech)

    def _look_at(self, grammar: PhraseLists, held: list[Samples]) -> Look:
        look = self._recogniser.look(grammar)
        for at in range(0, len(held), _CHUNKS_A_BEAT):
            look.feed(np.concatenate(held[at : at + _CHUNKS_A_BEAT]))
            self._beat()
        return look

    def _decide(self, ended: Ended, decided_sample: int) -> DecodedUtterance:
        if self._open is None or self._grammar is None:
            raise AssertionError("speech ended that had not begun")
        done, self._open = self._open, None
        first, second, decode_s = done.finished()
        speech = (done.speech_sample, min(self._sample(ended.end), decided_sample))
        held = np.concatenate(done.held)
        passes = passes_with_edges(first, second, held, done.first_sample, speech)
        past = Past(self._grammar, held, done.first_sample, speech, (0, _QUIET_BEHIND))
        self._past.append((speech[0], past))
        return DecodedUtterance(
            self._channel, self._grammar_no, *speech, decided_sample, passes, decode_s
        )

    def _gap_to(self, sample: int) -> list[Told]:
        told: list[Told] = []
        if self._open is not None:
            told.append(self._cut_off(self._open))
        self._base_sample, self._chunks, self._rest = sample, 0, self._rest[:0]
        self._recent.clear()
        self._activity.reset()
        self._endpointer.restart_at(0)
        return told

    def _cut_off(self, cut: _Open) -> DecodedUtterance:
        self._open = None
        end = self.position
        return DecodedUtterance(
            self._channel, self._grammar_no, cut.speech_sample, end, end, Passes(())
        )
