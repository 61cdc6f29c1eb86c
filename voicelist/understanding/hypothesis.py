"""What the recogniser makes of the sound of one utterance: the n-best hypotheses of two passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One hypothesis. `spans_s` are the seconds at which each word begins and ends, in the sound of
    its channel (none if typed). `score` is the recogniser's, higher is better, and compares
    hypotheses of one pass over one utterance only.

    `before_s` and `behind_s` are seconds of speech before the first and behind the last word; so
    many of the first and of the last words are as faint as the `background`, which is babble where
    it was said `amid_babble`. `low_snr` where the words hardly stand out from what is around them.
    """

    words: Words
    spans_s: tuple[tuple[float, float], ...] = ()
    score: float = 0.0
    before_s: float = 0.0
    behind_s: float = 0.0
    background: tuple[int, int] = (0, 0)
    amid_babble: bool = False
    low_snr: bool = False

    @property
    def text(self) -> str:
        return " ".join(self.words)


NBest = tuple[Hypothesis, ...]


@dataclass(frozen=True, slots=True)
class Passes:
    """The n-best hypotheses of the first and of the second pass over one sound, best first (none of
    the second if there was none); `in_noise` where speech stands out so little that words may be
    mistaken for others."""

    first: NBest
    second: NBest = ()
    in_noise: bool = False


def holds(words: Sequence[str], fewer: Sequence[str]) -> bool:
    """Whether `fewer` are some of the words, in their order."""
    left = iter(words)
    return len(fewer) < len(words) and all(word in left for word in fewer)
