"""A grammar as a deterministic finite-state machine over words, which pocketsphinx reads."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.grammar.wordgraph import START, WordGraph


@dataclass(frozen=True, slots=True)
class WordMachine:
    """`steps` are (from, to, word); state 0 is the start, a sentence may end in `ends`."""

    states: int
    ends: frozenset[int]
    steps: tuple[tuple[int, int, str], ...]


def machine_of(graph: WordGraph) -> WordMachine:
    """The machine of what may be spoken under a grammar: nodes that the same words lead to are one
    state (subset construction)."""
    start = frozenset({START})
    number = {start: 0}
    waiting = [start]
    steps: list[tuple[int, int, str]] = []
    for nodes in waiting:
        reached: dict[str, set[int]] = {}
        for step in (one for node in nodes for one in graph.steps[node] if not one.typed_only):
            reached.setdefault(step.word, set()).add(step.target)
        for word, targets in sorted(reached.items()):
            there = frozenset(targets)
            if there not in number:
                number[there] = len(number)
                waiting.append(there)
            steps.append((number[nodes], number[there], word))
    ends = frozenset(
        state for nodes, state in number.items() if any(graph.ends[one] for one in nodes)
    )
    return WordMachine(len(number), ends, tuple(steps))
