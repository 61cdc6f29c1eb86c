"""A sentence that lacks or blurs only words that carry no meaning, brought to a permitted one.

"A bit a milk" is "a bit of milk": the recogniser loses small words in noise, and people leave them
out. Nothing that carries a meaning is touched, nothing that was heard is left out, and nothing at
the edges is changed, where a small word makes a question ("is that ...").
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterator

from voicelist.phrases.room import Room
from voicelist.phrases.wordgraph import START, WordGraph, Words

AT_MOST = 2


def repaired(words: Words, graph: WordGraph, room: Room) -> tuple[tuple[str, ...], int] | None:
    """A permitted sentence with the fewest small words put in or in the place of small talk, and
    how many; None where it would take more than `AT_MOST`."""
    small, blurred = room.function_words, room.small_talk()
    count = itertools.count()
    queue: list[tuple[int, int, int, int, tuple[str, ...]]] = [(0, 0, 0, START, ())]
    seen: set[tuple[int, int]] = set()
    while queue:
        changes, _, at, node, sentence = heapq.heappop(queue)
        if at == len(words) and graph.ends[node]:
            return sentence, changes
        if (at, node) in seen:
            continue
        seen.add((at, node))
        for cost, onward, target, word in _ways(words, at, node, graph, small, blurred):
            if changes + cost <= AT_MOST:
                step = (changes + cost, next(count), onward, target, (*sentence, word))
                heapq.heappush(queue, step)
    return None


def _ways(
    words: Words,
    at: int,
    node: int,
    graph: WordGraph,
    small: frozenset[str],
    blurred: frozenset[str],
) -> Iterator[tuple[int, int, int, str]]:
    """Each step onwards: its changes, the next position and node, the word of the sentence."""
    inside = 0 < at < len(words)
    for step in graph.steps[node]:
        if at < len(words) and step.word == words[at]:
            yield 0, at + 1, step.target, step.word
        elif inside and step.word in small:
            yield 1, at, step.target, step.word
            if words[at] in blurred and at < len(words) - 1:
                yield 1, at + 1, step.target, step.word
