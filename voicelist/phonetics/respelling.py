"""Known words that together sound like one that the speech model does not know ("fay co")."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from voicelist.phonetics.phones import WHOLE_PHONE, Phones, apart, next_row

WORDS_AT_MOST = 3
# A proposal further from the word than this helps nobody; project choice.
APART_AT_MOST = 0.25
# Each word costs so much of a phone, for every seam may be heard as a pause.
_A_WORD = 0.3
# A part that is further from its piece of the word is not followed.
_PART_AT_MOST = 1.3
# So many ways to spell each beginning of the word are kept.
_WAYS_KEPT = 6


@dataclass(slots=True)
class _Node:
    """Words that begin with the same phones."""

    words: list[str] = field(default_factory=list)
    after: dict[str, _Node] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, order=True)
class _Way:
    """Words for a beginning of the target, and how far they are from it."""

    cost: float
    words: tuple[str, ...] = ()


def respellings(target: Phones, words: Mapping[str, Phones], at_most: int) -> tuple[str, ...]:
    """Up to `at_most` runs of `words` (with their phones) that sound like `target`, nearest first;
    none where nothing is near enough."""
    tree = _tree(words)
    ways: list[list[_Way]] = [[] for _ in range(len(target) + 1)]
    ways[0] = [_Way(0.0)]
    for start in range(len(target)):
        begun = [way for way in sorted(ways[start])[:_WAYS_KEPT] if len(way.words) < WORDS_AT_MOST]
        for word, length, cost in _parts(tree, target[start:]) if begun else ():
            ends = ways[start + length]
            ends.extend(_Way(way.cost + cost + _A_WORD, (*way.words, word)) for way in begun)
    found = (way.words for way in sorted(ways[-1]) if way.words)
    near = (way for way in found if apart(_joined(way, words), target) <= APART_AT_MOST)
    return tuple(" ".join(way) for way, _ in zip(_unlike(near), range(at_most), strict=False))


def _tree(words: Mapping[str, Phones]) -> _Node:
    root = _Node()
    for word, phones in words.items():
        node = root
        for phone in phones:
            node = node.after.setdefault(phone, _Node())
        node.words.append(word)
    return root


def _parts(tree: _Node, target: Phones) -> Iterator[tuple[str, int, float]]:
    """Words for each beginning of the target that has one near enough, with its length and cost."""
    stack = [(tree, [at * WHOLE_PHONE for at in range(len(target) + 1)])]
    while stack:
        node, row = stack.pop()
        for word in node.words:
            for length in range(1, len(row)):
                if row[length] <= _PART_AT_MOST:
                    yield word, length, row[length]
        for phone, below in node.after.items():
            after = next_row(row, phone, target)
            if min(after) <= _PART_AT_MOST:
                stack.append((below, after))


def _joined(way: Iterable[str], words: Mapping[str, Phones]) -> Phones:
    return tuple(phone for word in way for phone in words[word])


def _unlike(ways: Iterable[tuple[str, ...]]) -> Iterator[tuple[str, ...]]:
    """Each way but those that begin with the same word as one before."""
    begun: set[str] = set()
    for way in ways:
        if way[0] not in begun:
            begun.add(way[0])
            yield way
