"""Whether an answer that was understood sounds more like something that nobody permits.

A recogniser that follows phrases bends a word to one that sounds like it: "timing complete" to
"priming complete". So a short answer is put beside sentences in which one of its words is another:
to the recogniser, as a forced choice among all of them, and then to the verifier. Only where both
prefer another sentence is the answer in doubt; where "is" may have been "isn't", or "no" something
like it, one of them must clearly prefer the answer. The verifier is also asked about what was heard
beside it that says it and more, denied perhaps. And there is doubt where its free transcript holds
all of the answer and more, or, if that has few words, is anything else that is far likelier. In a
quiet room, where somebody waits, only such a denial is looked for, unless an answer of few words
was not alone, or a longer one may have been denied. Without a verifier the answer stands; where the
time is over before all this could be asked, it does not.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from voicelist.grammar.grammar import NO_WORDS
from voicelist.understanding.confusables import SoundAlikes
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes, Words, holds
from voicelist.understanding.interpretation import (
    Doubt,
    NotUnderstood,
    Understanding,
    Understood,
)
from voicelist.understanding.policy import Policy
from voicelist.understanding.questions import Inquiry

# So many rivals are put to the verifier at most.
_PUT_AT_MOST = 8


def was_alone(found: Understanding, passes: Passes, context: Context, policy: Policy) -> bool:
    """Whether nothing else was near but what is permitted; for an answer of many words, nothing
    that negates, hedges or asks it."""
    if not isinstance(found, Understood):
        return True
    if len(found.words) > policy.few_words:
        more = _with_more(found, passes, context, policy)
        return not any(context.room.turns(words, found.words) for words in more)
    said = context.room.meaning(found.words)
    others = (
        hypothesis.words
        for n_best in (passes.first, passes.second)
        for hypothesis in n_best
        if n_best[0].score - hypothesis.score <= policy.slack_small
    )
    return all(context.room.meaning(words) == said or context.permitted(words) for words in others)


def unless_out_of_grammar(
    found: Understanding,
    passes: Passes,
    context: Context,
    inquiry: Inquiry,
    policy: Policy,
    *,
    alone: bool = False,
) -> Understanding:
    """What was found, or a doubt. One that was `alone` in a quiet room is only put beside what a
    denial sets apart."""
    if not isinstance(found, Understood):
        return found
    offers = (" ".join(found.words),)
    if _sounds_like_another(found, passes, context, inquiry, policy, alone=alone):
        why = "it sounded more like something else"
        return NotUnderstood(found.words, why, offers, Doubt.AMBIGUOUS)
    return found


def _sounds_like_another(
    answer: Understood,
    passes: Passes,
    context: Context,
    inquiry: Inquiry,
    policy: Policy,
    *,
    alone: bool,
) -> bool:
    alikes, words = context.alikes, answer.words
    too_long = len(words) > policy.long_words + 1
    if alikes is None or too_long or context.passes_nothing(answer.matches):
        return False
    denied = _by_a_denial(answer, context, alikes)
    more = [] if alone else _with_more(answer, passes, context, policy)
    alike = alikes.in_place_of(words, context.room.small_talk())
    rivals = [] if alone else _unpermitted(alike, context)
    near = (
        *_nearer(words, denied, -policy.verifier_margin, inquiry),
        *_nearer(words, rivals, 0.0, inquiry),
    )
    others = list(dict.fromkeys((*more, *near)))[:_PUT_AT_MOST]
    few = len(words) <= policy.few_words and not alone
    if not others and not few:
        return False
    texts = map(context.grammar.as_written, others)
    scores = inquiry.verifier_scores([context.written(answer), *texts])
    if scores is None:
        return False
    least = dict.fromkeys(more, policy.verifier_margin_of_part)
    least |= dict.fromkeys(denied, -policy.verifier_margin)
    ours, *theirs = scores
    if any(
        likely >= ours + least.get(other, policy.verifier_margin_of_part)
        for likely, other in zip(theirs, others, strict=True)
    ):
        return True
    return bool(few or more) and _is_free_transcript_another(
        answer, ours, inquiry, context, policy, few=few
    )


def _is_free_transcript_another(
    answer: Understood,
    ours: float,
    inquiry: Inquiry,
    context: Context,
    policy: Policy,
    *,
    few: bool,
) -> bool:
    """Whether the free transcript holds all of the answer and more, or is far likelier than one of
    `few` words."""
    transcript = inquiry.free_transcript()
    if transcript is None:
        return False
    least = policy.likelier_a_word * len(answer.words) if few else math.inf
    meaning = context.room.meaning
    if holds(meaning(transcript.words), meaning(context.written(answer).split())):
        least = policy.verifier_margin_of_part
    return transcript.log_likelihood >= ours + least


def _with_more(answer: Understood, passes: Passes, context: Context, policy: Policy) -> list[Words]:
    """What was heard beside an answer, and is not permitted, that says all of it and more: it may
    be denied, or a part of something else."""
    meaning = context.room.meaning
    said = meaning(answer.words)
    found = (
        hypothesis.words
        for n_best in (passes.first, passes.second)
        for hypothesis in n_best
        if NO_WORDS.isdisjoint(hypothesis.words)
    )
    more = (words for words in dict.fromkeys(found) if holds(meaning(words), said))
    return _unpermitted(more, context)


def _by_a_denial(answer: Understood, context: Context, alikes: SoundAlikes) -> list[Words]:
    """The sentences that sound alike but for a denial: "is" as "isn't", or what sounds like "no" in
    its place. An answer that denies is not denied once more; one that tells of a fault passes
    nothing."""
    words, negations = answer.words, context.room.negations
    if any(one.rule.endswith(".fault") for one in answer.matches):
        return []
    if not negations.isdisjoint(words):
        return _unpermitted(alikes.in_place_of(words, frozenset(words) - negations), context)
    denied = (
        (*words[:at], word + ending, *words[at + 1 :])
        for at, word in enumerate(words)
        for ending in context.room.denying_endings
        if word + ending in negations
    )
    return _unpermitted(denied, context)


def _unpermitted(sentences: Iterable[Words], context: Context) -> list[Words]:
    return [words for words in sentences if not context.permitted(words)]


def _nearer(words: Words, rivals: list[Words], by: float, inquiry: Inquiry) -> list[Words]:
    """The rivals that are so much nearer to the sound, the nearest first."""
    scores = inquiry.forced_choice([words, *rivals]) if rivals else None
    if scores is None:
        return []
    ours, *theirs = scores
    found = (
        (score, rival)
        for score, rival in zip(theirs, rivals, strict=True)
        if score > -math.inf and score >= ours + by
    )
    return [rival for _, rival in sorted(found, reverse=True)]
