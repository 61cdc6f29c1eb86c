"""The recogniser's phrase list.

The recogniser makes a word-pair model of its phrases, so the list needs every pair of the grammar
(beginning and end included), not every sentence. Sentences are drawn through the least used steps,
so that no alternative is favoured by the covering.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from voicelist.grammar.budget import BUDGET, GrammarBudget, Meter
from voicelist.grammar.syntax import PhrasePlace
from voicelist.grammar.wordgraph import START, Step, WordGraph


@dataclass(frozen=True, slots=True)
class _Arc:
    source: int
    word: str
    target: int


def covering_phrases(
    graph: WordGraph,
    known: frozenset[str] | None,
    place: PhrasePlace,
    budget: GrammarBudget = BUDGET,
) -> tuple[str, ...]:
    """Sentences that together hold every permitted word pair; `known` limits them to the speech
    model's words. Raises TooLarge, at `place`, beyond the budget."""
    work = Meter(budget.cover_steps, "steps to cover their word pairs", place)
    listed = Meter(budget.listed_words, "words to list for the recogniser", place)
    found: dict[str, None] = {}
    for words in _Cover(graph, known, work).sentences():
        listed.spend(len(words))
        found[" ".join(words)] = None
    return tuple(found)


class _Cover:
    def __init__(self, graph: WordGraph, known: frozenset[str] | None, work: Meter) -> None:
        self._work = work
        self._ends = graph.ends
        self._arcs: dict[int, list[_Arc]] = {}
        self._before: dict[int, list[_Arc]] = {}
        self._used: Counter[_Arc] = Counter()
        self._stops: Counter[int] = Counter()
        self._keep_what_is_heard(graph, known)

    def _keep_what_is_heard(self, graph: WordGraph, known: frozenset[str] | None) -> None:
        """Steps reached from the start by known words from which a sentence can be finished."""

        def heard(step: Step) -> bool:
            return not step.typed_only and (known is None or step.word in known)

        finishing: set[int] = set()
        for node in range(len(graph.steps) - 1, -1, -1):
            steps = [one for one in graph.steps[node] if heard(one) and one.target in finishing]
            self._arcs[node] = [_Arc(node, one.word, one.target) for one in steps]
            if steps or graph.ends[node]:
                finishing.add(node)
        waiting, reached = [START], {START}
        for node in waiting:
            for arc in self._arcs[node]:
                self._before.setdefault(arc.target, []).append(arc)
                if arc.target not in reached:
                    reached.add(arc.target)
                    waiting.append(arc.target)

    def sentences(self) -> Iterator[list[str]]:
        covered: set[tuple[str, str]] = set()
        for before, after in self._pairs():
            pair = (before.word if before else "", after.word if after else "")
            if pair in covered:
                continue
            words = self._sentence(before, after)
            self._work.spend(2 * len(words))
            yield words
            covered.update(zip(["", *words], [*words, ""], strict=True))

    def _pairs(self) -> Iterator[tuple[_Arc | None, _Arc | None]]:
        """Arcs that may follow one another; None stands for the sentence's beginning or end."""
        for arc in self._arcs[START]:
            yield None, arc
        for node in sorted(self._before):
            for before in self._before[node]:
                self._work.spend(1 + len(self._arcs[node]))
                for after in self._arcs[node]:
                    yield before, after
                if self._ends[node]:
                    yield before, None

    def _sentence(self, before: _Arc | None, after: _Arc | None) -> list[str]:
        words: list[str] = []
        if before is not None:
            words = [*self._to(before.source), before.word]
            self._used[before] += 1
        if after is not None:
            self._used[after] += 1
            words = [*words, after.word, *self._from(after.target)]
        return words

    def _to(self, node: int) -> list[str]:
        words = []
        while node != START:
            self._work.spend(len(self._before[node]))
            arc = min(self._before[node], key=self._used.__getitem__)
            self._used[arc] += 1
            words.append(arc.word)
            node = arc.source
        return words[::-1]

    def _from(self, node: int) -> list[str]:
        words: list[str] = []
        while True:
            arcs = self._arcs[node]
            self._work.spend(1 + len(arcs))
            least = min(arcs, key=self._used.__getitem__) if arcs else None
            if least is None or (self._ends[node] and self._stops[node] <= self._used[least]):
                self._stops[node] += 1
                return words
            self._used[least] += 1
            words.append(least.word)
            node = least.target
