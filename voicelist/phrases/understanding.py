"""From word hypotheses to what they amount to. Doubt never passes.

The recogniser bends near sentences into permitted ones, so a hypothesis counts only if it parses
strictly and whole, if no better-ranked hypothesis says something else, and if the open-vocabulary
look at the same sound holds no denial, doubt or question that the sentence does not have.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from rapidfuzz import fuzz, process

from voicelist.phrases.grammar import UNKNOWN, Grammar
from voicelist.phrases.match import Match
from voicelist.phrases.ruleset import RuleSet

# Edge noise is tolerated only if short; design rule, measured on clicks before answers.
EDGE_NOISE_AT_MOST_S = 0.25
# Below this similarity (0 to 100) a sentence is not offered as "did you mean"; project choice.
OFFER_FROM = 70.0
_OFFERS_AT_MOST = 2
# Sentences said in one breath: how many, and what may stand between them.
_TOGETHER_AT_MOST = 3
_LINKS = ("and",)
# Likeness (0 to 100) of letters from which two word runs count as one sound; project choice. A word
# put before or after an answer keeps its neighbours, so it is an insertion and always counts.
SAME_SOUND_FROM = 50.0


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading of the sound, best first in a list. `seconds` are the words' lengths (none if
    typed); `score` compares hypotheses of one utterance, higher is better."""

    words: tuple[str, ...]
    seconds: tuple[float, ...] = ()
    score: float = 0.0


