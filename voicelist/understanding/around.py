"""What stands around the clauses of an answer: what keeps an utterance from being one, and what
does not count for that, such as a denied fault."""

from __future__ import annotations

from collections.abc import Sequence

from voicelist.grammar.frames import Frames
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, PhrasePlace, Token

Words = tuple[str, ...]
_AT = PhrasePlace("frames", 1, 1)


class Surroundings:
    """The rules of a rule set for words around clauses. Where words are still to be looked at is
    told by a list of their places."""

    def __init__(self, plain: Frames, rules: RuleSet) -> None:
        self.plain = plain
        self._subjects = frozenset(rules.words("subjects"))
        self._articles = frozenset(rules.words("articles"))

    def but_denied_faults(self, words: Words, around: list[bool]) -> list[bool]:
        """Where words stand around clauses, without those that deny a fault ("no leaks")."""
        return self.but(words, around, "no_fault")

    def but(self, words: Words, around: list[bool], rule: str) -> list[bool]:
        """The same without the sentences of a rule."""
        return without(self.plain, rule, words, around)

    def but_where_it_was_read(
        self, words: Words, around: list[bool], source: Sequence[str]
    ) -> list[bool]:
        """The same without what tells that a value is read there ("the label says")."""
        return without(self.reading_from(source), "reads_it", words, around)

    def reading_from(self, source: Sequence[str]) -> Frames:
        words = tuple(Token(word, _AT) for word in source)
        return self.plain.with_bound({"source": Choice(words, (1.0,) * len(words))})

    def holds_any(self, rule: str, words: Words) -> bool:
        """Whether a sentence of a rule stands anywhere in the words."""
        return self.stands(rule, words, [True] * len(words))

    def stands(self, rule: str, words: Words, around: Sequence[bool]) -> bool:
        """Whether a sentence of a rule stands among the words around the clauses, or reaches into
        one from there."""
        for start in range(len(words)):
            ends = self.plain.ends(rule, words, start) - {start}
            if around[start] and ends and not self._is_in_order(rule, words[:start]):
                return True
        return False

    def _is_in_order(self, rule: str, before: Words) -> bool:
        """Whether a verb stands behind who or what does it ("i have the", "the box has the"), not
        before ("have the")."""
        if rule != "inverted" or not before:
            return False
        behind_article = len(before) > 1 and before[-2] in self._articles
        return before[-1] in self._subjects or behind_article


def without(frames: Frames, rule: str, words: Words, around: list[bool]) -> list[bool]:
    """The places without those of the sentences of a rule."""
    for start in range(len(words)):
        for end in frames.ends(rule, words, start):
            around[start:end] = [False] * (end - start)
    return around
