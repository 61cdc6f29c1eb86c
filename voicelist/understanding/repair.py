"""A sentence that lacks or blurs only words that carry no meaning, brought to a permitted one.

"A bit a milk" is "a bit of milk": the recogniser loses small words in noise, and people leave them
out. In a long sentence it also loses the rest of an expression that the words before leave no
choice about ("almond" is "almond milk" where nothing else may follow "almond"). Nothing that
carries a meaning is touched, a number least of all; nothing that was heard is left out; and no
small word is put at an edge, where it makes a question ("is that ...").
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from voicelist.grammar.budget import BUDGET
from voicelist.grammar.wordgraph import START, WordGraph, Words
from voicelist.understanding.room_words import Room

AT_MOST = 2


@dataclass(frozen=True, slots=True, order=True)
class Repair:
    """A permitted sentence, how many words of it were put in or exchanged, and those among them
    that are no small words."""

    changes: int
    sentence: tuple[str, ...] = ()
    completing: tuple[str, ...] = ()

    def with_step(self, word: str, cost: int, completing: bool) -> Repair:
        """One word longer."""
        more = (word,) if completing else ()
        return Repair(self.changes + cost, (*self.sentence, word), (*self.completing, *more))


@dataclass(frozen=True, slots=True)
class _RepairStep:
    """One step onwards: its changes, the next position and node, the word of the sentence."""

    cost: int
    at: int
    node: int
    word: str
    completing: bool = False


def repaired(words: Words, graph: WordGraph, room: Room, long_words: int) -> Repair | None:
    """The sentence with the fewest changes; one of `long_words` or more may also be completed. None
    where it would take more than `AT_MOST`, or
    more steps than the budget has: then it stays a doubt."""
    talk = room.small_talk()
    queue = [(Repair(0), 0, START)]
    steps = 0
    seen: set[tuple[int, int]] = set()
    while queue:
        repair, at, node = heapq.heappop(queue)
        if at == len(words) and graph.ends[node]:
            return repair
        steps += 1 + len(graph.steps[node])
        if steps > BUDGET.repair_steps:
            return None
        if (at, node) in seen:
            continue
        seen.add((at, node))
        small = _small(words, at, node, graph, room.function_words, talk)
        more = _without_choice(words, at, repair, graph) if len(words) >= long_words else ()
        for way in itertools.chain(small, more):
            onward = repair.with_step(way.word, way.cost, way.completing)
            if onward.changes <= AT_MOST:
                heapq.heappush(queue, (onward, way.at, way.node))
    return None


def _small(
    words: Words,
    at: int,
    node: int,
    graph: WordGraph,
    small: frozenset[str],
    talk: frozenset[str],
) -> Iterator[_RepairStep]:
    """The word that was heard, or a small one put in or in the place of small talk."""
    inside = 0 < at < len(words)
    blurred = inside and at < len(words) - 1 and words[at] in talk
    for step in graph.steps[node]:
        if at < len(words) and step.word == words[at]:
            yield _RepairStep(0, at + 1, step.target, step.word)
        elif inside and step.word in small:
            yield _RepairStep(1, at, step.target, step.word)
            if blurred:
                yield _RepairStep(1, at + 1, step.target, step.word)


def _without_choice(
    words: Words, at: int, repair: Repair, graph: WordGraph
) -> Iterator[_RepairStep]:
    """The only word that may follow a word that was heard. Not in a short sentence: there it may be
    what is answered ("line" without "firm")."""
    said = repair.sentence
    if not at or said[-1] != words[at - 1]:
        return
    nodes = graph.after(said)
    steps = {step for node in nodes for step in graph.steps[node]}
    if len({step.word for step in steps}) == 1 and not any(graph.ends[node] for node in nodes):
        yield from (_RepairStep(1, at, step.target, step.word, True) for step in steps)
