"""Frames of the language, read strictly: whether a whole utterance is a sentence of a rule in which
some names (`$thing`, `$state`) stand for phrases of the item that is asked.

Frames are wide, and bound anew for each item, so nothing is compiled: the rules themselves are read
along the words. There is no recursion in the subset, so each part is looked at once at each word.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from voicelist.grammar.beginnings import Beginnings
from voicelist.grammar.budget import BUDGET, Meter
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import (
    Choice,
    Node,
    Null,
    PhrasePlace,
    Reference,
    Repeat,
    Tag,
    Token,
)
from voicelist.grammar.syntax import (
    Sequence as Row,
)

_ANYWHERE = PhrasePlace("frames", 1, 1)
_Ends = frozenset[int]
_NOWHERE: _Ends = frozenset()


class Frames:
    """The rules, with what some of their names stand for. What is read more than once of the same
    words is read once."""

    def __init__(
        self,
        rules: RuleSet,
        bound: Mapping[str, Node] | None = None,
        beginnings: Beginnings | None = None,
    ) -> None:
        self.rules = rules
        self.bound = bound or {}
        self.beginnings = beginnings or Beginnings(rules, self.bound)
        self._reading = _FrameReading(self, ())

    def with_bound(self, bound: Mapping[str, Node]) -> Frames:
        """The same rules, where names stand for something else."""
        names = bound.keys() | self.bound.keys()
        shared = None if names & self.beginnings.rule_names else self.beginnings
        return Frames(self.rules, bound, shared)

    def holds(self, rule: str, words: Sequence[str]) -> bool:
        """Whether the words, all of them, are a sentence of a rule."""
        return len(words) in self.ends(rule, words, 0)

    def ends(self, rule: str, words: Sequence[str], start: int) -> _Ends:
        """Where sentences of a rule that begin at a word may end."""
        if self._reading.words != tuple(words):
            self._reading = _FrameReading(self, tuple(words))
        return self._reading.ends_of(rule, start)


class _FrameReading:
    """One utterance under the frames. Raises TooLarge beyond the budget."""

    def __init__(self, frames: Frames, words: tuple[str, ...]) -> None:
        self.words = words
        self._frames = frames
        self._found: dict[tuple[int, str | None, int], _Ends] = {}
        self._rules: dict[tuple[str, int], _Ends] = {}
        self._meter = Meter(0, "", _ANYWHERE)

    def ends_of(self, rule: str, start: int) -> _Ends:
        if (rule, start) not in self._rules:
            self._meter = Meter(BUDGET.parse_steps, "steps to read one sentence", _ANYWHERE)
            self._rules[rule, start] = self._of_name(rule, None, start)
        return self._rules[rule, start]

    def ends(self, node: Node, scope: str | None, start: int) -> _Ends:
        if isinstance(node, Token):
            said = start < len(self.words) and self.words[start] == node.text
            return frozenset((start + 1,)) if said else _NOWHERE
        if isinstance(node, Null | Tag):
            return frozenset((start,))
        key = id(node), scope, start
        if key not in self._found:
            self._meter.spend()
            self._found[key] = self._looked_at(node, scope, start)
        return self._found[key]

    def _looked_at(self, node: Node, scope: str | None, start: int) -> _Ends:
        word = self.words[start] if start < len(self.words) else None
        if scope is not None and not self._frames.beginnings.may_begin(node, scope, word):
            return _NOWHERE
        match node:
            case Row(parts):
                return self._one_after_the_other(parts, scope, start)
            case Choice(parts, _):
                if scope is not None:
                    parts = self._frames.beginnings.parts_for(node, scope, word)
                return frozenset().union(*(self.ends(part, scope, start) for part in parts))
            case Repeat(part, least, most):
                return self._repeated(part, (least, most), scope, start)
            case Reference(name):
                return self._of_name(name, scope, start)
            case _:
                return _NOWHERE

    def _of_name(self, name: str, scope: str | None, start: int) -> _Ends:
        if name in self._frames.bound:
            return self.ends(self._frames.bound[name], None, start)
        rule = self._frames.rules.find(name, scope)
        return _NOWHERE if rule is None else self.ends(rule.body, rule.place.file, start)

    def _one_after_the_other(self, parts: Sequence[Node], scope: str | None, start: int) -> _Ends:
        reached: _Ends = frozenset((start,))
        for part in parts:
            reached = frozenset().union(*(self.ends(part, scope, at) for at in reached))
            if not reached:
                break
        return reached

    def _repeated(self, part: Node, times: tuple[int, int], scope: str | None, start: int) -> _Ends:
        least, most = times
        reached: _Ends = frozenset((start,))
        found = reached if not least else _NOWHERE
        for time in range(1, most + 1):
            reached = frozenset().union(*(self.ends(part, scope, at) for at in reached))
            if not reached:
                break
            if time >= least:
                found |= reached
        return found
