"""Words of the room that change or question a meaning, and those that carry none."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from voicelist.grammar.ruleset import RuleSet

_WORD_RULES = ("negations", "questions", "doubts", "function_words", "talk")


@dataclass(frozen=True, slots=True)
class Room:
    """From the public rules of the same names. What is said `before`, `inside` or `behind` an
    answer makes it no answer ("if ...", "... will be ...", "... in a minute"). With `asking` words
    something is asked for ("give me ...", "can i have ..."). A `denial` turns the words around it,
    a denying ending its own word; `links` stand between sentences said in one breath."""

    negations: frozenset[str]
    questions: frozenset[str]
    doubts: frozenset[str]
    function_words: frozenset[str]
    fillers: tuple[str, ...]
    before: tuple[str, ...] = ()
    inside: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()
    asking: frozenset[str] = frozenset()
    denials: tuple[str, ...] = ()
    denying_endings: tuple[str, ...] = ()
    links: tuple[str, ...] = ()

    @classmethod
    def from_rules(cls, rules: RuleSet) -> Room:
        """Rules that are absent are empty."""
        words = {name: rules.words(name) for name in _WORD_RULES}
        return cls(
            frozenset(words["negations"]),
            frozenset(words["questions"]),
            frozenset(words["doubts"]),
            frozenset(words["function_words"]),
            tuple(dict.fromkeys(word for name in _WORD_RULES for word in words[name])),
            rules.wordings("said_before"),
            rules.wordings("said_inside"),
            rules.wordings("said_behind"),
            frozenset(rules.words("asking")),
            rules.words("denials"),
            rules.words("denying_endings"),
            rules.words("links"),
        )

    def words(self) -> frozenset[str]:
        """All of them."""
        turns = (*self.before, *self.inside, *self.behind)
        return frozenset(self.fillers).union(*(turn.split() for turn in turns))

    def turning(self) -> frozenset[str]:
        """The words that deny, doubt or ask, and those of what makes an answer none from before or
        behind it, those without meaning aside."""
        around = {word for turn in (*self.before, *self.behind) for word in turn.split()}
        return self.negations | self.questions | self.doubts | (around - self.function_words)

    def small_talk(self) -> frozenset[str]:
        """The words that neither deny, doubt nor ask."""
        return frozenset(self.fillers) - self.negations - self.questions - self.doubts

    def asked_for(self, words: Iterable[str]) -> list[str]:
        """The words that carry a meaning without those with which something is asked for."""
        return [word for word in self.meaning(words) if word not in self.asking]

    def turns(self, words: Sequence[str], beside: Sequence[str]) -> tuple[str, ...]:
        """The denials and doubts among `words`, and a question that opens them, that `beside` has
        not. A word with which something is asked for ("can") makes no question of a sentence that
        is whole without it."""
        asks = words[:1] != beside[:1] and not (
            self.asking.issuperset(words[:1]) and tuple(words[1:]) == tuple(beside)
        )
        opening = words[:1] if asks else ()
        return (
            *(word for word in opening if word in self.questions),
            *(word for word in words if word in self.negations | self.doubts if word not in beside),
        )

    def affirmed(self, word: str) -> tuple[str, ...]:
        """What stands there instead of a denial: its word without the ending that denies it, or
        nothing."""
        ends = (one for one in self.denying_endings if word.endswith(one))
        return tuple(word.removesuffix(one) for one in ends)[:1]

    def meaning(self, words: Iterable[str]) -> list[str]:
        """The words without those that carry no meaning."""
        return [word for word in words if word not in self.function_words]
