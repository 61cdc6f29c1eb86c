"""What a witness says: another speech model that heard the same sound."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Evidence:
    """How likely sentences are for a sound, and, if that was asked, the words that the witness
    hears of its own accord and how likely they are: logarithms."""

    likely: tuple[float, ...]
    words: tuple[str, ...] = ()
    freely: float = 0.0


# Asks for evidence on written sentences, with what the witness hears freely or not; None where
# it cannot be had.
Ask = Callable[[Sequence[str], bool], Evidence | None]
