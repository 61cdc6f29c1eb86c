"""Whether an answer that was understood sounds more like something that nobody permits.

A recogniser that follows phrases bends a word to one that sounds like it: "timing complete" to
"priming complete". So a short answer is put beside sentences in which one of its words is another:
to the recogniser, which hears what it prefers where all of them are permitted, and then to the
witness. Only where both prefer another sentence is the answer in doubt. One of few words is also in
doubt where the witness, of its own accord, hears something else that is far likelier. In a quiet
room this is only done where one of few words was not alone: somebody waits. Without a witness the
answer stands. Figures are project choices, measured on synthetic answers and near misses
(tests/benchmarks/understanding.py) and on strangers' talk (strangers.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from voicelist.phrases.evidence import Ask
from voicelist.phrases.understanding import (
    Context,
    Hypothesis,
    NotUnderstood,
    Understanding,
    Understood,
)

# How near sentences are to a sound for the recogniser (logarithms of likelihood), None for one far
# off; None where that cannot be had.
Among = Callable[[Sequence[tuple[str, ...]]], tuple[float | None, ...] | None]

# A longer answer does not become another by one word.
_WORDS_AT_MOST = 7
# How much likelier another sentence must be to the witness, and how many are put to it.
_LIKELIER = 3.0
_PUT_AT_MOST = 8
# How much likelier what the witness hears must be, for each word, and of how few words.
_FAR_LIKELIER_A_WORD = 7.3
_FEW_WORDS = 3
# An answer was not alone if something else that is not permitted was as near as this, in the first
# or the second look.
_NEAR, _NEAR_IN_SECOND = 3.0, 1.0


def was_alone(
    found: Understanding,
    looks: tuple[Sequence[Hypothesis], Sequence[Hypothesis]],
    context: Context,
) -> bool:
    """Whether nothing else was near but what is permitted, or it is an answer of many words."""
    if len(found.words) > _FEW_WORDS:
        return True
    said = context.room.meaning(found.words)
    others = (
        one.words
        for hypotheses, near in zip(looks, (_NEAR, _NEAR_IN_SECOND), strict=True)
        for one in hypotheses
        if hypotheses[0].score - one.score <= near
    )
    return all(context.room.meaning(one) == said or context.permitted(one) for one in others)


def unless_otherwise(
    found: Understanding, context: Context, among: Among, ask: Ask
) -> Understanding:
    """What was found, or a doubt."""
    if not isinstance(found, Understood) or not _sounds_otherwise(found, context, among, ask):
        return found
    why = "it sounded more like something else"
    return NotUnderstood(found.words, why, (" ".join(found.words),), torn=True)


def _sounds_otherwise(answer: Understood, context: Context, among: Among, ask: Ask) -> bool:
    if context.alikes is None or len(answer.words) > _WORDS_AT_MOST:
        return False
    if context.passes_nothing(answer):
        return False
    others = context.alikes.in_place_of(answer.words, context.room.small_talk())
    rivals = [words for words in others if not context.permitted(words)]
    nearer = _nearer(answer.words, rivals, among)
    few = len(answer.words) <= _FEW_WORDS
    if not nearer and not few:
        return False
    told = ask([answer.written, *map(" ".join, nearer[:_PUT_AT_MOST])], few)
    if told is None:
        return False
    ours = told.likely[0]
    if few and told.freely >= ours + _FAR_LIKELIER_A_WORD * len(answer.words):
        return True
    return any(other >= ours + _LIKELIER for other in told.likely[1:])


def _nearer(
    words: tuple[str, ...], rivals: Sequence[tuple[str, ...]], among: Among
) -> list[tuple[str, ...]]:
    """The rivals that are no farther from the sound, the nearest first."""
    near = among([words, *rivals]) if rivals else None
    if near is None:
        return []
    ours = near[0]
    found = (
        (how_near, rival)
        for how_near, rival in zip(near[1:], rivals, strict=True)
        if how_near is not None and (ours is None or how_near >= ours)
    )
    return [rival for _, rival in sorted(found, reverse=True)]
