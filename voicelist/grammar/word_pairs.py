"""Which words may follow which in a phrase, without drawing its automaton; and sentences, not all
of them permitted, that hold every such pair.

The recogniser makes a word-pair model of what it listens for, so that is all it needs to know of
phrases which are read strictly afterwards. Frames around an item's own words are too wide to be
compiled for each item; their word pairs are found in a few milliseconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass

from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Null, Reference, Repeat, Sequence, Tag, Token

# Before the first word, and behind the last.
EDGE = ""
Pair = tuple[str, str]
_Words = frozenset[str]
_NONE: _Words = frozenset()


@dataclass(frozen=True, slots=True)
class Stretch:
    """Of a phrase or a part of one: whether it may be silent, the words that it may begin and end
    with, and the pairs inside it. Where nothing can be said (`void`) there is none of it."""

    silent: bool
    first: _Words = _NONE
    last: _Words = _NONE
    pairs: frozenset[Pair] = frozenset()

    @property
    def void(self) -> bool:
        return not self.silent and not self.first

    def then(self, other: Stretch) -> Stretch:
        """This and then the other."""
        if self.void or other.void:
            return _VOID
        joined = {(one, word) for one in self.last for word in other.first}
        return Stretch(
            self.silent and other.silent,
            self.first | other.first if self.silent else self.first,
            self.last | other.last if other.silent else other.last,
            self.pairs | other.pairs | joined,
        )

    def more_than_once(self) -> Stretch:
        """This again and again."""
        again = {(one, word) for one in self.last for word in self.first}
        return Stretch(self.silent, self.first, self.last, self.pairs | again)


_VOID = Stretch(silent=False)
_SILENT = Stretch(silent=True)


class WordPairs:
    """The pairs of phrases under rules in which some names stand for other phrases."""

    def __init__(self, rules: RuleSet, bound: Mapping[str, Node]) -> None:
        self._rules, self._bound = rules, bound
        self._found: dict[tuple[int, str | None], Stretch] = {}

    def of(self, node: Node) -> frozenset[Pair]:
        """The pairs of a phrase, its edges included."""
        part = self._part(node, None)
        begins, ends = {(EDGE, one) for one in part.first}, {(one, EDGE) for one in part.last}
        return part.pairs | begins | ends

    def _part(self, node: Node, scope: str | None) -> Stretch:
        key = id(node), scope
        if key not in self._found:
            self._found[key] = self._looked_at(node, scope)
        return self._found[key]

    def _looked_at(self, node: Node, scope: str | None) -> Stretch:
        match node:
            case Token(text):
                word = frozenset((text,))
                return Stretch(False, word, word)
            case Null() | Tag():
                return _SILENT
            case Sequence(parts):
                found = _SILENT
                for part in parts:
                    found = found.then(self._part(part, scope))
                return found
            case Choice(parts, _):
                return _either([self._part(part, scope) for part in parts])
            case Repeat(part, least, most):
                once = self._part(part, scope)
                many = once.more_than_once() if most > 1 else once
                return _either([many, _SILENT]) if least == 0 else many
            case Reference(name):
                return self._of_reference(name, scope)
            case _:
                return _VOID

    def _of_reference(self, name: str, scope: str | None) -> Stretch:
        if name in self._bound:
            return self._part(self._bound[name], None)
        rule = self._rules.find(name, scope)
        return _VOID if rule is None else self._part(rule.body, rule.place.file)


def _either(parts: Iterable[Stretch]) -> Stretch:
    said = [one for one in parts if not one.void]
    return Stretch(
        any(one.silent for one in said),
        _NONE.union(*(one.first for one in said)),
        _NONE.union(*(one.last for one in said)),
        frozenset[Pair]().union(*(one.pairs for one in said)),
    )


def sentences_of(pairs: Set[Pair]) -> tuple[str, ...]:
    """Sentences in which all pairs stand that lead from the beginning to the end.
    Each pair is led to and away from by as few words as can be, by turns, so that no word is
    favoured by the leading."""
    kept = sorted(pairs)
    before, behind = _Leading(kept, backwards=True), _Leading(kept, backwards=False)
    found: dict[str, None] = {}
    covered: set[Pair] = set()
    for one, other in kept:
        if (one, other) in covered or not (before.reaches(one) and behind.reaches(other)):
            continue
        words = [word for word in (*before.way(one)[::-1], *behind.way(other)) if word]
        found[" ".join(words)] = None
        covered.update(zip((EDGE, *words), (*words, EDGE), strict=True))
    return tuple(found)


class _Leading:
    """Shortest ways along pairs to an edge."""

    def __init__(self, pairs: Iterable[Pair], *, backwards: bool) -> None:
        into: dict[str, list[str]] = {}
        for one, other in pairs:
            here, there = (other, one) if backwards else (one, other)
            into.setdefault(there, []).append(here)
        self._nearer: dict[str, list[str]] = {EDGE: []}
        self._used: Counter[Pair] = Counter()
        reached = [EDGE]
        while reached:
            further: dict[str, list[str]] = {}
            for word in reached:
                for other in into.get(word, ()):
                    if other not in self._nearer:
                        further.setdefault(other, []).append(word)
            self._nearer.update(further)
            reached = list(further)

    def reaches(self, word: str) -> bool:
        return word in self._nearer

    def way(self, word: str) -> list[str]:
        """From a word to the edge."""
        return list(self._words(word))

    def _words(self, word: str) -> Iterator[str]:
        while word:
            yield word
            here = word
            word = min(self._nearer[here], key=lambda one: self._used[here, one])
            self._used[here, word] += 1
