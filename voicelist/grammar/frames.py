"""Frames of the language, read strictly: whether a whole utterance is a sentence of a rule in which
some names (`$thing`, `$state`) stand for phrases of the item that is asked.

Frames are wide, and bound anew for each item, so nothing is compiled: the rules themselves are read
along the words. There is no recursion in the subset, so each part is looked at once at each word.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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


@dataclass(slots=True)
class Frames:
    """The rules, with what some of their names stand for."""

    rules: RuleSet
    bound: Mapping[str, Node] = field(default_factory=dict)

    def holds(self, rule: str, words: Sequence[str]) -> bool:
        """Whether the words, all of them, are a sentence of a rule."""
        return len(words) in self.ends(rule, words, 0)

    def ends(self, rule: str, words: Sequence[str], start: int) -> _Ends:
        """Where sentences of a rule that begin at a word may end."""
        return _FrameReading(self, tuple(words)).ends(Reference(rule, _ANYWHERE), None, start)


class _FrameReading:
    """One utterance under the frames. Raises TooLarge beyond the budget."""

    def __init__(self, frames: Frames, words: tuple[str, ...]) -> None:
        self._frames = frames
        self._words = words
        self._found: dict[tuple[int, str | None, int], _Ends] = {}
        self._meter = Meter(BUDGET.parse_steps, "steps to read one sentence", _ANYWHERE)

    def ends(self, node: Node, scope: str | None, start: int) -> _Ends:
        if isinstance(node, Token):
            said = start < len(self._words) and self._words[start] == node.text
            return frozenset((start + 1,)) if said else _NOWHERE
        if isinstance(node, Null | Tag):
            return frozenset((start,))
        key = id(node), scope, start
        if key not in self._found:
            self._meter.spend()
            self._found[key] = self._looked_at(node, scope, start)
        return self._found[key]

    def _looked_at(self, node: Node, scope: str | None, start: int) -> _Ends:
        match node:
            case Row(parts):
                return self._one_after_the_other(parts, scope, start)
            case Choice(parts, _):
                return frozenset().union(*(self.ends(part, scope, start) for part in parts))
            case Repeat(part, least, most):
                return self._repeated(part, (least, most), scope, start)
            case Reference(name):
                if name in self._frames.bound:
                    return self.ends(self._frames.bound[name], None, start)
                rule = self._frames.rules.find(name, scope)
                return _NOWHERE if rule is None else self.ends(rule.body, rule.place.file, start)
            case _:
                return _NOWHERE

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
