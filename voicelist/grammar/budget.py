"""How much a grammar may ask of the machine: one policy for all that is made of phrases.

A few words with repeats inside one another stand for more sentences than any machine holds. What is
counted are steps of work, never seconds: the same grammar is refused on every machine, or on none.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from voicelist.errors import DocumentError, Problem
from voicelist.grammar.syntax import (
    Choice,
    Node,
    PhrasePlace,
    Reference,
    Repeat,
    Sequence,
    Token,
)

_REMEDY = "expected fewer alternatives, or smaller repeats and rules inside one another"


class TooLarge(DocumentError):
    """Phrases that go beyond the budget; one problem, with its place."""


@dataclass(frozen=True, slots=True)
class GrammarBudget:
    """The most that phrases may come to. Project choice, 27 November 2026: each is about ten times
    what the largest shipped checklist needs or more (`tests/grammar/test_budget.py` measures it),
    and all of them together stay below 1 GB."""

    # Words, marks, rules and tags of one document or phrase.
    lexemes: int = 100_000
    # Brackets, or rules, inside one another: less than Python's stack.
    brackets_deep: int = 50
    parts_deep: int = 150
    # Repeats one behind the other, and how often a repeat repeats.
    repeats_stacked: int = 3
    repeats: int = 32
    # Phrases that may be permitted at one moment.
    roots: int = 4_000
    # States of the automaton and the parts that they are drawn from.
    states: int = 2_000_000
    # Nodes of the word graph, where what is followed by the same is one, and steps from them.
    nodes: int = 40_000
    steps: int = 400_000
    # Steps that are looked at to make the word graph, and to cover its word pairs.
    graph_steps: int = 10_000_000
    cover_steps: int = 10_000_000
    # Words of the recogniser's list, denials and doubts of each answer included.
    listed_words: int = 2_000_000
    # Words of all sentences of one rule of the room.
    room_words: int = 20_000
    # Steps of one strict parse, one repair of an utterance, one comparison of two phrases. Where a
    # repair would take more, the utterance is not understood, and asked again.
    parse_steps: int = 200_000
    repair_steps: int = 200_000
    comparing_steps: int = 1_000_000
    # Steps of all comparisons that `check` makes in one checklist.
    lint_steps: int = 30_000_000


BUDGET = GrammarBudget()


@dataclass(slots=True)
class Meter:
    """Counts towards one figure of the budget. `place` is what is to be made smaller."""

    most: int
    unit: str
    place: PhrasePlace
    spent: int = 0

    def spend(self, count: int = 1) -> None:
        """So much more. Raises TooLarge beyond the budget."""
        self.spent += count
        if self.spent > self.most:
            raise too_large(self.place, f"more than {self.most:,} {self.unit}")


def too_large(place: PhrasePlace, how: str) -> TooLarge:
    """The error at a place."""
    found = f"phrases that are too large together ({how})"
    return TooLarge((Problem(place.file, place.line, place.column, found, _REMEDY),))


def first_place(node: Node) -> PhrasePlace | None:
    """Where the first word or rule of a phrase stands; None where it has none."""
    match node:
        case Token() | Reference():
            return node.place
        case Sequence() | Choice():
            return _first(map(first_place, node.parts))
        case Repeat():
            return first_place(node.part)
        case _:
            return None


def _first(places: Iterable[PhrasePlace | None]) -> PhrasePlace | None:
    return next(filter(None, places), None)
