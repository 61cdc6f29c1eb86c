"""The words of a grammar without its rules: which sentences are permitted, and how they go on.

States of the automaton that are followed by the same sentences are one node here, so that a grammar
of twenty thousand states becomes some hundred nodes: small enough to hand to another process.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from voicelist.grammar.budget import BUDGET, GrammarBudget, Meter
from voicelist.grammar.compiler import Draft, SpokenWord
from voicelist.grammar.syntax import PhrasePlace

Words = Sequence[str]
START = 0


@dataclass(frozen=True, slots=True)
class Step:
    """One word onwards; `typed_only` words are unknown to the speech model."""

    word: str
    target: int
    typed_only: bool


@dataclass(frozen=True, slots=True)
class WordGraph:
    """Node 0 is the start. `ends[node]`: may a sentence end here; `steps[node]`: how it goes on."""

    ends: tuple[bool, ...]
    steps: tuple[tuple[Step, ...], ...]
    _targets: dict[int, dict[str, list[int]]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def _by_word(self, node: int) -> Mapping[str, Sequence[int]]:
        """Where each word leads from a node; made once: the start may have thousands of steps."""
        if node not in self._targets:
            targets: dict[str, list[int]] = {}
            for step in self.steps[node]:
                targets.setdefault(step.word, []).append(step.target)
            self._targets[node] = targets
        return self._targets[node]

    def after(self, words: Words) -> set[int]:
        """The nodes reached by the words."""
        nodes = {START}
        for word in words:
            nodes = self._one_on(nodes, word)
        return nodes

    def _one_on(self, nodes: set[int], word: str) -> set[int]:
        return {target for node in nodes for target in self._by_word(node).get(word, ())}

    def accepts(self, words: Words) -> bool:
        """Whether the words, whole, are a permitted sentence."""
        return any(self.ends[node] for node in self.after(words))

    def can_grow(self, words: Words) -> bool:
        """Whether the words are the beginning of a longer permitted sentence."""
        return any(self.steps[node] for node in self.after(words))

    def is_prefix(self, words: Words) -> bool:
        """Whether some permitted sentence begins with the words (or is them)."""
        return bool(self.after(words))

    def samples(self, seed: int, count: int) -> list[tuple[str, ...]]:
        """Random permitted sentences as they are heard, for tests and benchmarks; none where
        nothing is permitted."""
        if not (self.ends[START] or self.steps[START]):
            return []
        chance = random.Random(seed)
        return [self._walk(chance) for _ in range(count)]

    def _walk(self, chance: random.Random) -> tuple[str, ...]:
        node = START
        words: list[str] = []
        while True:
            options = [step for step in self.steps[node] if not step.typed_only]
            if self.ends[node] and (not options or chance.random() < 0.5):
                return tuple(words)
            step = chance.choice(options)
            words.append(step.word)
            node = step.target

    def shared_sentence(
        self, other: WordGraph, meter: Meter | None = None
    ) -> tuple[str, ...] | None:
        """A shortest sentence that both permit, or None. Raises TooLarge beyond the `meter`."""

        def is_shared(ours: int, theirs: int) -> bool:
            return self.ends[ours] and other.ends[theirs]

        place = PhrasePlace("the phrases", 1, 1)
        own = Meter(BUDGET.comparing_steps, "steps to compare two phrases", place)
        return joint_sentence(self, other, is_shared, meter or own)

    def shortest_from_each_word(self, known: frozenset[str] | None) -> Iterator[str]:
        """For each word with which a sentence may begin, a shortest sentence of `known` words."""

        def heard(node: int) -> list[Step]:
            steps = (one for one in self.steps[node] if not one.typed_only)
            return [one for one in steps if known is None or one.word in known]

        for first in heard(START):
            came_from: dict[int, tuple[int, str]] = {}
            for node in (queue := [first.target]):
                if self.ends[node]:
                    yield " ".join((first.word, *way_to(node, came_from)))
                    break
                for step in heard(node):
                    if step.target not in came_from:
                        came_from[step.target] = (node, step.word)
                        queue.append(step.target)

    def accepted_run(self, words: Words) -> tuple[str, ...] | None:
        """A run of words inside `words` that is a permitted sentence, or None."""
        for start in range(len(words)):
            nodes = {START}
            for end in range(start, len(words)):
                nodes = self._one_on(nodes, words[end])
                if not nodes:
                    break
                if any(self.ends[node] for node in nodes):
                    return tuple(words[start : end + 1])
        return None

    def may_hold(self, places: Iterable[Iterable[Words]]) -> bool:
        """Whether a text may hold a permitted sentence, whichever words of several stand at each
        of its places."""
        nodes: set[int] = set()
        for ways in places:
            reached: set[int] = set()
            for words in ways:
                onwards = nodes
                for word in words:
                    onwards = self._one_on(onwards | {START}, word)
                    if any(self.ends[node] for node in onwards):
                        return True
                reached |= onwards
            nodes = reached
        return False


Pair = tuple[int, int]


def joint_sentence(
    ours: WordGraph, theirs: WordGraph, wanted: Callable[[int, int], bool], meter: Meter
) -> tuple[str, ...] | None:
    """A shortest beginning of sentences of both that leads to a wanted pair of nodes, or None."""
    came_from: dict[Pair, tuple[Pair, str]] = {}
    queue: list[Pair] = [(START, START)]
    for pair in queue:
        if wanted(*pair):
            return way_to(pair, came_from)
        for word, reached in _joint_steps(ours.steps[pair[0]], theirs.steps[pair[1]], meter):
            if reached not in came_from and reached != (START, START):
                came_from[reached] = (pair, word)
                queue.append(reached)
    return None


def _joint_steps(
    ours: Sequence[Step], theirs: Sequence[Step], meter: Meter
) -> Iterator[tuple[str, Pair]]:
    meter.spend(len(ours) + len(theirs))
    by_word: dict[str, list[int]] = {}
    for other in theirs:
        by_word.setdefault(other.word, []).append(other.target)
    for one in ours:
        for target in by_word.get(one.word, ()):
            meter.spend()
            yield one.word, (one.target, target)


Node_ = TypeVar("Node_")


def way_to(place: Node_, came_from: Mapping[Node_, tuple[Node_, str]]) -> tuple[str, ...]:
    """The words that lead to a place, by what was before each."""
    words = []
    while place in came_from:
        place, word = came_from[place]
        words.append(word)
    return tuple(reversed(words))


def word_graph(
    draft: Draft, final: int, place: PhrasePlace, budget: GrammarBudget = BUDGET
) -> tuple[WordGraph, list[int]]:
    """The graph of an automaton, and each automaton state's node (-1 if it leads nowhere). Raises
    TooLarge, at `place`, beyond the budget.

    Arcs lead upwards, so one pass from the last state down sees every follower first. States that
    nothing leads to (behind `$VOID`) are left out.
    """
    nodes = Meter(budget.nodes, "nodes of the word graph", place)
    kept = Meter(budget.steps, "steps in the word graph", place)
    work = Meter(budget.graph_steps, "steps to make the word graph", place)
    count = len(draft.arcs)
    node_of = [-1] * count
    known: dict[tuple[bool, frozenset[Step]], int] = {}
    same: dict[tuple[bool, frozenset[Step]], tuple[bool, frozenset[Step]]] = {}
    followers: list[tuple[bool, frozenset[Step]]] = [(False, frozenset())] * count
    for state in sorted(_reached(draft), reverse=True):
        signature = _signature(draft, final, state, node_of, followers)
        work.spend(len(draft.arcs[state]) + len(signature[1]))
        # Thousands of states have the same: kept once, they take little room.
        followers[state] = same.setdefault(signature, signature)
        if signature[0] or signature[1]:
            if signature not in known:
                nodes.spend()
                kept.spend(len(signature[1]))
            node_of[state] = known.setdefault(signature, len(known))
    return _numbered_from_start(list(known), node_of)


def _reached(draft: Draft) -> set[int]:
    reached = {0}
    for state, arcs in enumerate(draft.arcs):
        if state in reached:
            reached.update(target for _, target in arcs)
    return reached


def _signature(
    draft: Draft,
    final: int,
    state: int,
    node_of: Sequence[int],
    followers: Sequence[tuple[bool, frozenset[Step]]],
) -> tuple[bool, frozenset[Step]]:
    ends = state == final
    steps: set[Step] = set()
    for label, target in draft.arcs[state]:
        if isinstance(label, SpokenWord):
            if node_of[target] >= 0:
                steps.add(Step(label.heard, node_of[target], label.typed_only))
        else:
            ends = ends or followers[target][0]
            steps |= followers[target][1]
    return ends, frozenset(steps)


def _numbered_from_start(
    nodes: list[tuple[bool, frozenset[Step]]], node_of: list[int]
) -> tuple[WordGraph, list[int]]:
    """The same with the start as node 0, followers above what they follow and in a fixed order.

    The start need not be the last node found: in `a` beside `a | b` it is that of `a | b`. No step
    leads to it, for the sentences from the start on are longer than those from behind a step.
    """
    if node_of[0] < 0:
        return WordGraph((False,), ((),)), node_of
    order = [node_of[0], *(old for old in reversed(range(len(nodes))) if old != node_of[0])]
    turned = {old: new for new, old in enumerate(order)}
    ends = tuple(nodes[old][0] for old in order)
    steps = tuple(
        tuple(
            sorted(
                (Step(step.word, turned[step.target], step.typed_only) for step in nodes[old][1]),
                key=lambda step: (step.word, step.target, step.typed_only),
            )
        )
        for old in order
    )
    return WordGraph(ends, steps), [turned.get(node, -1) for node in node_of]
