"""Where a number or a formula comes from, so that no screen shows a guess as published."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Standing = Literal[
    "published", "derived", "common practice, no source", "from memory", "project choice"
]


@dataclass(frozen=True, slots=True)
class Source:
    """`standing` is how far the value may be trusted; `text` names where it was read, or how it
    was derived. Only "published" was read in a publication."""

    standing: Standing
    text: str

    def __str__(self) -> str:
        return f"{self.standing}: {self.text}"


def in_a_word(source: str) -> str:
    """How far a source, as written, may be trusted: its standing, and whether a part of the rule
    (most often its limit) is our own choice all the same."""
    standing, _, text = source.partition(":")
    return f"{standing}, in part ours" if "ours" in text.split() else standing


def require(name: str, value: float, low: float = 0.0, *, above: bool = False) -> float:
    """`value` if it is finite and at least `low` (above it with `above`). Raises ValueError."""
    fits = value > low if above else value >= low
    if not fits or math.isinf(value):
        wanted = f"above {low:g}" if above else f"of at least {low:g}"
        raise ValueError(f"{name} is {value:g}: a finite number {wanted} is needed")
    return value
