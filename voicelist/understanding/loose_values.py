"""A value that stands amid other words: "I am reading plus nineteen on the label of the lens box".

It is the one value in them, of at least two words, and nothing around it asks, orders, doubts,
denies, puts off, tells of trouble or names another source. It is read back and passes nothing by
itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from voicelist.grammar.grammar import NO_WORDS, Grammar
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Token
from voicelist.grammar.syntax import Sequence as Row
from voicelist.understanding.plain_speech import AROUND_AT_MOST, KEEPS_FROM, NaturalAnswers, Words
from voicelist.understanding.written_out import said_once

_LEAST_WORDS = 2
_OTHERWISE = (*KEEPS_FROM, "trouble", "other_source")
_NUMBER_RULES = ("integer", "decimal")


@dataclass(slots=True)
class LooseValues:
    """Values amid other words, under a rule set."""

    answers: NaturalAnswers
    rules: RuleSet
    _numbers: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self._numbers = number_words(self.rules)

    def matches(self, said: Sequence[str], grammar: Grammar, source: Sequence[str]) -> list[Match]:
        """The values that may be meant; one that is a part of a longer one is not. `source` are the
        words for what the value is read from."""
        words = said_once(self.answers.without_hesitations(said), self._numbers)
        if NO_WORDS & set(words) or self.answers.asks_or_orders(words):
            return []
        found = {
            (start, end): grammar.parses(words[start:end])
            for start in range(len(words))
            for end in range(start + _LEAST_WORDS, len(words) + 1)
        }
        spans = [span for span, matches in found.items() if matches]
        whole = [one for one in spans if not any(_inside(one, other) for other in spans)]
        if not whole or any(self._goes_on(words, span) for span in whole):
            return []
        around = [not any(start <= at < end for start, end in whole) for at in range(len(words))]
        if sum(around) > AROUND_AT_MOST or self._is_otherwise(words, around, source):
            return []
        return [match for span in whole for match in found[span]]

    def _goes_on(self, words: Words, span: tuple[int, int]) -> bool:
        """Whether a word of a number stands beside it: then it is not the whole value."""
        start, end = span
        beside = (*words[max(0, start - 1) : start], *words[end : end + 1])
        return any(word in self._numbers for word in beside)

    def _is_otherwise(self, words: Words, around: list[bool], source: Sequence[str]) -> bool:
        own = frozenset(source)
        around = [out and word not in own for out, word in zip(around, words, strict=True)]
        around = self.answers.around.but_denied_faults(words, around)
        if own & set(words):
            around = self.answers.around.but_where_it_was_read(words, around, source)
        return any(self.answers.around.stands(rule, words, around) for rule in _OTHERWISE)


def number_words(rules: RuleSet) -> frozenset[str]:
    """The words that numbers are said with."""
    bodies = (rules.find(name, None) for name in _NUMBER_RULES)
    return frozenset(
        word
        for rule in bodies
        if rule is not None
        for word in _tokens(rule.body, rules, rule.place.file)
    )


def _inside(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one != other and other[0] <= one[0] and one[1] <= other[1]


def _tokens(node: Node, rules: RuleSet, scope: str | None) -> Iterator[str]:
    match node:
        case Token(text):
            yield text
        case Row(parts) | Choice(parts, _):
            for part in parts:
                yield from _tokens(part, rules, scope)
        case Repeat(part, _, _):
            yield from _tokens(part, rules, scope)
        case Reference(name):
            rule = rules.find(name, scope)
            if rule is not None:
                yield from _tokens(rule.body, rules, rule.place.file)
