"""Whether a permitted hypothesis stands against the others, by its score gap to each.

Score gaps are differences of the recogniser's score; the limits are those of the policy.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from voicelist.grammar.grammar import UNHEARD
from voicelist.understanding.hypothesis import holds
from voicelist.understanding.parsing import ParsedHypothesis
from voicelist.understanding.policy import Policy
from voicelist.understanding.room_words import Room


def nearest(permitted: Sequence[ParsedHypothesis], policy: Policy) -> ParsedHypothesis:
    """The nearest, or of those about as near one that holds its words and more."""
    best = min(permitted, key=lambda near: near.cost)
    fuller = (
        near
        for near in permitted
        if near.cost - best.cost < policy.close and holds(near.words, best.words)
    )
    return min(fuller, key=lambda near: near.cost, default=best)


def rival(
    taken: ParsedHypothesis, hypotheses: Sequence[ParsedHypothesis], room: Room, policy: Policy
) -> ParsedHypothesis | None:
    """Another permitted hypothesis that says something else and is about as near."""
    said = taken.semantic_keys()
    for other in hypotheses:
        if (
            other.permitted
            and not other.says(said, taken.words, room)
            and other.cost - taken.cost < _apart_at_least(taken, other, policy)
        ):
            return other
    return None


def _apart_at_least(taken: ParsedHypothesis, other: ParsedHypothesis, policy: Policy) -> float:
    if len(taken.words) == len(other.words) == 1:
        return policy.slack_small
    if taken.amid_babble and not holds(other.words, taken.words):
        return policy.clear
    if holds(taken.words, other.words):
        return -policy.close
    if holds(other.words, taken.words):
        return policy.lost
    # Where only one of the two is likely, that has been counted already.
    alike = taken.likely == other.likely and _sound_alike(taken.words, other.words)
    return policy.close_alike if alike else policy.close


def _sound_alike(ours: Sequence[str], theirs: Sequence[str]) -> bool:
    """Whether the first words in which two sentences differ are a teen and its ten."""
    pairs = zip(ours, theirs, strict=False)
    word, other = next((pair for pair in pairs if pair[0] != pair[1]), ("", ""))
    ends = {word[-4:] == "teen", other[-4:] == "teen"}, {word[-2:] == "ty", other[-2:] == "ty"}
    return word[:2] == other[:2] and ends == ({True, False}, {True, False})


def in_the_way(
    taken: ParsedHypothesis,
    hypotheses: Sequence[ParsedHypothesis],
    room: Room,
    answers: frozenset[str],
    policy: Policy,
) -> ParsedHypothesis | None:
    """A hypothesis of the first pass that is not permitted, has another meaning and is nearer;
    `answers` are the words of what is asked."""
    for other in hypotheses:
        if other.permitted:
            continue
        if _is_negated(taken, other, room):
            slack = -policy.tie
        elif _same_words(taken, other, room):
            continue
        else:
            slack = _slack(taken, other.words, room, answers, policy, policy.tie)
            if taken.amid_babble:
                slack = min(slack, policy.close_alike)
        if other.gap + slack < taken.cost:
            return other
    return None


def veto(
    taken: ParsedHypothesis,
    first: Sequence[ParsedHypothesis],
    second: Sequence[ParsedHypothesis],
    room: Room,
    answers: frozenset[str],
    policy: Policy,
    *,
    command: bool,
) -> ParsedHypothesis | None:
    """What the second pass finds nearer than the answer. Against a command only denials, doubts
    and questions count, and other permitted sentences."""
    if not second:
        return None
    ours = [other for other in second if _says(taken, other, room)]
    found_at = min((other.cost for other in ours), default=math.inf)
    for other in second:
        if other in ours:
            continue
        if _is_negated(taken, other, room):
            gap_first = _negated_gap(taken, first, room)
            slack = _slack_of_negated(other.cost - found_at, gap_first, taken, policy)
        elif other.permitted:
            slack = policy.close
        elif command:
            continue
        else:
            slack = _slack(taken, other.words, room, answers, policy, policy.close_alike)
        if other.cost + slack < found_at:
            return other
    return None


def is_negated_short(
    taken: ParsedHypothesis, other: ParsedHypothesis, room: Room, policy: Policy
) -> bool:
    """Whether a hypothesis holds all that a short answer says, negated, hedged or asked."""
    return len(taken.words) < policy.long_words and _is_negated(taken, other, room)


def _is_negated(taken: ParsedHypothesis, other: ParsedHypothesis, room: Room) -> bool:
    """Whether a hypothesis holds all that is taken, negated, hedged or asked; or all but the denial
    that is taken ("no known allergies")."""
    denied = room.negations.intersection(taken.words)
    if not room.turns(other.words, taken.words) and denied.issubset(other.words):
        return False
    turning = room.negations | room.questions | room.doubts
    return set(room.meaning(taken.words)).difference(turning).issubset(other.words)


def _says(taken: ParsedHypothesis, other: ParsedHypothesis, room: Room) -> bool:
    """Whether a hypothesis says what the taken one says, be it in words that are not permitted."""
    if other.permitted:
        return not taken.semantic_keys().isdisjoint(other.semantic_keys())
    return _same_words(taken, other, room) and not room.turns(other.words, taken.words)


def _same_words(taken: ParsedHypothesis, other: ParsedHypothesis, room: Room) -> bool:
    """Whether only small words set the two apart, or a word said twice that is heard once ("five
    oh oh", "five oh"), or the other lacks some of those with which something is asked for."""
    ours, theirs = room.meaning(taken.words), room.meaning(other.words)
    once = [word for word, _ in itertools.groupby(ours)]
    lacks = holds(ours, theirs) and room.asked_for(other.words) == room.asked_for(taken.words)
    return theirs in (ours, once) or (bool(theirs) and lacks)


def _negated_gap(taken: ParsedHypothesis, first: Sequence[ParsedHypothesis], room: Room) -> float:
    """How far behind the answer the first pass found it negated, hedged or asked."""
    negated = (other.gap for other in first if _is_negated(taken, other, room))
    return min(negated, default=math.inf) - taken.cost


def _slack_of_negated(
    gap_second: float, gap_first: float, taken: ParsedHypothesis, policy: Policy
) -> float:
    """A long sentence, which small sounds bend more easily, stands if it is hardly farther in the
    second pass and both passes together make up for it."""
    if len(taken.words) < policy.long_words:
        return -policy.clear
    hardly_farther = gap_second >= -policy.close_alike
    return math.inf if hardly_farther and gap_second + gap_first >= policy.clear else -policy.tie


def _slack(
    taken: ParsedHypothesis,
    words: Sequence[str],
    room: Room,
    answers: frozenset[str],
    policy: Policy,
    anything_else: float,
) -> float:
    """How far the answer may be behind something that is not permitted and still be taken, by what
    sets the words apart from it, small words aside."""
    if UNHEARD in (words[0], words[-1]):
        return policy.slack_misplaced
    ours, theirs = room.meaning(taken.words), room.meaning(words)
    before = _alike(ours, theirs)
    behind = _alike(ours[before:][::-1], theirs[before:][::-1])
    ours, theirs = ours[before : len(ours) - behind], theirs[before : len(theirs) - behind]
    inside = before and behind
    if (inside or not theirs) and _leaves_no_number(taken, ours):
        return policy.slack_small
    # Words more before or behind it.
    if not ours and not inside:
        return 0.0
    if len(taken.words) == len(words) == 1:
        return policy.slack_small
    # Only the beginning of a short answer.
    if not theirs and before and len(taken.words) < policy.long_words:
        return policy.close_alike
    # A denial in the place of its last words.
    if before and not behind and not room.negations.isdisjoint(theirs):
        return anything_else
    few = max(len(ours), len(theirs)) <= policy.few_words
    replaced = ours and (inside or _numbers(taken).isdisjoint(ours))
    if len(taken.words) >= policy.long_words and few and (replaced or answers.isdisjoint(theirs)):
        return policy.slack_small
    said = set(room.meaning(taken.words))
    shared = len(said.intersection(words))
    if not shared:
        return 0.0
    misplaced = 2 * shared >= len(said) and answers.issuperset(words)
    return policy.slack_misplaced if misplaced else anything_else


def _alike(ours: Sequence[str], theirs: Sequence[str]) -> int:
    """With how many same words both begin."""
    pairs = itertools.takewhile(lambda pair: pair[0] == pair[1], zip(ours, theirs, strict=False))
    return sum(1 for _ in pairs)


def _leaves_no_number(taken: ParsedHypothesis, other: Sequence[str]) -> bool:
    """Whether `other`, the words of the answer that another hypothesis has not, are a part of a
    number, and not the whole."""
    rules = (inner for match in taken.matches for inner in match.walk())
    whole = any(inner.words == tuple(other) for inner in rules if inner.value is not None)
    return bool(other) and _numbers(taken).issuperset(other) and not whole


def _numbers(taken: ParsedHypothesis) -> set[str]:
    """The words of its numbers."""
    return {word for match in taken.matches for word in match.number_words()}
