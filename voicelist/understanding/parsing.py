"""The strict parse of the hypotheses: one counts only if all of it is permitted.

Before that, a short noise at its edges is left out, long speech there for which it has no word
stands as what was not heard, and of a long sentence words of the background may be left out or
small words put in.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from voicelist.grammar.grammar import UNHEARD, UNKNOWN
from voicelist.grammar.match import Match
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Hypothesis, Words
from voicelist.understanding.policy import Policy
from voicelist.understanding.repair import Repair, repaired
from voicelist.understanding.room_words import Room

# More words of the background than this at an edge are left alone: all ways take long to look at.
_BACKGROUND_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class ParsedHypothesis:
    """The words of a hypothesis without noise at its edges, the ways to read all of them (none if
    they are not permitted), and its score gap to the best (0 or more); `cost` is the gap with what
    an unlikely number costs. Several sentences in one breath have no match as a whole; theirs are
    in `together`. Others may have talked while it was said."""

    words: Words
    matches: tuple[Match, ...]
    gap: float
    cost: float
    together: tuple[Match, ...] = ()
    amid_babble: bool = False

    @property
    def likely(self) -> bool:
        """Whether it holds no unlikely number."""
        return not self.matches or any(match.is_likely() for match in self.matches)

    @property
    def permitted(self) -> bool:
        return bool(self.matches or self.together)

    def semantic_keys(self) -> set[tuple[object, ...]]:
        """What it says, by each way to read it."""
        if self.together:
            return {semantic_key_of(self.together)}
        return {semantic_key_of((match,)) for match in self.matches}

    def says(self, said: set[tuple[object, ...]], words: Sequence[str], room: Room) -> bool:
        """Whether it says one of these, or what the words say but for those of asking."""
        if not self.semantic_keys().isdisjoint(said):
            return True
        return room.asked_for(self.words) == room.asked_for(words)


def parsed(
    hypotheses: Sequence[Hypothesis], context: Context, policy: Policy
) -> list[ParsedHypothesis]:
    """Each as it was heard, or without words of the background, or repaired, where that makes it
    permitted."""
    best = max((hypothesis.score for hypothesis in hypotheses), default=0.0)
    heard = (
        without_edge_noise(with_unheard(hypothesis, policy), policy) for hypothesis in hypotheses
    )
    return [
        _parsed(hypothesis, best - hypothesis.score, context, policy)
        for hypothesis in heard
        if hypothesis.words
    ]


def _parsed(heard: Hypothesis, gap: float, context: Context, policy: Policy) -> ParsedHypothesis:
    words, babble = heard.words, heard.amid_babble
    said = (words, *without_background(heard, context.room, policy))
    for sentence in said:
        if matches := context.permitted(sentence):
            return _costed(sentence, matches, gap, policy, amid_babble=babble)
    if gap > policy.lost:
        return ParsedHypothesis(words, (), gap, gap)
    for sentence in said:
        mended = repaired(sentence, context.grammar.graph, context.room, policy.long_words)
        if mended is not None and (matches := _permitted_mended(mended, context)):
            gap += mended.changes * policy.close_alike
            return _costed(mended.sentence, matches, gap, policy, amid_babble=babble)
    return ParsedHypothesis(words, (), gap, gap, context.permitted_together(words), babble)


def _costed(
    words: Words, matches: tuple[Match, ...], gap: float, policy: Policy, *, amid_babble: bool
) -> ParsedHypothesis:
    likely = any(match.is_likely() for match in matches)
    cost = gap if likely else gap + policy.unlikely
    return ParsedHypothesis(words, matches, gap, cost, amid_babble=amid_babble)


def _permitted_mended(mended: Repair, context: Context) -> tuple[Match, ...]:
    """The readings of a repaired sentence in which only expressions were completed that stand for
    one thing: no number, and nothing of the sentence around them."""
    return tuple(
        match
        for match in context.permitted(mended.sentence)
        if match.expression_words().issuperset(mended.completing)
    )


def with_unheard(hypothesis: Hypothesis, policy: Policy) -> Hypothesis:
    """With long speech before the first or behind the last word as what was not heard."""
    words, spans_s = hypothesis.words, hypothesis.spans_s
    if not words:
        return hypothesis
    if hypothesis.before_s > policy.edge_noise_at_most_s:
        begin_s = spans_s[0][0]
        words, spans_s = (UNHEARD, *words), ((begin_s - hypothesis.before_s, begin_s), *spans_s)
    if hypothesis.behind_s > policy.edge_noise_at_most_s:
        end_s = spans_s[-1][1]
        words, spans_s = (*words, UNHEARD), (*spans_s, (end_s, end_s + hypothesis.behind_s))
    return replace(hypothesis, words=words, spans_s=spans_s)


def without_edge_noise(hypothesis: Hypothesis, policy: Policy) -> Hypothesis:
    """Without a short unknown noise before or after the words."""
    words = list(hypothesis.words)
    spans_s = list(hypothesis.spans_s) or [(0.0, 0.0)] * len(words)
    background = list(hypothesis.background)
    for edge in (-1, 0):
        while words and words[edge] == UNKNOWN:
            begin_s, end_s = spans_s[edge]
            if end_s - begin_s > policy.edge_noise_at_most_s:
                break
            del words[edge], spans_s[edge]
            background[edge] = max(0, background[edge] - 1)
    return replace(
        hypothesis,
        words=tuple(words),
        spans_s=tuple(spans_s),
        background=(background[0], background[1]),
    )


def without_background(heard: Hypothesis, room: Room, policy: Policy) -> Iterator[Words]:
    """A long sentence without all or some of its first and last words that are as faint as the
    background, the shortest first.

    Nothing that may make it no answer is left out, however faint. A short one is left as it is:
    there is little in it that stands out from a background; a little more where that is babble for
    seconds.
    """
    words = heard.words
    faint = [min(count, _BACKGROUND_AT_MOST) for count in heard.background]
    if not any(faint) or UNKNOWN in words or UNHEARD in words:
        return
    least = policy.few_words + 1 if heard.amid_babble else policy.long_words
    kept = room.turning()
    before, behind = (
        sum(1 for _ in itertools.takewhile(lambda word: word not in kept, edge))
        for edge in (words[: faint[0]], words[::-1][: faint[1]])
    )
    cuts = itertools.product(range(before + 1), range(behind + 1))
    for first, last in sorted(cuts, key=sum, reverse=True)[:-1]:
        if len(words) - first - last >= least:
            yield words[first : len(words) - last]


def has_two_meanings(hypothesis: ParsedHypothesis) -> bool:
    """Whether a sentence can be read in two ways that do not come to the same."""
    return len({_meaning_of(match) for match in hypothesis.matches}) > 1


def _meaning_of(match: Match) -> tuple[str, str, str, tuple[tuple[str, ...], ...]]:
    """What sets one reading apart from another: not the nesting of rules, but words, values and
    tags."""
    tags = tuple(inner.tags for inner in match.walk() if inner.tags)
    return match.rule, repr(match.slots()), repr(match.values()), tags


def semantic_key_of(matches: Sequence[Match]) -> tuple[object, ...]:
    """What one or more sentences say."""
    return tuple(map(semantic_key, matches))


def semantic_key(match: Match) -> tuple[object, ...]:
    """What a reading says, however it is worded: its phrase with its tags, and of the rules inside
    their tags, values, or words where these are all that they have."""
    return (
        match.rule,
        match.tags,
        *(
            (inner.rule, inner.tags, inner.value)
            if inner.tags or inner.inside or inner.value is not None
            else (inner.rule, inner.words)
            for inner in match.walk()
            if inner is not match
        ),
    )
