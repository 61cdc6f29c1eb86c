"""The evidence of one decision, as numbers: what recogniser and verifier say for and against the
answer that was taken, or that would have been the next to be taken.

`RecordingDecoder` remembers what the stages asked, so that nothing here decides anything. The
verifier is then asked about the answer and its rivals where the stages had no need to ask.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache

from rapidfuzz.distance import Levenshtein

from tests.benchmarks.harness.kept import KeptDecoder
from voicelist.documents.phone_table import phone_table
from voicelist.grammar.grammar import NO_WORDS, UNKNOWN
from voicelist.phonetics.phones import apart_within
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes, Words, holds
from voicelist.understanding.interpretation import (
    Doubt,
    NotUnderstood,
    Understanding,
    Understood,
    answer_of,
    interpreted,
    same_answer,
)
from voicelist.understanding.parsing import ParsedHypothesis, parsed
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import (
    DecodeAgain,
    FreeTranscript,
    Question,
    Reply,
    Transcript,
    VerifierScores,
)

# A gap or ratio is cut here: what is farther off tells nothing more.
GAP_AT_MOST, RATIO_AT_MOST, A_WORD_AT_MOST = 8.0, 15.0, 6.0
_RIVALS, _OTHERS, _ALIKES = 5, 4, 5
# Words that are no farther apart may be mistaken; so many sentences with one of them are tried.
_ALIKE_WITHIN, _TRIED = 0.45, 24


@dataclass
class RecordingDecoder:
    """Answers as another does and remembers questions with their replies."""

    decoder: KeptDecoder
    asked: list[tuple[Question, Reply | None]] = field(default_factory=list)

    def now_s(self) -> float:
        return self.decoder.now_s()

    def ask(self, question: Question, by_s: float) -> Reply | None:
        reply = self.decoder.ask(question, by_s)
        self.asked.append((question, reply))
        return reply

    def decodings(self) -> list[Passes]:
        """The further ones."""
        return [
            reply
            for question, reply in self.asked
            if isinstance(question, DecodeAgain) and isinstance(reply, Passes)
        ]

    def verifier_was_asked(self) -> bool:
        """Whether the stages needed it."""
        return any(
            isinstance(question, VerifierScores | FreeTranscript) for question, _ in self.asked
        )


@dataclass(frozen=True)
class Heard:
    """All that is known of one utterance: its decodings, parsed; what was found."""

    found: Understanding
    passes: tuple[Passes, ...]
    parsed: tuple[list[ParsedHypothesis], ...]
    second: tuple[list[ParsedHypothesis], ...]
    nearest: tuple[Understood | None, ...]
    understood: tuple[Understood | None, ...]
    context: Context

    @classmethod
    def of(cls, found: Understanding, passes: Sequence[Passes], context: Context) -> Heard:
        looks = [interpreted(one, context, POLICY) for one in passes]
        return cls(
            found,
            tuple(passes),
            tuple(parsed(one.first, context, POLICY) for one in passes),
            tuple(parsed(one.second, context, POLICY) for one in passes),
            tuple(answer_of(one.nearest) if one.nearest else None for one in looks),
            tuple(one.found if isinstance(one.found, Understood) else None for one in looks),
            context,
        )

    def candidate(self) -> Understood | None:
        """The answer that was taken; else the one that was nearest most often, unless a hard rule
        forbids it: what was denied, and what may have been negated, hedged or asked."""
        if isinstance(self.found, Understood):
            return self.found
        if not isinstance(self.found, NotUnderstood):
            return None
        if self.found.doubt is Doubt.NEGATED_OR_HEDGED:
            return None
        near = [one for one in self.nearest if one is not None]
        return max(near, key=lambda one: self._said(one, near), default=None)

    def _said(self, answer: Understood, among: Iterable[Understood | None]) -> int:
        room = self.context.room
        return sum(1 for one in among if one is not None and same_answer(one, answer, room))

    def rivals(self, answer: Understood) -> list[Understood]:
        """Other permitted answers, the nearest first."""
        room, found = self.context.room, list[Understood]()
        near = sorted((one for each in self.parsed for one in each), key=lambda one: one.cost)
        for hypothesis in near:
            if not hypothesis.permitted or len(found) == _RIVALS:
                continue
            other = answer_of(hypothesis)
            if not any(same_answer(other, one, room) for one in (answer, *found)):
                found.append(other)
        return found

    def alikes(self, answer: Understood) -> list[Understood]:
        """Other permitted answers in which one word is another that sounds like it."""
        words, found = answer.words, list[Understood]()
        near = sorted(
            (apart_by, at, other)
            for at, word in enumerate(words)
            for apart_by, other in _sounding_like(word, self.context.words())
        )
        for _, at, other in near[:_TRIED]:
            sentence = (*words[:at], other, *words[at + 1 :])
            for match in self.context.permitted(sentence)[:1]:
                one = Understood(match, sentence)
                if not same_answer(one, answer, self.context.room):
                    found.append(one)
        return found[:_ALIKES]

    def others(self, answer: Understood) -> list[Words]:
        """What is near, means something else and is not permitted, the nearest first."""
        said = self.context.room.meaning(answer.words)
        near = sorted(
            (one for each in (*self.parsed, *self.second) for one in each),
            key=lambda one: one.gap,
        )
        found = dict.fromkeys(
            one.words
            for one in near
            if not one.permitted
            and NO_WORDS.isdisjoint(one.words)
            and self.context.room.meaning(one.words) != said
        )
        return list(found)[:_OTHERS]


@cache
def _sounding_like(word: str, words: frozenset[str]) -> tuple[tuple[float, str], ...]:
    """Those of the words that may be taken for this one, each with how far apart they are."""
    table = phone_table("en-US").words
    if word not in table:
        return ()
    found = (
        (apart_within(table[word], table[other], _ALIKE_WITHIN), other)
        for other in words
        if other != word and other in table
    )
    return tuple(sorted((by, other) for by, other in found if by is not None))


def features_of(
    answer: Understood, heard: Heard, recorded: RecordingDecoder, snr_dB: float
) -> dict[str, float]:
    """The evidence by name."""
    return {
        **_of_the_recogniser(answer, heard),
        **_of_the_verifier(answer, heard, recorded.decoder),
        **_of_the_sound(answer, heard, snr_dB),
        "verifier_was_asked": float(recorded.verifier_was_asked()),
    }


def _of_the_recogniser(answer: Understood, heard: Heard) -> dict[str, float]:
    rivals = [_gaps(each, answer, heard.context) for each in heard.parsed]
    seconds = [_gaps(each, answer, heard.context) for each in heard.second]
    room = heard.context.room
    agree = [one is not None and same_answer(one, answer, room) for one in heard.nearest]
    took = [one is not None and same_answer(one, answer, room) for one in heard.understood]
    took_other = [one is not None for one in heard.understood]
    count = len(heard.passes)
    return {
        "gap_permitted_first": rivals[0][0],
        "gap_permitted_mean": sum(one[0] for one in rivals) / count,
        "gap_permitted_least": min(one[0] for one in rivals),
        "gap_other_first": rivals[0][1],
        "gap_other_mean": sum(one[1] for one in rivals) / count,
        "gap_second_first": min(seconds[0]),
        "gap_second_mean": sum(min(one) for one in seconds) / count,
        "decodings": float(count),
        "nearest_share": sum(agree) / count,
        "understood_share": sum(took) / count,
        "understood_otherwise": float(sum(took_other) - sum(took)),
    }


def _gaps(
    hypotheses: Sequence[ParsedHypothesis], answer: Understood, context: Context
) -> tuple[float, float]:
    """How far the nearest other permitted sentence, and the nearest that is not permitted and means
    something else, lie behind the answer."""
    ours = permitted = other = math.inf
    said = context.room.meaning(answer.words)
    for one in hypotheses:
        if one.permitted:
            if same_answer(answer_of(one), answer, context.room):
                ours = min(ours, one.cost)
            else:
                permitted = min(permitted, one.cost)
        elif context.room.meaning(one.words) != said:
            other = min(other, one.gap)
    return _cut(permitted - ours, GAP_AT_MOST), _cut(other - ours, GAP_AT_MOST)


def _of_the_verifier(answer: Understood, heard: Heard, decoder: KeptDecoder) -> dict[str, float]:
    ours = _likely(decoder, heard.context.written(answer))
    permitted = [_likely(decoder, heard.context.written(one)) for one in heard.rivals(answer)]
    alikes = [_likely(decoder, heard.context.written(one)) for one in heard.alikes(answer)]
    others = [
        _likely(decoder, heard.context.grammar.as_written(words)) for words in heard.others(answer)
    ]
    reply, _ = decoder.timed(FreeTranscript())
    transcript = reply if isinstance(reply, Transcript) else Transcript((), ours)
    said = heard.context.written(answer).split()
    meaning = heard.context.room.meaning
    apart = Levenshtein.distance(meaning(transcript.words), meaning(said))
    count = len(said)
    return {
        "likely_a_word": max(-A_WORD_AT_MOST, ours / count),
        "ratio_permitted": _cut(ours - max(permitted, default=-math.inf), RATIO_AT_MOST),
        "ratio_alike": _cut(ours - max(alikes, default=-math.inf), RATIO_AT_MOST),
        "alikes": float(bool(alikes)),
        "ratio_other": _cut(ours - max(others, default=-math.inf), RATIO_AT_MOST),
        "free_gap_a_word": min(A_WORD_AT_MOST, (transcript.log_likelihood - ours) / count),
        "free_words_apart": min(1.5, apart / max(1, len(meaning(said)))),
        "free_says_more": float(holds(meaning(transcript.words), meaning(said))),
    }


def _of_the_sound(answer: Understood, heard: Heard, snr_dB: float) -> dict[str, float]:
    passes = heard.passes[0]
    top = passes.first[0] if passes.first else None
    spans = top.spans_s if top else ()
    seconds = spans[-1][1] - spans[0][0] if spans else 0.0
    edges = (top.words[0], top.words[-1]) if top and top.words else ()
    numbers = {word for match in answer.matches for word in match.number_words()}
    return {
        "words": float(len(answer.words)),
        "numbers": float(bool(numbers)),
        "teen_or_ten": float(any(word.endswith(("teen", "ty")) for word in numbers)),
        "snr_dB": min(40.0, snr_dB),
        "in_noise": float(passes.in_noise),
        "low_snr": float(bool(top and top.low_snr)),
        "amid_babble": float(bool(top and top.amid_babble)),
        "edge_speech_s": min(1.5, top.before_s + top.behind_s) if top else 0.0,
        "edge_unknown": float(sum(word == UNKNOWN for word in edges)),
        "edge_background": float(min(4, sum(top.background))) if top else 0.0,
        "seconds_a_word": min(1.0, seconds / len(top.words)) if top and top.words else 0.0,
    }


def _likely(decoder: KeptDecoder, sentence: str) -> float:
    reply, _ = decoder.timed(VerifierScores((sentence,)))
    return float(reply[0]) if isinstance(reply, tuple) else -math.inf


def _cut(value: float, most: float) -> float:
    return 0.0 if math.isnan(value) else max(-most, min(most, value))
