"""What another speech model, a witness, says of a sound, and what that changes.

It is asked where hearing left a doubt, and where another permitted sentence was near. It errs
otherwise than the recogniser: where the two agree on a sentence that stands out for both, that is
taken; where the witness finds another answer far likelier, the recogniser's is not. It never
overrules a denial.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.grammar.grammar import NO_WORDS
from voicelist.understanding.evidence import Ask
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    NotForUs,
    NotUnderstood,
    Opinion,
    Understanding,
    Understood,
    answer_of,
    has_two_meanings,
    same_answer,
)
from voicelist.understanding.rejection import LONG, holds
from voicelist.understanding.room_words import Room

# Logarithms of likelihood; project choices, measured on orders in noise and on synthetic answers
# (tests/benchmarks/orders.py, understanding.py). How much likelier another answer must be to speak
# against the one that was understood,
CONTRADICTED = 4.0
# how far an answer must stand out from all others to be taken where the recogniser was in doubt,
# or if one of its hearings understood it, from those that are a part of it (words get lost more
# easily than they are made up), where it speaks against an answer that was understood, where what
# was heard around is hardly fainter, from what is not permitted, and from what denies, doubts or
# asks it,
STANDS_OUT = 4.0
STANDS_OUT_UNDERSTOOD = 3.0
STANDS_OUT_OF_PART = 2.0
STANDS_OUT_OVERRULING = 6.0
STANDS_OUT_LOUD_AROUND = 8.0
STANDS_OUT_OF_OTHER = 2.0
STANDS_OUT_OF_TURNED = 4.0
# and how much likelier what the witness hears of its own accord may be: than a long answer, than a
# short one that was understood twice, and than any other, which must be about what it hears.
OWN_OF_LONG = 14.0
OWN_OF_SHORT_UNDERSTOOD = 5.0
OWN_OF_SHORT = 0.5
# Where what was heard around it is hardly fainter, a hearing must have found it nearest, and each
# of its words must be so likely on average.
LIKELY_LOUD_AROUND = -2.0
# An answer understood at once is put to the witness if another was as near as this to it.
NEAR = 4.0
_ASKED_AT_MOST = 8
_HEARD_WORDINGS = 2
_WORDINGS = 4


@dataclass(slots=True)
class _Answer:
    """A permitted answer in a few wordings, how near it was at best, whether one of them has two
    meanings, and how likely the witness finds it."""

    wordings: list[Understood]
    cost: float
    ambiguous: bool
    likely: float = -math.inf

    @property
    def first(self) -> Understood:
        return self.wordings[0]


def with_evidence(
    found: Understanding, opinions: Sequence[Opinion], ask: Ask, context: Context
) -> Understanding:
    """What a sound amounts to that was heard so often, once the witness is asked, if it need be."""
    if isinstance(found, NotForUs) or any(isinstance(one.found, Denied) for one in opinions):
        return found
    answers = _answers(opinions, context.room)
    overruling = isinstance(found, Understood)
    if isinstance(found, Understood):
        if not _is_contradicted(found, answers, opinions, ask, context):
            return found
        why, offers = "it may also have been something else", (" ".join(found.words),)
        found = NotUnderstood(found.words, why, offers, torn=True)
        if len(opinions) == 1:
            return found
    if not answers:
        return found
    taken = _taken_up(answers, opinions, ask, context, overruling=overruling)
    if taken is None or (opinions[0].loud_around and not _is_plain(taken, opinions, context.room)):
        return found
    return taken.first


def _answers(opinions: Sequence[Opinion], room: Room) -> list[_Answer]:
    """What was near and permitted; the nearest of the first hearing first."""
    found: list[_Answer] = []
    in_order = (sorted(one.permitted, key=lambda reading: reading.cost) for one in opinions)
    for reading in itertools.chain.from_iterable(in_order):
        answer = answer_of(reading)
        same = next((one for one in found if same_answer(one.first, answer, room)), None)
        if same is None:
            found.append(_Answer([answer], reading.cost, has_two_meanings(reading)))
            continue
        same.ambiguous |= has_two_meanings(reading)
        if len(same.wordings) < _HEARD_WORDINGS and answer not in same.wordings:
            same.wordings.append(answer)
    return found[:_ASKED_AT_MOST]


def _add_wordings(answer: _Answer, heard: Sequence[tuple[str, ...]], context: Context) -> None:
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
    opinions: Sequence[Opinion],
    ask: Ask,
    context: Context,
) -> bool:
    """Whether the witness finds another answer far likelier that is no part of this one: words get
    lost more easily than they are made up."""
    room = context.room
    ours = next((one for one in answers if same_answer(one.first, found, room)), None)
    if ours is None:
        return False
    said = room.meaning(found.words)
    near = ours.cost + NEAR if len(opinions) == 1 else math.inf
    others = [
        one
        for one in answers
        if one is not ours and one.cost <= near and not holds(said, room.meaning(one.first.words))
    ]
    if not others or _put_to_it(ask, [ours, *others], context) is None:
        return False
    return max(one.likely for one in others) > ours.likely + CONTRADICTED


def _taken_up(
    answers: Sequence[_Answer],
    opinions: Sequence[Opinion],
    ask: Ask,
    context: Context,
    *,
    overruling: bool,
) -> _Answer | None:
    """The answer that stands out for the witness from all that was near, if there is one."""
    doubts = [one.found for one in opinions if isinstance(one.found, NotUnderstood)]
    if len(doubts) == len(opinions) and not any(one.torn for one in doubts):
        return None
    against = list(dict.fromkeys(one.against for one in doubts if one.against))
    plain = [one for one in against if NO_WORDS.isdisjoint(one)]
    told = _put_to_it(ask, answers, context, plain)
    if told is None:
        return None
    best = max(answers, key=lambda one: one.likely)
    answer = best.first
    times = _times_understood(answer, opinions, context.room)
    least = _least(opinions[0].loud_around, overruling, times)
    if best.ambiguous or not all(_stands_out(best, one, least, context.room) for one in answers):
        return None
    turned = any(one.turned for one in doubts) and not context.passes_nothing(answer)
    apart = STANDS_OUT_OF_TURNED if turned else STANDS_OUT_OF_OTHER
    if any(one > best.likely - apart for one in told.against):
        return None
    clear = plain == against and not turned
    own = _own_at_most(answer, times) if clear else OWN_OF_SHORT
    return best if told.freely <= best.likely + own else None


def _times_understood(answer: Understood, opinions: Sequence[Opinion], room: Room) -> int:
    understood = (one.found for one in opinions if isinstance(one.found, Understood))
    return sum(same_answer(one, answer, room) for one in understood)


def _least(loud_around: bool, overruling: bool, times_understood: int) -> float:
    """By how much an answer must be likelier than any other, of which it is no part."""
    if loud_around:
        return STANDS_OUT_LOUD_AROUND
    if overruling:
        return STANDS_OUT_OVERRULING
    return STANDS_OUT_UNDERSTOOD if times_understood else STANDS_OUT


def _is_plain(answer: _Answer, opinions: Sequence[Opinion], room: Room) -> bool:
    """Whether it is likely in itself, and was the nearest for a hearing."""
    likely = answer.likely >= LIKELY_LOUD_AROUND * len(answer.first.words)
    nearest = (answer_of(one.nearest) for one in opinions if one.nearest is not None)
    return likely and any(same_answer(one, answer.first, room) for one in nearest)


def _stands_out(best: _Answer, other: _Answer, least: float, room: Room) -> bool:
    if holds(room.meaning(best.first.words), room.meaning(other.first.words)):
        least = STANDS_OUT_OF_PART
    return other is best or other.likely <= best.likely - least


def _own_at_most(answer: Understood, times_understood: int) -> float:
    """How much likelier what the witness hears of its own accord may be than this answer."""
    if len(answer.words) >= LONG:
        return OWN_OF_LONG
    return OWN_OF_SHORT_UNDERSTOOD if times_understood > 1 else OWN_OF_SHORT


@dataclass(frozen=True, slots=True)
class _Told:
    """What the witness hears of its own accord, and what is not permitted: how likely."""

    freely: float
    against: tuple[float, ...]


def _put_to_it(
    ask: Ask,
    answers: Sequence[_Answer],
    context: Context,
    against: Sequence[tuple[str, ...]] | None = None,
) -> _Told | None:
    """Ask how likely answers are, and what is `against` them: then with what the witness hears of
    its own accord."""
    heard = [one.words for answer in answers for one in answer.wordings]
    for answer in answers:
        _add_wordings(answer, heard, context)
    texts = [one.written for answer in answers for one in answer.wordings]
    told = ask([*texts, *map(context.grammar.as_written, against or ())], against is not None)
    if told is None:
        return None
    likely = iter(told.likely)
    for answer in answers:
        answer.likely = max(itertools.islice(likely, len(answer.wordings)))
    return _Told(told.freely, tuple(likely))
