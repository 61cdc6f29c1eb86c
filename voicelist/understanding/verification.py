"""What the verifier, another speech model, says of a sound, and what that changes.

It is asked where decoding left a doubt, and where another permitted sentence was near. It errs
otherwise than the recogniser: where the two agree on a sentence that stands out for both, that is
taken; where the verifier finds another answer far likelier, the recogniser's is not. It never
overrules a denial.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.grammar.grammar import NO_WORDS
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Words, holds
from voicelist.understanding.interpretation import (
    Denied,
    Doubt,
    Interpretation,
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
    answer_of,
    is_ambiguous,
    is_negated,
    same_answer,
)
from voicelist.understanding.parsing import has_two_meanings
from voicelist.understanding.policy import Policy
from voicelist.understanding.questions import Inquiry
from voicelist.understanding.room_words import Room

_ASKED_AT_MOST = 8
_HEARD_WORDINGS = 2
_WORDINGS = 4


@dataclass(slots=True)
class _Answer:
    """A permitted answer in a few wordings, how near it was at best, whether one of them has two
    meanings, and how likely the verifier finds it."""

    wordings: list[Understood]
    cost: float
    ambiguous: bool
    likely: float = -math.inf

    @property
    def first(self) -> Understood:
        return self.wordings[0]


def verified(
    found: Understanding,
    decoded: Sequence[Interpretation],
    inquiry: Inquiry,
    context: Context,
    policy: Policy,
) -> Understanding:
    """What a sound amounts to that was decoded so often, once the verifier is asked, if need be."""
    if isinstance(found, NotForUs) or any(
        isinstance(decoding.found, Denied) for decoding in decoded
    ):
        return found
    answers = _answers(decoded, context.room)
    overruling = isinstance(found, Understood)
    if isinstance(found, Understood):
        if not _is_contradicted(found, answers, decoded, inquiry, context, policy):
            return found
        why, offers = "it may also have been something else", (" ".join(found.words),)
        found = NotUnderstood(found.words, why, offers, Doubt.AMBIGUOUS)
        if len(decoded) == 1:
            return found
    if not answers:
        return found
    taken = _taken_up(answers, decoded, inquiry, context, policy, overruling=overruling)
    if taken is None:
        return found
    if decoded[0].low_snr and not _is_plain(taken, decoded, context.room, policy):
        return found
    return taken.first


def _answers(decoded: Sequence[Interpretation], room: Room) -> list[_Answer]:
    """What was near and permitted; the nearest of the first decoding first."""
    found: list[_Answer] = []
    in_order = (
        sorted(decoding.permitted, key=lambda hypothesis: hypothesis.cost) for decoding in decoded
    )
    for hypothesis in itertools.chain.from_iterable(in_order):
        answer = answer_of(hypothesis)
        same = next(
            (candidate for candidate in found if same_answer(candidate.first, answer, room)), None
        )
        if same is None:
            found.append(_Answer([answer], hypothesis.cost, has_two_meanings(hypothesis)))
            continue
        same.ambiguous |= has_two_meanings(hypothesis)
        if len(same.wordings) < _HEARD_WORDINGS and answer not in same.wordings:
            same.wordings.append(answer)
    return found[:_ASKED_AT_MOST]


def _add_wordings(answer: _Answer, heard: Sequence[Words], context: Context) -> None:
    """So that small words alone make no difference, an answer is also put with those that others
    were heard with."""
    small = context.room.small_talk()
    said = [word for word in answer.first.words if word not in small]
    for words in heard:
        if len(answer.wordings) >= _WORDINGS:
            return
        if sum(word not in small for word in words) != len(said):
            continue
        left = iter(said)
        worded = tuple(word if word in small else next(left) for word in words)
        for match in context.permitted(worded)[:1]:
            other = Understood(match, worded)
            if other not in answer.wordings and same_answer(other, answer.first, context.room):
                answer.wordings.append(other)


def _is_contradicted(
    found: Understood,
    answers: Sequence[_Answer],
    decoded: Sequence[Interpretation],
    inquiry: Inquiry,
    context: Context,
    policy: Policy,
) -> bool:
    """Whether the verifier finds another answer far likelier that is no part of this one: words get
    lost more easily than they are made up."""
    room = context.room
    ours = next(
        (candidate for candidate in answers if same_answer(candidate.first, found, room)), None
    )
    if ours is None:
        return False
    said = room.meaning(found.words)
    others = [
        candidate
        for candidate in answers
        if candidate is not ours and not holds(said, room.meaning(candidate.first.words))
    ]
    if not others or _put_to_it(inquiry, [ours, *others], context) is None:
        return False
    return max(candidate.likely for candidate in others) > ours.likely + policy.verifier_margin


def _taken_up(
    answers: Sequence[_Answer],
    decoded: Sequence[Interpretation],
    inquiry: Inquiry,
    context: Context,
    policy: Policy,
    *,
    overruling: bool,
) -> _Answer | None:
    """The answer that stands out for the verifier from all that was near, if there is one."""
    doubts = [decoding.found for decoding in decoded if isinstance(decoding.found, NotUnderstood)]
    if len(doubts) == len(decoded) and not any(map(is_ambiguous, doubts)):
        return None
    against = list(dict.fromkeys(doubt.against for doubt in doubts if doubt.against))
    plain = [words for words in against if NO_WORDS.isdisjoint(words)]
    told = _put_to_it(inquiry, answers, context, plain)
    if told is None:
        return None
    best = max(answers, key=lambda candidate: candidate.likely)
    answer = best.first
    least = _least(decoded[0].low_snr, overruling, policy)
    if best.ambiguous or not all(
        _stands_out(best, other, least, context.room, policy) for other in answers
    ):
        return None
    negated = any(map(is_negated, doubts)) and not context.passes_nothing(answer.matches)
    apart = policy.verifier_margin if negated else policy.verifier_margin_of_part
    if any(likely > best.likely - apart for likely in told.against):
        return None
    clear = plain == against and not negated
    free = _free_at_most(answer, policy) if clear else policy.free_of_short
    return best if told.freely <= best.likely + free else None


def _least(low_snr: bool, overruling: bool, policy: Policy) -> float:
    """By how much an answer must be likelier than any other, of which it is no part."""
    return policy.verifier_margin_low_snr if low_snr or overruling else policy.verifier_margin


def _is_plain(
    answer: _Answer, decoded: Sequence[Interpretation], room: Room, policy: Policy
) -> bool:
    """Whether it is likely in itself, and was the nearest for a decoding."""
    likely = answer.likely >= -policy.verifier_margin_of_part * len(answer.first.words)
    nearest = (answer_of(decoding.nearest) for decoding in decoded if decoding.nearest is not None)
    return likely and any(same_answer(other, answer.first, room) for other in nearest)


def _stands_out(best: _Answer, other: _Answer, least: float, room: Room, policy: Policy) -> bool:
    if holds(room.meaning(best.first.words), room.meaning(other.first.words)):
        least = policy.verifier_margin_of_part
    return other is best or other.likely <= best.likely - least


def _free_at_most(answer: Understood, policy: Policy) -> float:
    """How much likelier the free transcript may be than this answer."""
    if len(answer.words) >= policy.long_words:
        return policy.free_of_long
    return policy.free_of_short


@dataclass(frozen=True, slots=True)
class _Told:
    """The free transcript, and what is not permitted: how likely."""

    freely: float
    against: tuple[float, ...]


def _put_to_it(
    inquiry: Inquiry,
    answers: Sequence[_Answer],
    context: Context,
    against: Sequence[Words] | None = None,
) -> _Told | None:
    """Ask how likely answers are, and what is `against` them: then with the free transcript."""
    heard = [wording.words for answer in answers for wording in answer.wordings]
    for answer in answers:
        _add_wordings(answer, heard, context)
    texts = [context.written(wording) for answer in answers for wording in answer.wordings]
    scores = inquiry.verifier_scores([*texts, *map(context.grammar.as_written, against or ())])
    if scores is None:
        return None
    likely = iter(scores)
    for answer in answers:
        answer.likely = max(itertools.islice(likely, len(answer.wordings)))
    if against is None:
        return _Told(0.0, ())
    transcript = inquiry.free_transcript()
    return None if transcript is None else _Told(transcript.log_likelihood, tuple(likely))
