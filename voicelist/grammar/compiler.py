"""Phrases to an automaton whose states are numbered so that every arc leads upwards.

There is no unbounded repeat and no recursion in the subset, so the automaton has no loops; the
numbering lets every question about it be answered in one pass from the last state to the first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from collections.abc import Sequence as Seq
from dataclasses import dataclass, field

from rapidfuzz import process

from voicelist.errors import DocumentError, Problem
from voicelist.grammar.budget import BUDGET, GrammarBudget, Meter, first_place, too_large
from voicelist.grammar.expected_range import likely_of
from voicelist.grammar.ruleset import RuleSet, is_number_rule
from voicelist.grammar.syntax import (
    Choice,
    Node,
    Null,
    PhrasePlace,
    Reference,
    Repeat,
    Rule,
    Sequence,
    Tag,
    Token,
    Void,
)


@dataclass(frozen=True, slots=True)
class SpokenWord:
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


Label = SpokenWord | Enter | Leave | Tag | None

_NAMED_AT_MOST, _SEARCHED_AT_MOST = 4, 50


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

    def behind(self, name: str) -> set[int]:
        """The states that the beginning of a root leads to."""
        found: set[int] = set()
        waiting = [target for _, target in self._begun(name)]
        while waiting:
            state = waiting.pop()
            if state not in found:
                found.add(state)
                waiting += (target for _, target in self.arcs[state])
        return found

    def only(self, name: str, final: int) -> tuple[Draft, int]:
        """The states of one root in their order, with the final one among them."""
        kept = sorted({0, final} | self.behind(name))
        new = {old: number for number, old in enumerate(kept)}
        own = (self.arcs[old] if old else self._begun(name) for old in kept)
        return Draft([[(label, new[at]) for label, at in arcs] for arcs in own]), new[final]

    def _begun(self, name: str) -> list[tuple[Label, int]]:
        return [(label, at) for label, at in self.arcs[0] if label == Enter(name, False)]


@dataclass(frozen=True, slots=True)
class Drawn:
    """An automaton, what it took, and where the phrase that took most of it stands."""

    draft: Draft
    final: int
    place: PhrasePlace
    spent: int


def drawn(
    roots: Mapping[str, Node],
    rules: RuleSet,
    respellings: Mapping[str, Seq[Seq[str]]],
    scopes: Mapping[str, str | None],
    budget: GrammarBudget = BUDGET,
) -> Drawn:
    """The automaton of phrases. Raises DocumentError and TooLarge as `Compiler.compile`."""
    compiler = Compiler(rules, respellings, budget)
    final = compiler.compile(roots, scopes)
    return Drawn(compiler.draft, final, compiler.heaviest, compiler.spent)


class Compiler:
    """Builds a draft from phrases; `respellings` maps a written word to the ways it is heard.

    Once it has compiled, `heaviest` is where the phrase with the most states stands, and `spent`
    what all of them took.
    """

    def __init__(
        self,
        rules: RuleSet,
        respellings: Mapping[str, Seq[Seq[str]]],
        budget: GrammarBudget = BUDGET,
    ) -> None:
        self._rules = rules
        self._budget = budget
        self.heaviest = PhrasePlace("the phrases", 1, 1)
        self._respellings = respellings
        self.draft = Draft()
        self._problems: dict[Problem, None] = {}
        self._endless: set[PhrasePlace] = set()
        self._meter = Meter(budget.states, "states and parts", PhrasePlace("the phrases", 1, 1))
        self._labels: dict[Label, Label] = {}
        self._depth = 0

    @property
    def spent(self) -> int:
        """States and parts so far."""
        return self._meter.spent

    def compile(self, roots: Mapping[str, Node], scopes: Mapping[str, str | None]) -> int:
        """Draws every root as a rule from state 0; returns the final state. Raises DocumentError
        with all unknown and recursive rules, TooLarge beyond the budget."""
        ends: list[int] = []
        most = 0
        begun: dict[Reference, list[int]] = {}
        tails = shared_tails(roots, scopes)
        for number, (name, node) in enumerate(roots.items(), start=1):
            before, scope = self.spent, scopes.get(name)
            if number > self._budget.roots:
                where = self._where(node, scope)
                raise too_large(where, f"more than {self._budget.roots:,} of them")
            inside = self.draft.join([0], Enter(name, False))
            tail = tails.get(name)
            if tail is not None:
                begun.setdefault(tail, []).append(self._draw(head_of(node), inside, scope, ()))
                continue
            end = self._draw(node, inside, scope, ())
            ends.append(self.draft.join([end], Leave(name)))
            if self.spent - before > most:
                most, self.heaviest = self.spent - before, self._where(node, scope)
        for tail, heads in begun.items():
            before = self.spent
            end = self._draw(tail, self._join(heads), None, ())
            ends.append(self.draft.join([end], Leave("")))
            if self.spent - before > most:
                most, self.heaviest = self.spent - before, self._where(tail, None)
        if self._problems:
            raise DocumentError(tuple(self._problems))
        return self.draft.join(ends)

    def _where(self, node: Node, scope: str | None) -> PhrasePlace:
        return where_stands(node, self._rules, scope) or self._meter.place

    def _draw(self, node: Node, start: int, scope: str | None, path: tuple[Rule, ...]) -> int:
        self._meter.spend()
        self._depth += 1
        if self._depth > self._budget.parts_deep:
            how = f"more than {self._budget.parts_deep} inside one another"
            raise too_large(self._meter.place, how)
        end = self._drawn(node, start, scope, path)
        self._depth -= 1
        return end

    def _join(self, sources: Seq[int], label: Label = None) -> int:
        """A new state of the draft; equal labels are one object, for they are many."""
        self._meter.spend(len(sources))
        return self.draft.join(sources, self._labels.setdefault(label, label))

    def _drawn(self, node: Node, start: int, scope: str | None, path: tuple[Rule, ...]) -> int:
        match node:
            case Token():
                self._meter.place = node.place
                return self._word(node.text, start)
            case Sequence():
                for part in node.parts:
                    start = self._draw(part, start, scope, path)
                return start
            case Choice():
                return self._join([self._draw(p, start, scope, path) for p in node.parts])
            case Repeat():
                exits = [start] if node.least == 0 else []
                for count in range(1, node.most + 1):
                    start = self._draw(node.part, start, scope, path)
                    if count >= node.least:
                        exits.append(start)
                return self._join(exits) if exits else start
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
            return self._nowhere(self._meter.place, f"the tag {{{tag.text}}}", str(wrong))
        return self._join([start], tag)

    def _word(self, text: str, start: int) -> int:
        respelled = self._respellings.get(text)
        if not respelled:
            return self._join([start], SpokenWord(text, text))
        ends = [self._join([start], SpokenWord(text, text, typed_only=True))]
        for heard in respelled:
            state = start
            for word in heard[:-1]:
                state = self._join([state], SpokenWord(word, ""))
            ends.append(self._join([state], SpokenWord(heard[-1], text)))
        return self._join(ends)

    def _refer(self, node: Reference, start: int, scope: str | None, path: tuple[Rule, ...]) -> int:
        self._meter.place = node.place
        rule = self._rules.find(node.name, scope)
        if rule is None:
            return self._nowhere(node.place, f"${node.name}", self._near_rules(node.name))
        if rule.place in self._endless:
            return self.draft.state()
        if any(rule is outer for outer in path):
            self._endless.add(rule.place)
            loop = " -> ".join(f"${one.name}" for one in (*path, rule))
            found = f"a rule inside itself ({loop})"
            return self._nowhere(node.place, found, "expected no recursion")
        inside = self._join([start], Enter(node.name, is_number_rule(rule)))
        end = self._draw(rule.body, inside, rule.place.file, (*path, rule))
        return self._join([end], Leave(node.name))

    def _nowhere(self, place: PhrasePlace, found: str, expected: str) -> int:
        """A state that nothing leads to, for what is a problem: the rest is looked at all the
        same."""
        self._problems[_problem(place, found, expected)] = None
        return self.draft.state()

    def _near_rules(self, name: str) -> str:
        """Those whose names are near: of hundreds nobody reads a list. Each search takes time."""
        searched = len(self._problems) < _SEARCHED_AT_MOST
        every = self._rules.public_names() if searched else ()
        near = [one for one, _, _ in process.extract(name, every, limit=_NAMED_AT_MOST)]
        names = ", ".join(f"${one}" for one in near)
        return f"expected a known rule{', such as ' if names else ''}{names}"


def _tail(node: Node) -> Reference | None:
    """The rule with which a phrase ends, where it ends with one."""
    last = node.parts[-1] if isinstance(node, Sequence) and node.parts else node
    return last if isinstance(last, Reference) else None


def where_stands(node: Node, rules: RuleSet, scope: str | None) -> PhrasePlace | None:
    """Where a phrase stands; of one that is a rule's name alone, where that rule does."""
    rule = rules.find(node.name, scope) if isinstance(node, Reference) else None
    return rule.place if rule is not None else first_place(node)


def head_of(node: Node) -> Sequence:
    """What stands before that rule."""
    return Sequence(node.parts[:-1]) if isinstance(node, Sequence) else Sequence(())


def shared_tails(
    roots: Mapping[str, Node], scopes: Mapping[str, str | None]
) -> dict[str, Reference]:
    """By root, the rule with which it ends as others do: it is drawn once for all of them."""
    first: dict[str, Reference] = {}
    found = {name: _tail(node) for name, node in roots.items() if scopes.get(name) is None}
    names = Counter(tail.name for tail in found.values() if tail is not None)
    shared: dict[str, Reference] = {}
    for name, tail in found.items():
        if tail is not None and names[tail.name] > 1:
            shared[name] = first.setdefault(tail.name, tail)
    return shared


def _problem(place: PhrasePlace, found: str, expected: str) -> Problem:
    return Problem(place.file, place.line, place.column, found, expected)
