"""The recogniser's phrase list.

The recogniser makes a word-pair model of its phrases, so the list needs every pair of the grammar
(beginning and end included), not every sentence. Sentences are drawn through the least used arcs,
so that no alternative is favoured by the covering.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from voicelist.phrases.compiler import Spoken

_Arc = tuple[int, str, int]


def covering_phrases(
    ends: Sequence[bool],
    following: Sequence[Mapping[tuple[str, int], Spoken]],
    known: frozenset[str] | None,
) -> tuple[str, ...]:
    """Sentences that together hold every permitted word pair."""
    cover = _Cover(ends, following, known)
    return tuple(dict.fromkeys(" ".join(words) for words in cover.sentences()))


class _Cover:
    def __init__(
        self,
        ends: Sequence[bool],
        following: Sequence[Mapping[tuple[str, int], Spoken]],
        known: frozenset[str] | None,
    ) -> None:
        self._ends = ends
        self._arcs: dict[int, list[_Arc]] = {}
        self._before: dict[int, list[_Arc]] = {}
        self._used: Counter[_Arc] = Counter()
        self._stops: Counter[int] = Counter()
        self._spread(following, known)

    def _spread(
        self, following: Sequence[Mapping[tuple[str, int], Spoken]], known: frozenset[str] | None
    ) -> None:
        """Collects the arcs between states that a word reaches, those that can finish."""
        reached, waiting = {0}, [0]
        order = []
        while waiting:
            state = waiting.pop()
            order.append(state)
            for (word, target), label in following[state].items():
                if label.typed_only or (known is not None and word not in known):
                    continue
                self._arcs.setdefault(state, []).append((state, word, target))
                if target not in reached:
                    reached.add(target)
                    waiting.append(target)
        finishing: set[int] = set()
        for state in sorted(order, reverse=True):
            kept = [arc for arc in self._arcs.get(state, []) if arc[2] in finishing]
            self._arcs[state] = kept
            if kept or self._ends[state]:
                finishing.add(state)
            for arc in kept:
                self._before.setdefault(arc[2], []).append(arc)

    def sentences(self) -> Iterator[list[str]]:
        covered: set[tuple[str, str]] = set()
        for state in sorted(self._arcs):
            into = self._before.get(state, [])
            if state and not into:
                continue
            word = into[0][1] if into else ""
            wanted: list[_Arc | None] = list(self._arcs[state])
            if state and self._ends[state]:
                wanted.append(None)
            for arc in wanted:
                if (word, arc[1] if arc else "") in covered:
                    continue
                words = self._sentence(state, arc)
                yield words
                covered.update(zip(["", *words], [*words, ""], strict=True))

    def _sentence(self, state: int, arc: _Arc | None) -> list[str]:
        words = self._to(state)
        if arc is not None:
            words.append(arc[1])
            self._used[arc] += 1
            words.extend(self._from(arc[2]))
        return words

    def _to(self, state: int) -> list[str]:
        words = []
        while state:
            arc = min(self._before[state], key=self._used.__getitem__)
            self._used[arc] += 1
            words.append(arc[1])
            state = arc[0]
        return words[::-1]

    def _from(self, state: int) -> list[str]:
        words: list[str] = []
        while True:
            arcs = self._arcs.get(state, [])
            least = min(arcs, key=self._used.__getitem__) if arcs else None
            if self._ends[state] and (least is None or self._stops[state] <= self._used[least]):
                self._stops[state] += 1
                return words
            assert least is not None, "every kept state can finish"
            self._used[least] += 1
            words.append(least[1])
            state = least[2]
