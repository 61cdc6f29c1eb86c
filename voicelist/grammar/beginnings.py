"""With which words a part of a rule may begin: most parts of a frame are told to be absent from the
next word alone."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass, field

from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Null, Reference, Repeat, Tag, Token, Void
from voicelist.grammar.syntax import Sequence as Row

_Words = frozenset[str] | None
_NO_WORD: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _Sorted:
    """The parts of a choice by the word they begin with, and those that may begin otherwise."""

    by_word: dict[str, tuple[Node, ...]]
    others: tuple[Node, ...]


@dataclass(slots=True)
class Beginnings:
    """Of the parts of rules, found as they are asked for; not of the phrases that names of rules
    are `bound` to, which come and go. A part is known by its identity: the rules outlive this."""

    rules: RuleSet
    bound: Container[str] = ()
    rule_names: frozenset[str] = field(init=False)
    _words: dict[int, _Words] = field(default_factory=dict)
    _choices: dict[int, _Sorted] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rule_names = frozenset(one.name for file in self.rules.files for one in file.rules)

    def may_begin(self, node: Node, scope: str, word: str | None) -> bool:
        """Whether a part may begin with a word (None: with no more words)."""
        words = self._words_of(node, scope)
        return words is None or word in words

    def parts_for(self, node: Choice, scope: str, word: str | None) -> tuple[Node, ...]:
        """The parts of a choice that may begin with a word."""
        found = self._choices.get(id(node))
        if found is None:
            found = self._choices[id(node)] = self._sorted(node, scope)
        return (*found.by_word.get(word or "", ()), *found.others)

    def _sorted(self, node: Choice, scope: str) -> _Sorted:
        by_word: dict[str, tuple[Node, ...]] = {}
        others = []
        for part in node.parts:
            words = self._words_of(part, scope)
            if words is None:
                others.append(part)
            for word in words or ():
                by_word[word] = (*by_word.get(word, ()), part)
        return _Sorted(by_word, tuple(others))

    def _words_of(self, node: Node, scope: str) -> _Words:
        """None where it may be nothing, or where a name in it is bound or unknown."""
        if isinstance(node, Token):
            return frozenset((node.text,))
        if id(node) not in self._words:
            self._words[id(node)] = self._found(node, scope)
        return self._words[id(node)]

    def _found(self, node: Node, scope: str) -> _Words:
        match node:
            case Row(parts):
                return self._first_of(parts, scope)
            case Choice(parts, _):
                return _any_of(self._words_of(part, scope) for part in parts)
            case Repeat(part, least, most):
                return self._words_of(part, scope) if least and most else None
            case Reference(name):
                rule = None if name in self.bound else self.rules.find(name, scope)
                return None if rule is None else self._words_of(rule.body, rule.place.file)
            case Void():
                return _NO_WORD
            case _:
                return None

    def _first_of(self, parts: Iterable[Node], scope: str) -> _Words:
        """Of one after the other: the words of those that may be nothing are not collected."""
        for part in parts:
            if not isinstance(part, Tag | Null):
                return self._words_of(part, scope)
        return None


def _any_of(each: Iterable[_Words]) -> _Words:
    every: set[str] = set()
    for words in each:
        if words is None:
            return None
        every |= words
    return frozenset(every)
