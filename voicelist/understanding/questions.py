"""What can be asked of the sound of an utterance, and the deadline that holds every question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from voicelist.understanding.hypothesis import NBest, Passes, Words

# One a sentence asked about, higher is better; minus infinity for one that was not found.
Scores = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class DecodeAgain:
    """Both passes once more, at another speed. Answered by `Passes`."""

    speed: float


@dataclass(frozen=True, slots=True)
class ForcedChoice:
    """How near sentences are for the recogniser where nothing else is permitted. `Scores`."""

    sentences: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class DecodeUnder:
    """What the recogniser hears where the word pairs of these phrases are permitted, written in one
    string each, and where nothing else is. Answered by `Passes` without a second pass."""

    phrases: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VerifierScores:
    """How likely written sentences are for the verifier: logarithms. `Scores`."""

    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FreeTranscript:
    """What the verifier hears where nothing is given. Answered by a `Transcript`."""


Question = DecodeAgain | ForcedChoice | DecodeUnder | VerifierScores | FreeTranscript


@dataclass(frozen=True, slots=True)
class Transcript:
    """Words, and the logarithm of how likely they are."""

    words: Words
    log_likelihood: float = 0.0


Reply = Passes | Scores | Transcript


class DeadlinePassed(Exception):
    """Raised inside a decoder, to give up what nobody waits for any more."""


class Decoder(Protocol):
    """Answers questions about the sound of one utterance."""

    def now_s(self) -> float:
        """The seconds of the clock that deadlines are given in."""

    def ask(self, question: Question, by_s: float, /) -> Reply | None:
        """The reply; None where it cannot be had, or not by then."""


class NoDecoder:
    """Answers nothing: there is no sound."""

    def now_s(self) -> float:
        return 0.0

    def ask(self, question: Question, by_s: float) -> None:
        return None


class Inquiry:
    """All questions of one decision. The time for them begins now; once it is over, nothing is
    asked any more, and what comes late does not count. `cut_short` once a question stayed without a
    reply for want of time."""

    def __init__(self, decoder: Decoder, deadline_s: float) -> None:
        self.cut_short = False
        self._decoder = decoder
        self._transcript: Transcript | None = None
        self._by_s = decoder.now_s() + deadline_s

    def decode_again(self, speed: float, *, spare_s: float = 0.0) -> Passes | None:
        """Both passes once more; not begun, or given up, where less than `spare_s` would be left
        for other questions."""
        found = self._reply(DecodeAgain(speed), self._by_s - spare_s)
        return found if isinstance(found, Passes) else None

    def forced_choice(self, sentences: Sequence[Words]) -> Scores | None:
        """How near sentences are where nothing else is permitted."""
        return self._scores(ForcedChoice(tuple(sentences)))

    def decode_under(self, phrases: tuple[str, ...]) -> NBest | None:
        """What the recogniser hears where nothing but the word pairs of phrases is permitted."""
        found = self._reply(DecodeUnder(phrases), self._by_s)
        return found.first if isinstance(found, Passes) else None

    def verifier_scores(self, sentences: Sequence[str]) -> Scores | None:
        """How likely written sentences are for the verifier."""
        return self._scores(VerifierScores(tuple(sentences)))

    def free_transcript(self) -> Transcript | None:
        """What the verifier hears where nothing is given; asked once."""
        if self._transcript is None:
            found = self._reply(FreeTranscript(), self._by_s)
            self._transcript = found if isinstance(found, Transcript) else None
        return self._transcript

    def _scores(self, question: ForcedChoice | VerifierScores) -> Scores | None:
        found = self._reply(question, self._by_s)
        return found if isinstance(found, tuple) else None

    def _reply(self, question: Question, by_s: float) -> Reply | None:
        if self._decoder.now_s() < by_s:
            found = self._decoder.ask(question, by_s)
            if self._decoder.now_s() < by_s:
                return found
        # Decodings that are spared for the sake of other questions are missed by nobody.
        self.cut_short |= by_s >= self._by_s
        return None
