"""Slips that a partner makes on purpose: what is nearly an answer and must pass nothing.

Of each kind the tests of a whole team know that it passes nothing; here people see how it is met.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

# The words of a slip, from those of the right answer; "" where it cannot be made of them.
Mangled = Callable[[Sequence[str]], str]
_SHORTEST = 2
TALK = "talk"


def _later(words: Sequence[str]) -> str:
    return " ".join((*words, "later"))


def _asked(words: Sequence[str]) -> str:
    return "" if words[0] == "no" else " ".join(("is", "the", *words))


def _doubted(words: Sequence[str]) -> str:
    return " ".join((*words, "i", "think"))


def _denied(words: Sequence[str]) -> str:
    return " ".join((*words[:-1], "not", words[-1]))


def _cut_off(words: Sequence[str]) -> str:
    return " ".join(words[:-1])


def _talk(words: Sequence[str]) -> str:
    del words
    return "can somebody turn the music down"


# By kind, in the words that a page tells it by.
SLIPS: Mapping[str, Mangled] = MappingProxyType(
    {
        "put off": _later,
        "a question": _asked,
        "a doubt": _doubted,
        "a denial": _denied,
        "cut off": _cut_off,
        TALK: _talk,
    }
)


def planned_slips(items: Sequence[str], count: int, seed: int) -> dict[str, str]:
    """Which item gets which slip: at most `count`, spread by the seed, no kind twice before each
    was had once."""
    chance = random.Random(seed)
    chosen = sorted(chance.sample(range(len(items)), min(count, len(items))))
    kinds = list(SLIPS)
    chance.shuffle(kinds)
    return {items[at]: kinds[number % len(kinds)] for number, at in enumerate(chosen)}


def kinds_from(kind: str) -> tuple[str, ...]:
    """All kinds, this one first."""
    kinds = list(SLIPS)
    at = kinds.index(kind)
    return (*kinds[at:], *kinds[:at])


def slip_line(kind: str, right: str) -> str:
    """The slip in place of the right answer; "" where that is too short to be mangled."""
    words = right.split()
    return SLIPS[kind](words) if len(words) >= _SHORTEST or kind == TALK else ""
