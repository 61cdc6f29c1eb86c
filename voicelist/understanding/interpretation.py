"""From word hypotheses to what they amount to. Doubt never passes; a denial is taken up.

The recogniser bends near sentences into permitted ones, so a hypothesis counts only if it parses
strictly and whole, if no hypothesis that says something else is about as near to the sound, and if
a second look at the same sound, in which each answer stands beside its denials, doubts and
questions, does not find one of these nearer.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rapidfuzz import fuzz, process

from voicelist.grammar.grammar import UNHEARD, UNKNOWN, Grammar
from voicelist.grammar.match import Match
from voicelist.understanding.confusables import SoundAlikes
from voicelist.understanding.rejection import (
    LONG,
    Reading,
    gist_of,
    in_the_way,
    is_turned_short,
    nearest,
    rival,
    veto,
)
from voicelist.understanding.repair import Repair, repaired
from voicelist.understanding.room_words import Room

# Edge noise is tolerated if short; design rule, measured on clicks before answers.
EDGE_NOISE_AT_MOST_S = 0.25
OFFER_FROM = 70.0  # similarity, 0 to 100, from which "did you mean" is asked; project choice
_OFFERS_AT_MOST = 2
# What each small word put in or exchanged costs, as a difference of score; project choice, measured
# on orders in noise.
REPAIR = 1.0
# Whether a hypothesis can be repaired, or is several sentences, is seen this far behind the best.
_LOOKED_AT_CLOSELY = 2.0
# Sentences said in one breath: how many more, and what may stand between them.
_TOGETHER_AT_MOST = 3
_LINKS = ("and",)
# From so many words on the talk around a sentence is left out.
_NOT_SHORT_AMID_TALK = 4
# More words of the background than this at an edge are left alone: all ways take long to look at.
_BACKGROUND_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading of the sound, best first in a list. `seconds` are the words' lengths (none if
    typed); `score` compares hypotheses of one look at one utterance, higher is better; so many of
    the first and of the last words are as `faint` as the background, which is talk where it was
    said `amid_talk`. `loud_around` where what was heard around them is hardly fainter."""

    words: tuple[str, ...]
    seconds: tuple[float, ...] = ()
    score: float = 0.0
    faint: tuple[int, int] = (0, 0)
    amid_talk: bool = False
    loud_around: bool = False


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

    @property
    def written(self) -> str:
        """Not as the recogniser hears it: in words that anybody would write."""
        return " and ".join(match.text for match in self.matches)


