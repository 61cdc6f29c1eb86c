"""How nearly alike words sound: a distance between sequences of phones.

Phones are written in ARPAbet, without stress; `AX` is the unstressed vowel, `DX` the flap of
American "thirty". The sound of a phone is a point in a space of articulation, and the distance of
two phones the sum of the differences along its axes, so that it is a metric; the weights follow
what is known of hearing in noise: place is lost first, voicing and nasality last (Miller and Nicely
1955, from memory; the figures are a project choice). Words are compared by the cheapest way of
changing, adding and leaving out phones, set against their length as Yujian and Bo 2007 do, which
keeps it a metric (from memory; tested).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

# What adding or leaving out a phone costs, and the most that changing one does.
WHOLE_PHONE = 1.0

_PLACE, _OPENING, _VOICE, _NASAL, _HISS, _LATERAL = 0.25, 0.3, 0.3, 0.5, 0.25, 0.3
_VOWEL_START, _VOWEL_END = 0.15, 0.1

# Consonants: place (lips 0 to throat 2.5), opening (closed 0, narrow 1, open 2), then voice, nasal,
# hissing, lateral.
_CONSONANTS: Mapping[str, tuple[float, ...]] = {
    "P": (0.0, 0.0, 0, 0, 0, 0),
    "B": (0.0, 0.0, 1, 0, 0, 0),
    "T": (1.0, 0.0, 0, 0, 0, 0),
    "D": (1.0, 0.0, 1, 0, 0, 0),
    "DX": (1.0, 0.2, 0.5, 0, 0, 0),
    "K": (1.75, 0.0, 0, 0, 0, 0),
    "G": (1.75, 0.0, 1, 0, 0, 0),
    "CH": (1.5, 0.5, 0, 0, 1, 0),
    "JH": (1.5, 0.5, 1, 0, 1, 0),
    "F": (0.25, 1.0, 0, 0, 0, 0),
    "V": (0.25, 1.0, 1, 0, 0, 0),
    "TH": (0.75, 1.0, 0, 0, 0, 0),
    "DH": (0.75, 1.0, 1, 0, 0, 0),
    "S": (1.0, 1.0, 0, 0, 1, 0),
    "Z": (1.0, 1.0, 1, 0, 1, 0),
    "SH": (1.5, 1.0, 0, 0, 1, 0),
    "ZH": (1.5, 1.0, 1, 0, 1, 0),
    "HH": (2.5, 1.0, 0, 0, 0, 0),
    "M": (0.0, 0.0, 1, 1, 0, 0),
    "N": (1.0, 0.0, 1, 1, 0, 0),
    "NG": (1.75, 0.0, 1, 1, 0, 0),
    "L": (1.0, 2.0, 1, 0, 0, 1),
    "R": (1.25, 2.0, 1, 0, 0, 0),
    "W": (0.25, 2.0, 1, 0, 0, 0),
    "Y": (2.0, 2.0, 1, 0, 0, 0),
}
_CONSONANT_WEIGHTS = (_PLACE, _OPENING, _VOICE, _NASAL, _HISS, _LATERAL)

# Vowels: height (high 0 to low 3) and backness (front 0 to back 2) at their start and at their end.
_VOWELS: Mapping[str, tuple[float, ...]] = {
    "IY": (0.0, 0.0, 0.0, 0.0),
    "IH": (0.6, 0.4, 0.6, 0.4),
    "EH": (1.5, 0.3, 1.5, 0.3),
    "AE": (2.4, 0.4, 2.4, 0.4),
    "AA": (3.0, 1.6, 3.0, 1.6),
    "AO": (2.0, 2.0, 2.0, 2.0),
    "AH": (2.0, 1.3, 2.0, 1.3),
    "AX": (1.3, 1.0, 1.3, 1.0),
    "UH": (0.6, 1.6, 0.6, 1.6),
    "UW": (0.0, 2.0, 0.0, 2.0),
    "EY": (1.2, 0.2, 0.3, 0.2),
    "AY": (3.0, 1.0, 0.4, 0.3),
    "AW": (3.0, 1.0, 0.5, 1.7),
    "OY": (1.8, 2.0, 0.4, 0.3),
    "OW": (1.3, 1.8, 0.4, 1.8),
}
_VOWEL_WEIGHTS = (_VOWEL_START, _VOWEL_START, _VOWEL_END, _VOWEL_END)

PHONES = frozenset((*_CONSONANTS, *_VOWELS))

# A word that no table has is taken letter by letter.
_LETTERS: Mapping[str, str] = {
    **{"a": "AE", "b": "B", "c": "K", "d": "D", "e": "EH", "f": "F", "g": "G", "h": "HH"},
    **{"i": "IH", "j": "JH", "k": "K", "l": "L", "m": "M", "n": "N", "o": "AA", "p": "P"},
    **{"q": "K", "r": "R", "s": "S", "t": "T", "u": "AH", "v": "V", "w": "W", "x": "K S"},
    **{"y": "IY", "z": "Z"},
}

Phones = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PhoneTable:
    """The phones of written words, in lower case."""

    words: Mapping[str, Phones]

    def of_word(self, word: str) -> Phones:
        """Its phones; of a word that the table lacks, its letters taken for phones."""
        found = self.words.get(word.lower())
        return by_letters(word) if found is None else found

    def of_words(self, words: Iterable[str]) -> Phones:
        """The phones of words spoken together."""
        return tuple(phone for word in words for phone in self.of_word(word))


def parse_table(text: str) -> PhoneTable:
    """A table written as lines of a word, a tab and its phones; `#` begins a comment line."""
    lines = (line.split("\t") for line in text.splitlines() if line and not line.startswith("#"))
    return PhoneTable({word: tuple(phones.split()) for word, phones in lines})


def by_letters(word: str) -> Phones:
    """The letters of a word taken for phones; other signs are silent."""
    spelled = (_LETTERS.get(letter, "") for letter in word.lower())
    return tuple(phone for part in spelled for phone in part.split())


@lru_cache(maxsize=4096)
def changing(one: str, other: str) -> float:
    """What it costs to take one phone for another: from 0 (the same) to 1. A metric."""
    if one == other:
        return 0.0
    for table, weights in ((_CONSONANTS, _CONSONANT_WEIGHTS), (_VOWELS, _VOWEL_WEIGHTS)):
        if one in table and other in table:
            ways = zip(table[one], table[other], weights, strict=True)
            return min(WHOLE_PHONE, sum(abs(a - b) * weight for a, b, weight in ways))
    return WHOLE_PHONE


def next_row(row: Sequence[float], phone: str, others: Sequence[str]) -> list[float]:
    """One step of the comparison: `row[n]` is the cost from what came before `phone` to the first n
    of `others`; the result the same with `phone`."""
    after = [row[0] + WHOLE_PHONE]
    for at, other in enumerate(others):
        changed = row[at] + changing(phone, other)
        after.append(min(changed, row[at + 1] + WHOLE_PHONE, after[at] + WHOLE_PHONE))
    return after


def distance(ours: Sequence[str], others: Sequence[str]) -> float:
    """The cheapest way from one sequence of phones to another, in whole phones. A metric."""
    row = [at * WHOLE_PHONE for at in range(len(others) + 1)]
    for phone in ours:
        row = next_row(row, phone, others)
    return row[-1]


def apart(ours: Sequence[str], others: Sequence[str]) -> float:
    """The distance against the length: 0 for the same, 1 for nothing in common. A metric."""
    length = WHOLE_PHONE * (len(ours) + len(others))
    way = distance(ours, others)
    return 2 * way / (length + way) if way else 0.0


def apart_within(ours: Sequence[str], others: Sequence[str], limit: float) -> float | None:
    """The same as `apart` where it is at most `limit` (below 1), else None, which is soon known."""
    length = WHOLE_PHONE * (len(ours) + len(others))
    most = limit * length / (2 - limit) + _ROUNDING
    if WHOLE_PHONE * abs(len(ours) - len(others)) > most:
        return None
    width = int(most / WHOLE_PHONE)  # so many more may be added than left out
    row = {at: at * WHOLE_PHONE for at in range(min(width, len(others)) + 1)}
    for number, phone in enumerate(ours, 1):
        row = _banded_row(row, number, phone, others, width)
        if min(row.values()) > most:
            return None
    way = row[len(others)]
    found = 2 * way / (length + way) if way else 0.0
    return found if found <= limit else None


def _banded_row(
    row: Mapping[int, float], number: int, phone: str, others: Sequence[str], width: int
) -> dict[int, float]:
    """`next_row` by number, for the beginnings of `others` that are about as long."""
    after: dict[int, float] = {}
    left, costs = _FAR, _COSTS[phone]
    for at in range(max(0, number - width), min(len(others), number + width) + 1):
        best = min(row.get(at, _FAR), left) + WHOLE_PHONE
        if at:
            best = min(best, row.get(at - 1, _FAR) + costs[others[at - 1]])
        after[at] = left = best
    return after


_FAR = float("inf")
_ROUNDING = 1e-9
_COSTS = {one: {other: changing(one, other) for other in PHONES} for one in PHONES}
