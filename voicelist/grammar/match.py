"""The reading of one sentence: nested rules, their words, tags and values."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from voicelist.grammar.compiler import Enter, Label, Leave, SpokenWord
from voicelist.grammar.expected_range import likely_of
from voicelist.grammar.numbers import value_of
from voicelist.grammar.syntax import Tag


@dataclass(frozen=True, slots=True)
class Match:
    """A rule that matched: its written words, the rules inside, its own tags; number rules have a
    value and nothing inside."""

    rule: str
    words: tuple[str, ...]
    inside: tuple[Match, ...] = ()
    tags: tuple[str, ...] = ()
    value: float | int | None = None

    @property
    def text(self) -> str:
        return " ".join(self.words)

    def walk(self) -> Iterator[Match]:
        """This match and all inside it, in the order spoken."""
        yield self
        for match in self.inside:
            yield from match.walk()

    def number_words(self) -> set[str]:
        """The words of its numbers."""
        return {word for one in self.walk() if one.value is not None for word in one.words}

    def expression_words(self) -> set[str]:
        """The words, but the first, of the innermost rules that are no numbers, where they stand
        nowhere else."""
        inner = [one for one in self.walk() if one is not self and not one.inside]
        later = {word for one in inner if one.value is None for word in one.words[1:]}
        left = Counter(self.words)
        for one in inner:
            left.subtract(one.words[1:] if one.value is None else ())
        return {word for word in later if not left[word]}

    def all(self, rule: str) -> tuple[Match, ...]:
        """Every match of a rule."""
        return tuple(match for match in self.walk() if match.rule == rule)

    def first(self, rule: str) -> Match | None:
        """The first match of a rule, or None."""
        return next((match for match in self.walk() if match.rule == rule), None)

    def is_likely(self) -> bool:
        """Whether every number is one that the rule around it calls likely."""
        for one in self.walk():
            for likely in filter(None, map(likely_of, one.tags)):
                values = (part.value for part in one.walk() if part.value is not None)
                if not all(map(likely.holds, values)):
                    return False
        return True

    def slots(self) -> dict[str, str | list[str]]:
        """Words by rule name; a list, in order, where a rule matched more than once."""
        return _gathered((match.rule, match.text) for match in self.walk())

    def values(self) -> dict[str, float | int | list[float | int]]:
        """Values by number rule name; a list, in order, where it matched more than once."""
        return _gathered((m.rule, m.value) for m in self.walk() if m.value is not None)


_Item = TypeVar("_Item")


def _gathered(pairs: Iterator[tuple[str, _Item]]) -> dict[str, _Item | list[_Item]]:
    gathered: dict[str, list[_Item]] = {}
    for name, item in pairs:
        gathered.setdefault(name, []).append(item)
    return {name: items[0] if len(items) == 1 else items for name, items in gathered.items()}


@dataclass(slots=True)
class _OpenMatch:
    rule: str
    number: bool
    words: list[str] = field(default_factory=list)
    inside: list[Match] = field(default_factory=list)
    tags: list[str] = field(default_factory=list)
    number_tags: list[str] = field(default_factory=list)

    def close(self) -> Match:
        words = tuple(self.words)
        if self.number:
            return Match(self.rule, words, value=value_of(self.number_tags))
        return Match(self.rule, words, tuple(self.inside), tuple(self.tags))


def read_trail(trail: list[Label]) -> Match:
    """The nested reading of one path through the automaton."""
    open_rules: list[_OpenMatch] = []
    for label in trail:
        match label:
            case Enter():
                open_rules.append(_OpenMatch(label.rule, label.number))
            case SpokenWord():
                if label.written:
                    open_rules[-1].words.append(label.written)
            case Tag():
                open_rules[-1].tags.append(label.text)
                open_rules[-1].number_tags.append(label.text)
            case Leave():
                done = open_rules.pop()
                if not open_rules:
                    return done.close()
                _hand_up(done, open_rules[-1])
    raise ValueError("a trail ends before its root rule does")


def _hand_up(done: _OpenMatch, outer: _OpenMatch) -> None:
    outer.words.extend(done.words)
    outer.number_tags.extend(done.number_tags)
    outer.inside.append(done.close())
