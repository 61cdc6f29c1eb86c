"""From word hypotheses to what they amount to. Doubt never passes.

The recogniser bends near sentences into permitted ones, so a hypothesis counts only if it parses
strictly and whole, if no hypothesis that says something else is about as near to the sound, and if
a second look at the same sound, in which each answer stands beside its denials, doubts and
questions, does not find one of these nearer.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from voicelist.phrases.grammar import UNKNOWN, Grammar
from voicelist.phrases.match import Match
from voicelist.phrases.room import Room

# Edge noise is tolerated only if short; design rule, measured on clicks before answers.
EDGE_NOISE_AT_MOST_S = 0.25
# Below this similarity (0 to 100) a sentence is not offered as "did you mean"; project choice.
OFFER_FROM = 70.0
_OFFERS_AT_MOST = 2
# Sentences said in one breath: how many more, and what may stand between them.
_TOGETHER_AT_MOST = 3
_LINKS = ("and",)

# Differences of score, in the recogniser's own measure; own measurements, see
# tests/benchmarks/understanding.py.
# An answer with an unlikely number must be this much nearer than one without.
UNLIKELY = 2.5
# Two answers within this of each other are not told apart.
CLOSE = 0.5
# What is not permitted stands in the way of an answer unless the answer is at most so far behind:
# words of the answers themselves in another order, or other words within a number that leave no
# number ("point seventy eye"), say little against it, others much, and denials, doubts and
# questions stand in the way even from behind.
MISPLACED = 2.5
NO_NUMBER = 3.5
STRANGE = 0.3
TURNED = -0.3
# So far behind anything else may the second look find the answer; a denial, a doubt or a question
# stands in the way even from behind.
SECOND_LOOK_BEHIND = 1.0
SECOND_LOOK_TURNED = -0.3


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading of the sound, best first in a list. `seconds` are the words' lengths (none if
    typed); `score` compares hypotheses of one look at one utterance, higher is better."""

    words: tuple[str, ...]
    seconds: tuple[float, ...] = ()
    score: float = 0.0


@dataclass(frozen=True, slots=True)
class Understood:
    """A permitted sentence; `match.rule` names the phrase. `more` are further ones, said in the
    same breath."""

    match: Match
    words: tuple[str, ...]
    more: tuple[Match, ...] = ()

    @property
    def matches(self) -> tuple[Match, ...]:
        """All of them, in the order said."""
        return (self.match, *self.more)