@dataclass(frozen=True, slots=True)
class Room:
    """Words that change or question a meaning, and words that carry none."""

    negations: frozenset[str]
    questions: frozenset[str]
    doubts: frozenset[str]
    function_words: frozenset[str]
    fillers: tuple[str, ...]

    @classmethod
    def from_rules(cls, rules: RuleSet) -> Room:
        """From the public rules `negations`, `questions`, `doubts`, `function_words`, `talk`."""
        names = ("negations", "questions", "doubts", "function_words", "talk")
        words = {name: rules.words(name) for name in names}
        return cls(
            frozenset(words["negations"]),
            frozenset(words["questions"]),
            frozenset(words["doubts"]),
            frozenset(words["function_words"]),
            tuple(dict.fromkeys(word for name in names for word in words[name])),
        )


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
    `together` may be said one after the other in one breath, with or without "and" between."""

    grammar: Grammar
    active: frozenset[str]
    room: Room
    together: frozenset[str] = frozenset()

    def permitted(self, words: tuple[str, ...]) -> tuple[Match, ...]:
        """The readings of the whole sentence under an active root."""
        return tuple(match for match in self.grammar.parses(words) if match.rule in self.active)

    def permitted_together(self, words: tuple[str, ...]) -> tuple[Match, ...]:
        """Two to four whole sentences in a row; none where there are two ways to read them."""
        ways = list(self._rows(words, _TOGETHER_AT_MOST))
        return ways[0] if len(ways) == 1 else ()

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
        return tuple(name for name in sorted(self.active) if not name.startswith("command."))

    def topics(self) -> frozenset[str]:
        """The words of what is asked: those of its answers that carry a meaning."""
        words = {word for name in self.answers() for word in self.grammar.words_of(name)}
        return frozenset(words) - self.room.function_words - frozenset(self.room.fillers)

    def offers(self, words: Sequence[str]) -> tuple[str, ...]:
        """Permitted answers that sound like the words: to be asked, never to be taken."""
        choices = [text for name in self.answers() for text in self.grammar.examples(name)]
        spoken = " ".join(words)
        near = process.extract(spoken, choices, scorer=fuzz.ratio, limit=_OFFERS_AT_MOST)
        return tuple(text for text, score, _ in near if score >= OFFER_FROM)

    def meaning(self, words: Iterable[str]) -> list[str]:
        """The words without those that carry no meaning."""
        return [word for word in words if word not in self.room.function_words]


def understand(
    hypotheses: Sequence[Hypothesis], second_look: Sequence[str], context: Context
) -> Understanding:
    """What one utterance amounts to; hypotheses best first."""
    readings = [words for words in map(without_edge_noise, hypotheses) if words]
    if not readings:
        return NotForUs(())
    for rank, words in enumerate(readings):
        matches = context.permitted(words)
        if matches:
            return _weigh(readings[: rank + 1], matches, second_look, context)
        several = context.permitted_together(words)
        if several:
            return _weigh_several(readings[: rank + 1], several, second_look, context)
    return _denied(readings[0], context) or _unpermitted(readings[0], second_look, context)


def without_edge_noise(hypothesis: Hypothesis) -> tuple[str, ...]:
    """The words without a short unknown noise before or after them."""
    words = list(hypothesis.words)
    seconds = list(hypothesis.seconds) or [0.0] * len(words)
    for edge in (-1, 0):
        while words and words[edge] == UNKNOWN and seconds[edge] <= EDGE_NOISE_AT_MOST_S:
            del words[edge], seconds[edge]
    return tuple(words)


def _weigh(
    readings: Sequence[tuple[str, ...]],
    matches: tuple[Match, ...],
    second_look: Sequence[str],
    context: Context,
) -> Understanding:
    """Whether the last of `readings`, which `matches` are, may be taken."""
    words = readings[-1]
    if len({_meaning_of(match) for match in matches}) > 1:
        return NotUnderstood(words, "it can be read in two ways", context.offers(words))
    doubt = _nearer(readings, context)
    if doubt is not None:
        return doubt
    veto = _veto(second_look, words, context.room) or _other_answer(second_look, matches, context)
    if veto:
        return NotUnderstood(words, f"the second look heard '{veto}'", (" ".join(words),))
    return Understood(matches[0], words)


def _weigh_several(
    readings: Sequence[tuple[str, ...]],
    matches: tuple[Match, ...],
    second_look: Sequence[str],
    context: Context,
) -> Understanding:
    """Whether several sentences in one breath may be taken: all of them or none, each item once."""
    words = readings[-1]
    if len({match.rule for match in matches}) < len(matches):
        return NotUnderstood(words, "it says one thing twice")
    doubt = _nearer(readings, context)
    if doubt is not None:
        return doubt
    veto = _veto(second_look, words, context.room) or _other_answer(second_look, matches, context)
    if veto:
        return NotUnderstood(words, f"the second look heard '{veto}'")
    return Understood(matches[0], words, matches[1:])


def _nearer(readings: Sequence[tuple[str, ...]], context: Context) -> NotUnderstood | None:
    """The better-ranked reading that says something else than the last one, if there is one."""
    *better_ones, words = readings
    meaning = context.meaning(words)
    for better in better_ones:
        if context.meaning(better) != meaning:
            why = "it was nearer to something that is not permitted"
            return NotUnderstood(better, why, context.offers(better))
    return None


def _meaning_of(match: Match) -> tuple[str, str, str, tuple[tuple[str, ...], ...]]:
    """What sets one reading apart from another: not the nesting of rules, but words, values and
    tags."""
    tags = tuple(one.tags for one in match.walk() if one.tags)
    return match.rule, repr(match.slots()), repr(match.values()), tags


def _veto(second_look: Sequence[str], words: tuple[str, ...], room: Room) -> str:
    """The denial, doubt or opening question in the open look that the sentence lacks, or ""."""
    if second_look and second_look[0] in room.questions and second_look[0] not in words:
        return second_look[0]
    turns = room.negations | room.doubts
    for kind, start, end, from_, to in _differences(words, second_look):
        heard = second_look[from_:to]
        turn = next((word for word in heard if word in turns and word not in words), "")
        if turn and not (kind == "replace" and _same_sound(words[start:end], heard, turns)):
            return turn
    return ""


def _other_answer(second_look: Sequence[str], taken: tuple[Match, ...], context: Context) -> str:
    """The open look as a whole, if it is a permitted sentence that says something else; or ""."""
    looked = context.permitted(tuple(second_look))
    says = {_gist(match) for match in taken}
    return " ".join(second_look) if looked and says.isdisjoint(map(_gist, looked)) else ""


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


def _differences(
    words: Sequence[str], second_look: Sequence[str]
) -> list[tuple[str, int, int, int, int]]:
    matcher = SequenceMatcher(None, list(words), list(second_look), autojunk=False)
    return [code for code in matcher.get_opcodes() if code[0] != "equal"]


def _same_sound(words: Sequence[str], heard: Sequence[str], turns: frozenset[str]) -> bool:
    """Whether the open look only spelled the same sound with other words ("mono focal" as "not a
    vocal"). A denial that was added ("not completely" for "complete") makes the runs less alike."""
    spoken = "".join(words)
    whole = fuzz.ratio(spoken, "".join(heard))
    without = fuzz.ratio(spoken, "".join(word for word in heard if word not in turns))
    return whole >= SAME_SOUND_FROM and whole > without


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
    for bare in (affirmed, tuple(context.meaning(affirmed))):
        for match in context.permitted(bare):
            if match.rule.endswith(".done"):
                return Denied(match.rule, words)
    meant = context.meaning(affirmed)
    for name in context.answers():
        if name.endswith(".done") and any(
            context.meaning(text.split()) == meant for text in context.grammar.examples(name)
        ):
            return Denied(name, words)
    return None


def _unpermitted(
    words: tuple[str, ...], second_look: Sequence[str], context: Context
) -> Understanding:
    """Not permitted: is it for us at all? Both looks must hold a word of what is asked, because the
    grammar bends any talk towards its own words."""
    topics = context.topics()
    if not topics.intersection(words) or (second_look and not topics.intersection(second_look)):
        return NotForUs(words)
    why = "it is not one of the permitted answers"
    return NotUnderstood(words, why, context.offers(words))
