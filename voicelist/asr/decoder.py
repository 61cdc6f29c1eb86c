"""Questions about the sound of an utterance, answered in this very process: the one place where
recogniser and verifier are asked."""

from __future__ import annotations

import time
from collections.abc import Callable

from voicelist.asr.forced_choice import decoded_under, forced_choice
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.redecoding import Past, decoded_again
from voicelist.asr.verifier import VerifierOnCall
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.questions import (
    DeadlinePassed,
    DecodeAgain,
    DecodeUnder,
    ForcedChoice,
    FreeTranscript,
    Question,
    Reply,
    VerifierScores,
)


class DecoderHere:
    """Answers by a recogniser and a verifier about the sound of one utterance. `beat` is called now
    and then during longer work, which is given up once the deadline has passed; a single step of
    native code, some tenths of a second at most, is not cut in two."""

    def __init__(
        self,
        recogniser: Recogniser,
        verifier: VerifierOnCall,
        past: Past,
        beat: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._recogniser, self._verifier, self._past = recogniser, verifier, past
        self._beat, self._clock = beat, clock

    def now_s(self) -> float:
        """The monotonic clock, which all processes of a machine share."""
        return self._clock()

    def ask(self, question: Question, by_s: float) -> Reply | None:
        """The reply; None where it cannot be had by then."""

        def beat() -> None:
            self._beat()
            if self._clock() >= by_s:
                raise DeadlinePassed

        try:
            beat()
            return answered(self._recogniser, self._verifier, self._past, question, beat)
        except DeadlinePassed:
            return None


def answered(
    recogniser: Recogniser,
    verifier: VerifierOnCall,
    past: Past,
    question: Question,
    beat: Callable[[], None] = lambda: None,
) -> Reply | None:
    """The reply to a question, however long it takes; None where it cannot be had."""
    match question:
        case DecodeAgain(speed):
            return decoded_again(recogniser, past, speed, beat)
        case ForcedChoice(sentences):
            return forced_choice(recogniser, past, sentences, beat)
        case DecodeUnder(phrases):
            return Passes(decoded_under(recogniser, past, phrases, beat))
        case VerifierScores(sentences):
            return verifier.scores(past.samples, sentences, beat)
        case FreeTranscript():
            return verifier.transcript(past.samples, beat)
