"""Phrases to an automaton whose states are numbered so that every arc leads upwards.

There is no unbounded repeat and no recursion in the subset, so the automaton has no loops; the
numbering lets every question about it be answered in one pass from the last state to the first.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as Seq
from dataclasses import dataclass, field

from voicelist.errors import DocumentError, Problem
from voicelist.phrases.likely import likely_of
from voicelist.phrases.ruleset import RuleSet, is_number_rule
from voicelist.phrases.syntax import (
    Choice,
    Node,
    Null,
    Place,
    Reference,
    Repeat,
    Rule,
    Sequence,
    Tag,
    Token,
    Void,
)


@dataclass(frozen=True, slots=True)
class Spoken:
    """An arc that takes one heard word. `written` is what the parse shows for it ("" for all but
    the last word of a respelling); `typed_only` words are unknown to the speech model."""

    heard: str
    written: str
    typed_only: bool = False


@dataclass(frozen=True, slots=True)
class Enter:
    """A rule begins."""

    rule: str
    number: bool


@dataclass(frozen=True, slots=True)
class Leave:
    """A rule ends."""

    rule: str


Label = Spoken | Enter | Leave | Tag | None

# Fences against rules that multiply (each rule twice the next) or nest without end: the shipped
# checklist has some twenty thousand parts, nested less than twenty deep.
_MOST_PARTS = 300_000
_DEEPEST = 150


@dataclass(slots=True)
class Draft:
    """The automaton while it is built: `arcs[state]` is a list of (label, higher state)."""

    arcs: list[list[tuple[Label, int]]] = field(default_factory=lambda: [[]])

    def state(self) -> int:
        self.arcs.append([])
        return len(self.arcs) - 1

    def join(self, sources: Seq[int], label: Label = None) -> int:
        """A new state, reached from all `sources`."""
        target = self.state()
        for source in sources:
            self.arcs[source].append((label, target))
        return target


class Compiler:
    """Builds a draft from phrases; `respellings` maps a written word to the ways it is heard."""

    def __init__(self, rules: RuleSet, respellings: Mapping[str, Seq[Seq[str]]]) -> None:
        self._rules = rules
        self._respellings = respellings
        self.draft = Draft()
        self._problems: dict[Problem, None] = {}
        self._endless: set[Place] = set()
        self._here = Place("the phrases", 1, 1)
        self._parts = 0
        self._depth = 0

    def compile(self, roots: Mapping[str, Node], scopes: Mapping[str, str | None]) -> int:
        """Draws every root as a rule from state 0; returns the final state. Raises DocumentError
        with all unknown and recursive rules."""
        ends = []
        for name, node in roots.items():
            inside = self.draft.join([0], Enter(name, False))
            end = self._draw(node, inside, scopes.get(name), ())
            ends.append(self.draft.join([end], Leave(name)))
        if self._problems:
            raise DocumentError(tuple(self._problems))
        return self.draft.join(ends)

    def _draw(self, node: Node, start: int, scope: str | None, path: tuple[Rule, ...]) -> int:
        self._parts += 1
        self._depth += 1
        if self._parts > _MOST_PARTS or self._depth > _DEEPEST:
            expected = "expected fewer or smaller repeats and rules inside one another"
            problem = _problem(self._here, "phrases that are too large together", expected)
            raise DocumentError((*self._problems, problem))
        end = self._drawn(node, start, scope, path)
        self._depth -= 1
        return end

    def _drawn(self, node: Node, start: int, scope: str | None, path: tuple[Rule, ...]) -> int:
        match node:
            case Token():
                self._here = node.place
                return self._word(node.text, start)
            case Sequence():
                for part in node.parts:
                    start = self._draw(part, start, scope, path)
                return start
            case Choice():
                return self.draft.join([self._draw(p, start, scope, path) for p in node.parts])
            case Repeat():
                exits = [start] if node.least == 0 else []
                for count in range(1, node.most + 1):
                    start = self._draw(node.part, start, scope, path)
                    if count >= node.least:
                        exits.append(start)
                return self.draft.join(exits) if exits else start
            case Reference():
                return self._refer(node, start, scope, path)
            case Tag():
                return self._tag(node, start)
            case Null():
                return start
            case Void():
                return self.draft.state()

    def _tag(self, tag: Tag, start: int) -> int:
        try:
            likely_of(tag.text)
        except ValueError as wrong:
            return self._nowhere(self._here, f"the tag {{{tag.text}}}", str(wrong))
        return self.draft.join([start], tag)

    def _word(self, text: str, start: int) -> int:
        respelled = self._respellings.get(text)
        if not respelled:
            return self.draft.join([start], Spoken(text, text))
        ends = [self.draft.join([start], Spoken(text, text, typed_only=True))]
        for heard in respelled:
            state = start
            for word in heard[:-1]:
                state = self.draft.join([state], Spoken(word, ""))
            ends.append(self.draft.join([state], Spoken(heard[-1], text)))
        return self.draft.join(ends)

    def _refer(self, node: Reference, start: int, scope: str | None, path: tuple[Rule, ...]) -> int:
        self._here = node.place
        rule = self._rules.find(node.name, scope)
        if rule is None:
            return self._nowhere(node.place, f"${node.name}", self._known_rules())
        if rule.place in self._endless:
            return self.draft.state()
        if any(rule is outer for outer in path):
            self._endless.add(rule.place)
            loop = " -> ".join(f"${one.name}" for one in (*path, rule))
            found = f"a rule inside itself ({loop})"
            return self._nowhere(node.place, found, "expected no recursion")
        inside = self.draft.join([start], Enter(node.name, is_number_rule(rule)))
        end = self._draw(rule.body, inside, rule.place.file, (*path, rule))
        return self.draft.join([end], Leave(node.name))

    def _nowhere(self, place: Place, found: str, expected: str) -> int:
        """A state that nothing leads to, for what is a problem: the rest is looked at all the
        same."""
        self._problems[_problem(place, found, expected)] = None
        return self.draft.state()

    def _known_rules(self) -> str:
        names = ", ".join(f"${name}" for name in self._rules.public_names())
        return f"expected a known rule, one of {names}" if names else "expected a known rule"


def _problem(place: Place, found: str, expected: str) -> Problem:
    return Problem(place.file, place.line, place.column, found, expected)
