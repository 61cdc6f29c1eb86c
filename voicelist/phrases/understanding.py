"""From word hypotheses to what they amount to. Doubt never passes.

The recogniser bends near sentences into permitted ones, so a hypothesis counts only if it parses
strictly and whole, if no better-ranked hypothesis says something else, and if the open-vocabulary
look at the same sound holds no denial, doubt or question that the sentence does not have.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from voicelist.phrases.grammar import Grammar
from voicelist.phrases.match import Match
from voicelist.phrases.ruleset import RuleSet

UNKNOWN = "[unk]"
# Edge noise is tolerated only if short; design rule, measured on clicks before answers.
EDGE_NOISE_AT_MOST_S = 0.25
# Below this similarity (0 to 100) a sentence is not offered as "did you mean"; project choice.
OFFER_FROM = 70.0
_OFFERS_AT_MOST = 2


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading of the sound, best first in a list. `seconds` are the words' lengths (0 if typed);
    `score` compares hypotheses of one utterance, higher is better."""

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
    """A permitted sentence; `match.rule` names the phrase."""

    match: Match
    words: tuple[str, ...]


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


def understand(
    hypotheses: Sequence[Hypothesis],
    second_look: Sequence[str],
    grammar: Grammar,
    active: Collection[str],
    room: Room,
) -> Understanding:
    """What one utterance amounts to, given the phrases (`active` rule names) permitted now."""
    readings = [without_edge_noise(one) for one in hypotheses if one.words]
    readings = [words for words in readings if words]
    if not readings:
        return NotForUs(())
    found = _first_permitted(readings, grammar, active)
    if found is not None:
        rank, matches = found
        return _weigh(readings, rank, matches, second_look, grammar, active, room)
    denied = _denied(readings[0], grammar, active, room)
    if denied is not None:
        return denied
    return _unpermitted(readings, grammar, active, room)


def without_edge_noise(hypothesis: Hypothesis) -> tuple[str, ...]:
    """The words without a short unknown noise before or after them."""
    words = list(hypothesis.words)
    seconds = list(hypothesis.seconds) or [0.0] * len(words)
    while words and words[-1] == UNKNOWN and seconds[-1] <= EDGE_NOISE_AT_MOST_S:
        del words[-1], seconds[-1]
    while words and words[0] == UNKNOWN and seconds[0] <= EDGE_NOISE_AT_MOST_S:
        del words[0], seconds[0]
    return tuple(words)


def _first_permitted(
    readings: Sequence[tuple[str, ...]], grammar: Grammar, active: Collection[str]
) -> tuple[int, tuple[Match, ...]] | None:
    for rank, words in enumerate(readings):
        matches = tuple(match for match in grammar.parses(words) if match.rule in active)
        if matches:
            return rank, matches
    return None


def _weigh(
    readings: Sequence[tuple[str, ...]],
    rank: int,
    matches: tuple[Match, ...],
    second_look: Sequence[str],
    grammar: Grammar,
    active: Collection[str],
    room: Room,
) -> Understanding:
    words = readings[rank]
    meaning = _meaning(words, room)
    if len({(match.rule, repr(match.slots()), repr(match.values())) for match in matches}) > 1:
        return NotUnderstood(words, "it can be read in two ways", _offers(words, grammar, active))
    for better in readings[:rank]:
        if _meaning(better, room) != meaning:
            offers = _offers(better, grammar, active)
            return NotUnderstood(better, "it was nearer to something that is not permitted", offers)
    veto = _veto(second_look, words, room)
    if veto:
        return NotUnderstood(words, f"the second look heard '{veto}'", (" ".join(words),))
    return Understood(matches[0], words)


def _meaning(words: Iterable[str], room: Room) -> list[str]:
    return [word for word in words if word not in room.function_words]


def _veto(second_look: Sequence[str], words: tuple[str, ...], room: Room) -> str:
    """The denial, doubt or opening question in the open look that the sentence lacks, or ""."""
    if second_look and second_look[0] in room.questions and second_look[0] not in words:
        return second_look[0]
    turns = room.negations | room.doubts
    return next((word for word in second_look if word in turns and word not in words), "")


def _denied(
    words: tuple[str, ...], grammar: Grammar, active: Collection[str], room: Room
) -> Denied | None:
    if not room.negations.intersection(words) or words[0] in room.questions:
        return None
    bare = tuple(
        word for word in words if word not in room.negations and word not in room.function_words
    )
    for match in grammar.parses(bare):
        if match.rule in active and match.rule.endswith(".done"):
            return Denied(match.rule, words)
    return None


def _unpermitted(
    readings: Sequence[tuple[str, ...]], grammar: Grammar, active: Collection[str], room: Room
) -> Understanding:
    topics = topic_words(grammar, active, room)
    best = readings[0]
    if not topics.intersection(best):
        return NotForUs(best)
    return NotUnderstood(
        best, "it is not one of the permitted answers", _offers(best, grammar, active)
    )


def topic_words(grammar: Grammar, active: Collection[str], room: Room) -> frozenset[str]:
    """The words of the item asked: those of its answers that carry a meaning."""
    words: set[str] = set()
    for name in active:
        if not name.startswith("command."):
            words |= grammar.words_of(name)
    return frozenset(words) - room.function_words - frozenset(room.fillers)


def _offers(words: Sequence[str], grammar: Grammar, active: Collection[str]) -> tuple[str, ...]:
    """Permitted sentences that sound like the words: to be asked, never to be taken."""
    choices = [
        sentence
        for name in sorted(active)
        if not name.startswith("command.")
        for sentence in grammar.examples(name)
    ]
    near = process.extract(" ".join(words), choices, scorer=fuzz.ratio, limit=_OFFERS_AT_MOST)
    return tuple(sentence for sentence, score, _ in near if score >= OFFER_FROM)