@dataclass(frozen=True, slots=True)
class Denied:
    """The negation of a permitted answer ("irrigation line is not firm")."""

    rule: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Meant for us, but not a permitted sentence; `offers` are permitted ones that were near."""

    words: tuple[str, ...]
    why: str
    offers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NotForUs:
    """Talk that holds no word of what is asked."""

    words: tuple[str, ...]


Understanding = Understood | Denied | NotUnderstood | NotForUs


@dataclass(frozen=True, slots=True)
class Context:
    """What may be said now: the `active` roots of a grammar, and the words of the room. Those in
    `together` may be said one after the other in one breath, with or without "and" between. Those
    that are `harmless` pass nothing, so that the second look has nothing to keep them from."""

    grammar: Grammar
    active: frozenset[str]
    room: Room
    together: frozenset[str] = frozenset()
    harmless: frozenset[str] = frozenset()

    def permitted(self, words: tuple[str, ...]) -> tuple[Match, ...]:
        """The readings of the whole sentence under an active root."""
        return tuple(match for match in self.grammar.parses(words) if match.rule in self.active)

    def permitted_together(self, words: tuple[str, ...]) -> tuple[Match, ...]:
        """Two to four whole sentences in a row, each of another phrase; none where there are two
        ways to read them."""
        ways = list(self._rows(words, _TOGETHER_AT_MOST))
        if len(ways) != 1 or len({match.rule for match in ways[0]}) < len(ways[0]):
            return ()
        return ways[0]

    def _rows(self, words: tuple[str, ...], left: int) -> Iterator[tuple[Match, ...]]:
        if not self.together or not left:
            return
        for end in range(2, len(words) - 1):
            first = [one for one in self.grammar.parses(words[:end]) if one.rule in self.together]
            if not first:
                continue
            rest = words[end + 1 :] if words[end] in _LINKS else words[end:]
            last = [one for one in self.grammar.parses(rest) if one.rule in self.together]
            yield from ((one, other) for one in first for other in last)
            for more in self._rows(rest, left - 1):
                yield from ((one, *more) for one in first)

    def answers(self) -> tuple[str, ...]:
        """The active roots that are no commands."""
        return tuple(name for name in sorted(self.active) if not _is_command(name))

    def words(self) -> frozenset[str]:
        """The words of what is asked."""
        return frozenset(word for name in self.answers() for word in self.grammar.words_of(name))

    def topics(self) -> frozenset[str]:
        """Those of them that carry a meaning and are no talk."""
        return self.words() - self.room.function_words - frozenset(self.room.fillers)

    def offers(self, words: Sequence[str]) -> tuple[str, ...]:
        """Permitted answers that sound like the words: to be asked, never to be taken."""
        choices = [text for name in self.answers() for text in self.grammar.examples(name)]
        spoken = " ".join(words)
        near = process.extract(spoken, choices, scorer=fuzz.ratio, limit=_OFFERS_AT_MOST)
        return tuple(text for text, score, _ in near if score >= OFFER_FROM)


def _is_command(root: str) -> bool:
    return root.startswith("command.")


@dataclass(frozen=True, slots=True)
class _Reading:
    """A hypothesis without noise at its edges, its permitted matches, and how far it is behind the
    best (0 or more)."""

    words: tuple[str, ...]
    matches: tuple[Match, ...]
    behind: float

    @property
    def cost(self) -> float:
        """How far behind, an unlikely number counted."""
        likely = not self.matches or any(one.is_likely() for one in self.matches)
        return self.behind + (0.0 if likely else UNLIKELY)


def understand(
    hypotheses: Sequence[Hypothesis], second_look: Sequence[Hypothesis], context: Context
) -> Understanding:
    """What one utterance amounts to; the hypotheses of both looks best first."""
    readings = _readings(hypotheses, context)
    if not readings:
        return NotForUs(())
    permitted = [one for one in readings if one.matches]
    if permitted:
        return _weigh(min(permitted, key=lambda one: one.cost), readings, second_look, context)
    words = readings[0].words
    several = context.permitted_together(words)
    if several:
        return _weigh_several(words, several, second_look, context)
    return _denied(words, context) or _unpermitted(words, second_look, context)


def _readings(hypotheses: Sequence[Hypothesis], context: Context) -> list[_Reading]:
    best = max((one.score for one in hypotheses), default=0.0)
    return [
        _Reading(words, context.permitted(words), best - one.score)
        for one in hypotheses
        if (words := without_edge_noise(one))
    ]


def without_edge_noise(hypothesis: Hypothesis) -> tuple[str, ...]:
    """The words without a short unknown noise before or after them."""
    words = list(hypothesis.words)
    seconds = list(hypothesis.seconds) or [0.0] * len(words)
    for edge in (-1, 0):
        while words and words[edge] == UNKNOWN and seconds[edge] <= EDGE_NOISE_AT_MOST_S:
            del words[edge], seconds[edge]
    return tuple(words)


def _weigh(
    taken: _Reading,
    readings: Sequence[_Reading],
    second_look: Sequence[Hypothesis],
    context: Context,
) -> Understanding:
    """Whether the permitted reading that is nearest to the sound may be taken."""
    words = taken.words
    if len({_meaning_of(match) for match in taken.matches}) > 1:
        return NotUnderstood(words, "it can be read in two ways", context.offers(words))
    rival = _permitted_rival(taken, readings)
    if rival is not None:
        offers = (" ".join(words), " ".join(rival.words))
        return NotUnderstood(words, f"it may also have been '{offers[1]}'", offers)
    nearer = _in_the_way(taken, readings, context)
    if nearer is not None:
        why = "it was nearer to something that is not permitted"
        return NotUnderstood(nearer.words, why, context.offers(nearer.words))
    harmless = taken.matches[0].rule in context.harmless
    veto = "" if harmless else _veto(taken, second_look, context)
    if veto:
        return NotUnderstood(words, f"the second look heard '{veto}'", (" ".join(words),))
    return Understood(taken.matches[0], words)


def _weigh_several(
    words: tuple[str, ...],
    matches: tuple[Match, ...],
    second_look: Sequence[Hypothesis],
    context: Context,
) -> Understanding:
    """Whether several sentences in one breath may be taken, all of them or none: they are the
    reading nearest to the sound, and the second look, if there is one, says the same."""
    if second_look:
        looked = without_edge_noise(second_look[0])
        if list(map(_gist, context.permitted_together(looked))) != list(map(_gist, matches)):
            return NotUnderstood(words, f"the second look heard '{' '.join(looked)}'")
    return Understood(matches[0], words, matches[1:])


def _permitted_rival(taken: _Reading, readings: Sequence[_Reading]) -> _Reading | None:
    """Another permitted reading that says something else and is about as near."""
    said = set(map(_gist, taken.matches))
    for one in readings:
        another = one.matches and said.isdisjoint(map(_gist, one.matches))
        if another and one.cost - taken.cost < CLOSE:
            return one
    return None


def _in_the_way(taken: _Reading, readings: Sequence[_Reading], context: Context) -> _Reading | None:
    """A reading that is not permitted, has another meaning and is nearer."""
    room, answers = context.room, context.words()
    meaning = room.meaning(taken.words)
    for one in readings:
        if one.matches:
            continue
        if room.turns(one.words, taken.words):
            slack = TURNED
        elif room.meaning(one.words) == meaning:
            continue
        elif _leaves_no_number(taken, one.words):
            slack = NO_NUMBER
        else:
            slack = MISPLACED if answers.issuperset(one.words) else STRANGE
        if one.behind + slack < taken.cost:
            return one
    return None


def _veto(taken: _Reading, second_look: Sequence[Hypothesis], context: Context) -> str:
    """What the second look finds nearer than the answer, or "". Against a command only denials,
    doubts and questions count."""
    said = set(map(_gist, taken.matches))
    command = _is_command(taken.matches[0].rule)
    readings = _readings(second_look, context)
    if not readings:
        return ""
    ours = [one for one in readings if not said.isdisjoint(map(_gist, one.matches))]
    found_at = min((one.cost for one in ours), default=math.inf)
    for one in readings:
        if one in ours:
            continue
        if context.room.turns(one.words, taken.words):
            slack = SECOND_LOOK_TURNED
        elif command:
            continue
        elif not one.matches and _leaves_no_number(taken, one.words):
            slack = NO_NUMBER
        else:
            slack = SECOND_LOOK_BEHIND
        if one.cost + slack < found_at:
            return " ".join(one.words)
    return ""


def _leaves_no_number(taken: _Reading, words: tuple[str, ...]) -> bool:
    """Whether the words are those of the answer, save that part of a number is something else."""
    ours = taken.words
    before = _alike(ours, words)
    behind = _alike(ours[before:][::-1], words[before:][::-1])
    other = set(ours[before : len(ours) - behind])
    numbers = (one for match in taken.matches for one in match.walk() if one.value is not None)
    return bool(other) and other <= {word for one in numbers for word in one.words}


def _alike(ours: Sequence[str], others: Sequence[str]) -> int:
    """With how many same words both begin."""
    pairs = itertools.takewhile(lambda pair: pair[0] == pair[1], zip(ours, others, strict=False))
    return sum(1 for _ in pairs)


def _meaning_of(match: Match) -> tuple[str, str, str, tuple[tuple[str, ...], ...]]:
    """What sets one reading apart from another: not the nesting of rules, but words, values and
    tags."""
    tags = tuple(one.tags for one in match.walk() if one.tags)
    return match.rule, repr(match.slots()), repr(match.values()), tags


def _gist(match: Match) -> tuple[object, ...]:
    """What a reading says, however it is worded: its phrase, and of the rules inside their tags,
    values, or words where these are all that they have."""
    inside = [one for one in match.walk() if one is not match]
    return match.rule, *(
        (one.rule, one.tags, one.value)
        if one.tags or one.inside or one.value is not None
        else (one.rule, one.words)
        for one in inside
    )


def same_meaning(one: Understood, other: Understood) -> bool:
    """Whether two utterances say the same things, however they are worded."""
    return list(map(_gist, one.matches)) == list(map(_gist, other.matches))


def _denied(words: tuple[str, ...], context: Context) -> Denied | None:
    """The answer that is left when the negation is taken out. Where the whole answer stands beside
    the negation ("no, irrigation line firm") it may be a correction, so nothing is taken up; and a
    denial that is read back never holds a permitted sentence."""
    room = context.room
    if not room.negations.intersection(words) or words[0] in room.questions:
        return None
    if context.grammar.graph.accepted_run(words) is not None:
        return None
    affirmed = tuple(word for word in words if word not in room.negations)
    for bare in (affirmed, tuple(room.meaning(affirmed))):
        for match in context.permitted(bare):
            if match.rule.endswith(".done"):
                return Denied(match.rule, words)
    meant = room.meaning(affirmed)
    for name in context.answers():
        if name.endswith(".done") and any(
            room.meaning(text.split()) == meant for text in context.grammar.examples(name)
        ):
            return Denied(name, words)
    return None


def _unpermitted(
    words: tuple[str, ...], second_look: Sequence[Hypothesis], context: Context
) -> Understanding:
    """Not permitted: is it for us at all? Both looks must hold a word of what is asked, because the
    grammar bends any talk towards its own words."""
    topics = context.topics()
    second_words = second_look[0].words if second_look else words
    if not topics.intersection(words) or not topics.intersection(second_words):
        return NotForUs(words)
    why = "it is not one of the permitted answers"
    return NotUnderstood(words, why, context.offers(words))