@dataclass(frozen=True, slots=True)
class Unconfirmed:
    """An answer as people put it: it passes nothing until it was read back and agreed to."""

    match: Match
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Denied:
    """The negation of a permitted answer; `in_other_words`, something that may be amiss."""

    rule: str
    words: tuple[str, ...]
    in_other_words: bool = False


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Meant for us, but not a permitted sentence; `offers` are permitted ones that were near.

    `torn` where two of them were about as near; `turned` where a short one may have been denied,
    doubted or asked; `against` is what stood in the way that is not permitted.
    """

    words: tuple[str, ...]
    why: str
    offers: tuple[str, ...] = ()
    torn: bool = False
    turned: bool = False
    against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NotForUs:
    """Talk that holds no word of what is asked."""

    words: tuple[str, ...]


Understanding = Understood | Unconfirmed | Denied | NotUnderstood | NotForUs


@dataclass(frozen=True, slots=True)
class Opinion:
    """What one hearing of a sound amounts to, the permitted reading that is nearest to it, and all
    that are permitted; whether what was heard around the words was hardly fainter."""

    found: Understanding
    nearest: Reading | None = None
    permitted: tuple[Reading, ...] = ()
    loud_around: bool = False


@dataclass(frozen=True, slots=True)
class Context:
    """What may be said now: the `active` roots of a grammar, and the words of the room. Those in
    `together` may be said one after the other in one breath, with or without "and" between. Those
    that are `harmless` pass nothing, so that the second look has nothing to keep them from. With
    `alikes` a short answer is put beside what sounds like it."""

    grammar: Grammar
    active: frozenset[str]
    room: Room
    together: frozenset[str] = frozenset()
    harmless: frozenset[str] = frozenset()
    alikes: SoundAlikes | None = None

    def passes_nothing(self, answer: Understood) -> bool:
        """Whether all of an answer is harmless."""
        return self.harmless.issuperset(match.rule for match in answer.matches)

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


def understand(
    hypotheses: Sequence[Hypothesis], second_look: Sequence[Hypothesis], context: Context
) -> Understanding:
    """What one utterance amounts to; the hypotheses of both looks best first."""
    return opinion(hypotheses, second_look, context).found


def opinion(
    hypotheses: Sequence[Hypothesis], second_look: Sequence[Hypothesis], context: Context
) -> Opinion:
    """The same, with what was nearest."""
    loud = any(one.loud_around for one in hypotheses[:1])
    readings = _readings(hypotheses, context)
    if not readings:
        return Opinion(NotForUs(()), loud_around=loud)
    permitted = tuple(one for one in readings if one.permitted)
    if permitted:
        taken = nearest(permitted)
        found = _weigh(taken, readings, second_look, context)
        return Opinion(found, taken, permitted, loud)
    words = readings[0].words
    doubt = _denied(words, context) or _unpermitted(words, second_look, context)
    return Opinion(doubt, loud_around=loud)


def _readings(hypotheses: Sequence[Hypothesis], context: Context) -> list[Reading]:
    """Each as it was heard, or without words of the background, or repaired, where that makes it
    permitted."""
    best = max((one.score for one in hypotheses), default=0.0)
    heard = map(without_edge_noise, hypotheses)
    return [_reading(one, best - one.score, context) for one in heard if one.words]


def _reading(heard: Hypothesis, behind: float, context: Context) -> Reading:
    words = heard.words
    said = (words, *without_background(heard, context.room))
    for sentence in said:
        if matches := context.permitted(sentence):
            return Reading(sentence, matches, behind, amid_talk=heard.amid_talk)
    if behind > _LOOKED_AT_CLOSELY:
        return Reading(words, (), behind)
    for sentence in said:
        mended = repaired(sentence, context.grammar.graph, context.room)
        if mended is not None and (matches := _permitted_mended(mended, context)):
            behind += mended.changes * REPAIR
            return Reading(mended.sentence, matches, behind, amid_talk=heard.amid_talk)
    together = context.permitted_together(words)
    return Reading(words, (), behind, together, heard.amid_talk)


def _permitted_mended(mended: Repair, context: Context) -> tuple[Match, ...]:
    """The readings of a repaired sentence in which only expressions were completed that stand for
    one thing: no number, and nothing of the sentence around them."""
    return tuple(
        match
        for match in context.permitted(mended.sentence)
        if match.expression_words().issuperset(mended.completing)
    )


def without_edge_noise(hypothesis: Hypothesis) -> Hypothesis:
    """Without a short unknown noise before or after the words."""
    words = list(hypothesis.words)
    seconds = list(hypothesis.seconds) or [0.0] * len(words)
    faint = list(hypothesis.faint)
    for edge in (-1, 0):
        while words and words[edge] == UNKNOWN and seconds[edge] <= EDGE_NOISE_AT_MOST_S:
            del words[edge], seconds[edge]
            faint[edge] = max(0, faint[edge] - 1)
    return replace(hypothesis, words=tuple(words), faint=(faint[0], faint[1]))


def without_background(heard: Hypothesis, room: Room) -> Iterator[tuple[str, ...]]:
    """A long sentence without all or some of its faint first and last words, the shortest first.

    Nothing that may make it no answer is left out, however faint. A short one is left as it is:
    there is little in it that stands out from a background; a little more where that is talk for
    seconds.
    """
    words = heard.words
    faint = [min(count, _BACKGROUND_AT_MOST) for count in heard.faint]
    if not any(faint) or UNKNOWN in words or UNHEARD in words:
        return
    least = _NOT_SHORT_AMID_TALK if heard.amid_talk else LONG
    turning = room.turning()
    before, behind = (
        sum(1 for _ in itertools.takewhile(lambda word: word not in turning, edge))
        for edge in (words[: faint[0]], words[::-1][: faint[1]])
    )
    cuts = itertools.product(range(before + 1), range(behind + 1))
    for first, last in sorted(cuts, key=sum, reverse=True)[:-1]:
        if len(words) - first - last >= least:
            yield words[first : len(words) - last]


def _weigh(
    taken: Reading,
    readings: Sequence[Reading],
    second_look: Sequence[Hypothesis],
    context: Context,
) -> Understanding:
    """Whether the permitted reading that is nearest to the sound may be taken."""
    words = taken.words
    if has_two_meanings(taken):
        return NotUnderstood(words, "it can be read in two ways", context.offers(words))
    other = rival(taken, readings, context.room)
    if other is not None:
        rivals = (" ".join(words), " ".join(other.words))
        return NotUnderstood(words, f"it may also have been '{rivals[1]}'", rivals, torn=True)
    room, answers = context.room, context.words()
    nearer = in_the_way(taken, readings, room, answers)
    if nearer is not None:
        why = "it was nearer to something that is not permitted"
        turned = is_turned_short(taken, nearer, room)
        offers = context.offers(nearer.words)
        unsure = NotUnderstood(nearer.words, why, offers, turned=turned, against=nearer.words)
        denied = _denied(nearer.words, context) if nearer.behind < taken.cost else None
        return denied or unsure
    answer = answer_of(taken)
    rule = answer.match.rule
    second = [] if rule in context.harmless else _readings(second_look, context)
    vetoed = veto(taken, readings, second, room, answers, command=_is_command(rule))
    if vetoed is not None:
        why = f"the second look heard '{' '.join(vetoed.words)}'"
        turned = is_turned_short(taken, vetoed, room)
        offers, against = (" ".join(words),), () if vetoed.permitted else vetoed.words
        unsure = NotUnderstood(words, why, offers, turned=turned, against=against)
        nearest_there = vetoed.words == second[0].words
        return (_denied(vetoed.words, context) if nearest_there else None) or unsure
    return answer


def answer_of(taken: Reading) -> Understood:
    """What a permitted reading says."""
    first, *more = taken.matches[:1] or taken.together
    return Understood(first, taken.words, tuple(more))


def has_two_meanings(reading: Reading) -> bool:
    """Whether a sentence can be read in two ways that do not come to the same."""
    return len({_meaning_of(match) for match in reading.matches}) > 1


def _meaning_of(match: Match) -> tuple[str, str, str, tuple[tuple[str, ...], ...]]:
    """What sets one reading apart from another: not the nesting of rules, but words, values and
    tags."""
    tags = tuple(one.tags for one in match.walk() if one.tags)
    return match.rule, repr(match.slots()), repr(match.values()), tags


def same_meaning(one: Understood, other: Understood) -> bool:
    """Whether two utterances say the same things, however they are worded."""
    return gist_of(one.matches) == gist_of(other.matches)


def same_answer(one: Understood, other: Understood, room: Room) -> bool:
    """The same, or whether only words of asking set them apart."""
    return same_meaning(one, other) or room.asked_for(one.words) == room.asked_for(other.words)


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
