"""Which words sound like a word, so that one may be taken for the other in noise.

Figures are project choices, measured on synthetic answers and near misses
(tests/benchmarks/studies/understanding.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from itertools import islice

from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from voicelist.phonetics.phones import PHONES, Phones, PhoneTable, apart, distance
from voicelist.understanding.hypothesis import Words, holds

# Words nearer than this cannot be told apart in noise, words farther off are not mixed up; those of
# one or two phones are lost in longer words.
_NEAREST, _FARTHEST = 0.18, 0.7
_NEAREST_TO_EACH_OTHER = 0.12
_AT_MOST = 12
_SHORT_PHONES, _PHONES_MORE = 2, 2
_PHONES_TO_EACH_OTHER = 0.5
_LOOKED_AT = 400

_LETTER = {phone: chr(ord("A") + number) for number, phone in enumerate(sorted(PHONES))}


class SoundAlikes:
    """The words of a table, by what they sound like."""

    def __init__(self, table: PhoneTable) -> None:
        self._phones = {word: table.words[word] for word in table.words if word.isalpha()}
        self._coded = {word: _coded(phones) for word, phones in self._phones.items()}
        self.of: Callable[[str], Words] = cache(self._of)

    def _of(self, word: str) -> Words:
        """Words that may be taken for this one, the likest first; none if the table lacks it."""
        ours = self._phones.get(word)
        if not ours:
            return ()
        varied = self._varied(self._near(ours), apart, _NEAREST_TO_EACH_OTHER)
        likest = tuple(islice(varied, _AT_MOST))
        if len(ours) > _SHORT_PHONES:
            return likest
        longer = self._varied(self._holding(ours), distance, _PHONES_TO_EACH_OTHER)
        return tuple(dict.fromkeys((*likest, *longer)))

    def _near(self, ours: Phones) -> list[str]:
        scorer = Levenshtein.distance
        found = process.extract(_coded(ours), self._coded, scorer=scorer, limit=_LOOKED_AT)
        far = sorted((apart(ours, self._phones[word]), word) for _, _, word in found)
        near = (word for how_far, word in far if _NEAREST <= how_far <= _FARTHEST)
        # Sounds get lost more easily than they are made up.
        return [word for word in near if not holds(ours, self._phones[word])]

    def _holding(self, ours: Phones) -> list[str]:
        inside, most = _coded(ours), len(ours) + _PHONES_MORE
        held = [(len(code), word) for word, code in self._coded.items() if inside in code]
        return [word for length, word in sorted(held) if len(inside) < length <= most]

    def _varied(
        self, words: Iterable[str], between: Callable[[Phones, Phones], float], at_least: float
    ) -> Iterator[str]:
        """Of words that sound like each other only the first."""
        found: list[Phones] = []
        for word in words:
            phones = self._phones[word]
            if all(between(phones, near) >= at_least for near in found):
                found.append(phones)
                yield word

    def in_place_of(self, words: Words, kept: frozenset[str]) -> Iterator[Words]:
        """The sentences in which one of these words is another; those to be `kept` are not
        changed."""
        for at, word in enumerate(words):
            if word not in kept:
                yield from ((*words[:at], other, *words[at + 1 :]) for other in self.of(word))


def _coded(phones: Phones) -> str:
    return "".join(_LETTER[phone] for phone in phones)
