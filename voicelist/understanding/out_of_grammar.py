"""Whether an answer that was understood sounds more like something that nobody permits.

A recogniser that follows phrases bends a word to one that sounds like it: "timing complete" to
"priming complete". So a short answer is put beside sentences in which one of its words is another:
to the recogniser, which hears what it prefers where all of them are permitted, and then to the
witness. Only where both prefer another sentence is the answer in doubt; where "is" may have been
"isn't", or "no" something like it, one of them must clearly prefer the answer. The witness is also
asked about what was heard beside it that says it and more, denied perhaps. And there is doubt where
it hears, of its own accord, all of the answer and more, or, if that has few words, anything else
that is far likelier. In a quiet room, where somebody waits, only such a denial is looked for,
unless an answer of few words was not alone, or a longer one may have been denied. Without a witness
the answer stands. Figures are project choices, measured on synthetic answers and near misses
(tests/benchmarks/understanding.py) and on strangers' talk (strangers.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from voicelist.grammar.grammar import NO_WORDS
from voicelist.understanding.confusables import SoundAlikes
from voicelist.understanding.evidence import Ask
from voicelist.understanding.interpretation import (
    Context,
    Hypothesis,
    NotUnderstood,
    Understanding,
    Understood,
)
from voicelist.understanding.rejection import holds

# How near sentences are to a sound for the recogniser (logarithms of likelihood), None for one far
# off; None where that cannot be had.
Among = Callable[[Sequence[tuple[str, ...]]], tuple[float | None, ...] | None]

# The hypotheses of the first and of the second look, best first.
Looks = tuple[Sequence[Hypothesis], Sequence[Hypothesis]]

_Rivals = list[tuple[str, ...]]

# A longer answer does not become another by one word.
_WORDS_AT_MOST = 7
# How much likelier another sentence must be to the witness, one that says more than the answer,
# and how many are put to it.
_LIKELIER = 3.0
_LIKELIER_WITH_MORE = 2.0
_PUT_AT_MOST = 8
# The same where a denial may have been heard or not: it is enough to be not far behind for both.
_LIKELIER_DENIED = -5.0
_NEARER_DENIED = -3.0
# How much likelier what the witness hears must be, for each word, and of how few words.
_FAR_LIKELIER_A_WORD = 7.3
_FEW_WORDS = 3
# An answer was not alone if something else that is not permitted was as near as this, in the first
# or the second look.
_NEAR, _NEAR_IN_SECOND = 3.0, 1.0
# What says more than the answer is put beside it if it was as near as this.
_BESIDE = 8.0


def was_alone(found: Understanding, looks: Looks, context: Context) -> bool:
    """Whether nothing else was near but what is permitted; for an answer of many words, nothing
    that denies, doubts or asks it."""
    if not isinstance(found, Understood):
        return True
    if len(found.words) > _FEW_WORDS:
        more = _with_more(found, looks, context)
        return not any(context.room.turns(one, found.words) for one in more)
    said = context.room.meaning(found.words)
    others = (
        one.words
        for hypotheses, near in zip(looks, (_NEAR, _NEAR_IN_SECOND), strict=True)
        for one in hypotheses
        if hypotheses[0].score - one.score <= near
    )
    return all(context.room.meaning(one) == said or context.permitted(one) for one in others)


def unless_otherwise(
    found: Understanding,
    looks: Looks,
    context: Context,
    among: Among,
    ask: Ask,
    *,
    alone: bool = False,
) -> Understanding:
    """What was found, or a doubt. One that was `alone` in a quiet room is only put beside what a
    denial sets apart."""
    if not isinstance(found, Understood):
        return found
    if not _sounds_otherwise(found, looks, context, among, ask, alone=alone):
        return found
    why = "it sounded more like something else"
    return NotUnderstood(found.words, why, (" ".join(found.words),), torn=True)


def _sounds_otherwise(
    answer: Understood, looks: Looks, context: Context, among: Among, ask: Ask, *, alone: bool
) -> bool:
    alikes = context.alikes
    if alikes is None or len(answer.words) > _WORDS_AT_MOST or context.passes_nothing(answer):
        return False
    denied = _by_a_denial(answer, context, alikes)
    more = [] if alone else _with_more(answer, looks, context)
    alike = alikes.in_place_of(answer.words, context.room.small_talk())
    rivals = [] if alone else _unpermitted(alike, context)
    near = (
        *_near(answer.words, denied, _NEARER_DENIED, among),
        *_near(answer.words, rivals, 0.0, among),
    )
    others = list(dict.fromkeys((*more, *near)))[:_PUT_AT_MOST]
    few = len(answer.words) <= _FEW_WORDS and not alone
    if not others and not few:
        return False
    texts = map(context.grammar.as_written, others)
    told = ask([answer.written, *texts], few or bool(more))
    if told is None:
        return False
    least = {one: _LIKELIER_WITH_MORE for one in more} | dict.fromkeys(denied, _LIKELIER_DENIED)
    ours, *theirs = told.likely
    if any(
        likely >= ours + least.get(one, _LIKELIER)
        for likely, one in zip(theirs, others, strict=True)
    ):
        return True
    own_least = _FAR_LIKELIER_A_WORD * len(answer.words) if few else math.inf
    meaning = context.room.meaning
    if holds(meaning(told.words), meaning(answer.written.split())):
        own_least = _LIKELIER
    return told.freely >= ours + own_least


def _with_more(answer: Understood, looks: Looks, context: Context) -> _Rivals:
    """What was heard beside an answer, and is not permitted, that says all of it and more: it may
    be denied, or a part of something else."""
    meaning = context.room.meaning
    said = meaning(answer.words)
    found = (
        one.words
        for hypotheses in looks
        for one in hypotheses
        if hypotheses[0].score - one.score <= _BESIDE and NO_WORDS.isdisjoint(one.words)
    )
    return _unpermitted((one for one in dict.fromkeys(found) if holds(meaning(one), said)), context)


def _by_a_denial(answer: Understood, context: Context, alikes: SoundAlikes) -> _Rivals:
    """The sentences that sound alike but for a denial: "is" as "isn't", or what sounds like "no" in
    its place. An answer that denies is not denied once more; one that tells of a fault passes
    nothing."""
    words, negations = answer.words, context.room.negations
    if any(one.rule.endswith(".fault") for one in answer.matches):
        return []
    if not negations.isdisjoint(words):
        return _unpermitted(alikes.in_place_of(words, frozenset(words) - negations), context)
    denied = (
        (*words[:at], word + "n't", *words[at + 1 :])
        for at, word in enumerate(words)
        if word + "n't" in negations
    )
    return _unpermitted(denied, context)


def _unpermitted(sentences: Iterable[tuple[str, ...]], context: Context) -> _Rivals:
    return [words for words in sentences if not context.permitted(words)]


def _near(words: tuple[str, ...], rivals: _Rivals, by: float, among: Among) -> _Rivals:
    """The rivals that are so much nearer to the sound, the nearest first."""
    near = among([words, *rivals]) if rivals else None
    if near is None:
        return []
    ours = near[0]
    found = (
        (how_near, rival)
        for how_near, rival in zip(near[1:], rivals, strict=True)
        if how_near is not None and (ours is None or how_near >= ours + by)
    )
    return [rival for _, rival in sorted(found, reverse=True)]
