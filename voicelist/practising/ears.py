"""Hears one answer after the other, outside of a case: a source of sound through the recogniser to
what is understood under what may be said now."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from voicelist.asr.recogniser_process import RecogniserLost, RecogniserProcess
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import Piece, SoundSource
from voicelist.session.events import Equipment
from voicelist.session.state import State
from voicelist.understanding.context import Context
from voicelist.understanding.decision import decide
from voicelist.understanding.interpretation import NotForUs, Understanding
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Question, Reply

# How far feeding may run ahead of what is decided.
_LEAD_SAMPLES = int(0.25 * SAMPLE_RATE_HZ)
# How long a trainee may think before the question is asked again; project choice.
_QUIET_SAMPLES = 20 * SAMPLE_RATE_HZ
_CATCH_UP_S, _PATIENCE_S, _LAST_WORDS_S = 2.0, 0.05, 5.0


@dataclass(frozen=True, slots=True)
class _AskedOf:
    """Puts the decision's questions about one utterance to the recogniser."""

    recogniser: RecogniserProcess
    utterance: DecodedUtterance

    def now_s(self) -> float:
        """The monotonic clock."""
        return time.monotonic()

    def ask(self, question: Question, by_s: float) -> Reply | None:
        return self.recogniser.ask(self.utterance, question, by_s)


def _never() -> bool:
    return False


class Ears:
    """`known` are the words of the speech model; `tell` is told what happens to the microphone."""

    def __init__(
        self,
        source: SoundSource,
        recogniser: RecogniserProcess,
        known: frozenset[str],
        tell: Callable[[str], None],
    ) -> None:
        self._source, self._recogniser, self._known, self._tell = source, recogniser, known, tell
        self._fed = 0
        self._over = False

    def make_ready(self, context: Context) -> None:
        """Nothing is asked before it is heard: whoever listens is there, the microphone gives
        sound."""
        self._listen(context)
        while self._recogniser.load_s is None:
            self._recogniser.wait(_PATIENCE_S)
        if isinstance(self._source, LiveRoom):
            self._source.begin(_never)

    def _listen(self, context: Context) -> None:
        roots = tuple(sorted(context.active))
        self._recogniser.listen(hearing_grammar(context.grammar, context.room, self._known, roots))

    def hear(self, context: Context, quiet: Callable[[], None]) -> Understanding | None:
        """The next utterance that is no mere talk; None where the sound is over. Where nothing was
        understood for a while, `quiet` is called."""
        self._listen(context)
        self._source.cue(State())
        give_up_s = 0.0
        quiet_from = self._fed
        while True:
            found = self._heard(context)
            if found is not None:
                return found
            if self._fed - quiet_from >= _QUIET_SAMPLES:
                quiet()
                quiet_from = self._fed
            if self._over:
                give_up_s = give_up_s or time.monotonic() + _LAST_WORDS_S
                if time.monotonic() >= give_up_s:
                    return None
                self._recogniser.wait(_PATIENCE_S)
                continue
            self._take(self._source.read())

    def _take(self, piece: object) -> None:
        if piece is None:
            self._over = True
            self._recogniser.finish(0)
        elif isinstance(piece, Equipment):
            self._tell(f"{piece.what[:1].upper()}{piece.what[1:]}.")
        elif isinstance(piece, Piece):
            gap = piece.first_sample - self._fed
            if gap > 0:
                self._recogniser.skip(0, gap)
            self._recogniser.feed(0, piece.samples[0], piece.first_sample)
            self._fed = piece.first_sample + piece.samples.shape[1]
            self._wait()

    def _wait(self) -> None:
        give_up_s = time.monotonic() + _CATCH_UP_S
        while self._recogniser.behind_samples > _LEAD_SAMPLES and time.monotonic() < give_up_s:
            self._recogniser.wait(_PATIENCE_S)

    def _heard(self, context: Context) -> Understanding | None:
        while (told := self._recogniser.poll(0.0)) is not None:
            if isinstance(told, RecogniserLost):
                self._tell("Hearing was lost for a moment; please say it again.")
            if not isinstance(told, DecodedUtterance):
                continue
            decoder = _AskedOf(self._recogniser, told)
            found = decide(told.passes, context, decoder, POLICY)
            if not isinstance(found, NotForUs):
                return found
        return None
