"""Frames read along a lattice: at each place several words may have been said, each at a cost. Of
the ways in which all of it is a sentence of a rule the cheapest counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from voicelist.grammar.budget import BUDGET, Meter
from voicelist.grammar.frames import Frames
from voicelist.grammar.syntax import Choice, Node, Null, PhrasePlace, Reference, Repeat, Tag, Token
from voicelist.grammar.syntax import Sequence as Row

_ANYWHERE = PhrasePlace("frames", 1, 1)
Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Way:
    """The words of a sentence, and what reading them cost."""

    cost: float
    words: Words


_Ways = dict[int, Way]


@dataclass(slots=True)
class Lattice:
    """Words between places; the places of the words that were heard are 0 to `end`."""

    end: int
    _steps: dict[int, list[tuple[str, int, float]]] = field(default_factory=dict)
    _places: int = 0

    @classmethod
    def of(cls, words: Sequence[str]) -> Lattice:
        """What was heard, at no cost."""
        lattice = cls(len(words), {}, len(words))
        for at, word in enumerate(words):
            lattice.add(at, at + 1, (word,), 0.0)
        return lattice

    def add(self, start: int, end: int, words: Words, cost: float) -> None:
        """Between two places these words may have been said."""
        for number, word in enumerate(words, 1):
            self._places += number < len(words)
            to = end if number == len(words) else self._places
            self._steps.setdefault(start, []).append((word, to, cost if number == 1 else 0.0))
            start = to

    def steps(self, place: int, word: str) -> list[tuple[int, float]]:
        """Where a word leads from a place, and what it costs."""
        return [(to, cost) for said, to, cost in self._steps.get(place, ()) if said == word]


def cheapest(frames: Frames, rule: str, lattice: Lattice, at_most: float) -> Way | None:
    """The cheapest sentence of a rule along all of a lattice; None where it would cost more than
    `at_most`. Raises TooLarge beyond the budget."""
    reading = _LatticeReading(frames, lattice, at_most)
    return reading.ways(Reference(rule, _ANYWHERE), None, 0).get(lattice.end)


class _LatticeReading:
    """One lattice under the frames."""

    def __init__(self, frames: Frames, lattice: Lattice, at_most: float) -> None:
        self._frames, self._lattice, self._at_most = frames, lattice, at_most
        self._found: dict[tuple[int, str | None, int], _Ways] = {}
        self._meter = Meter(BUDGET.parse_steps, "steps to read one sentence", _ANYWHERE)

    def ways(self, node: Node, scope: str | None, start: int) -> _Ways:
        if isinstance(node, Token):
            steps = self._lattice.steps(start, node.text)
            return _cheaper(*({to: Way(cost, (node.text,))} for to, cost in steps))
        if isinstance(node, Null | Tag):
            return {start: Way(0.0, ())}
        key = id(node), scope, start
        if key not in self._found:
            self._meter.spend()
            self._found[key] = self._looked_at(node, scope, start)
        return self._found[key]

    def _looked_at(self, node: Node, scope: str | None, start: int) -> _Ways:
        match node:
            case Row(parts):
                return self._row(parts, scope, {start: Way(0.0, ())})
            case Choice(parts, _):
                return _cheaper(*(self.ways(part, scope, start) for part in parts))
            case Repeat(part, least, most):
                return self._repeated(part, (least, most), scope, start)
            case Reference(name):
                if name in self._frames.bound:
                    return self.ways(self._frames.bound[name], None, start)
                rule = self._frames.rules.find(name, scope)
                return {} if rule is None else self.ways(rule.body, rule.place.file, start)
            case _:
                return {}

    def _row(self, parts: Sequence[Node], scope: str | None, reached: _Ways) -> _Ways:
        for part in parts:
            reached = _cheaper(
                *(self._behind(way, self.ways(part, scope, at)) for at, way in reached.items())
            )
            if not reached:
                break
        return reached

    def _behind(self, way: Way, more: _Ways) -> _Ways:
        joined = {at: Way(way.cost + one.cost, way.words + one.words) for at, one in more.items()}
        return {at: one for at, one in joined.items() if one.cost <= self._at_most}

    def _repeated(self, part: Node, times: tuple[int, int], scope: str | None, start: int) -> _Ways:
        least, most = times
        reached: _Ways = {start: Way(0.0, ())}
        found = reached if not least else {}
        for time in range(1, most + 1):
            reached = self._row((part,), scope, reached)
            if not reached:
                break
            if time >= least:
                found = _cheaper(found, reached)
        return found


def _cheaper(*several: _Ways) -> _Ways:
    """To each place the cheapest way."""
    found: _Ways = {}
    for ways in several:
        for to, way in ways.items():
            if to not in found or way.cost < found[to].cost:
                found[to] = way
    return found
