"""How probable it is that an answer in people's own words was said, from what both models make of
it: a logistic model, fitted by `tests/benchmarks/studies/plain_score.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of an answer. Scores are the recogniser's, likelihoods the second model's, as
    natural logarithms.

    `nearer` is how far it is before the nearest of what denies, doubts or asks it, opposes it or
    sounds like it (None: it was not found among them); `likelier` the same to the second model;
    `own` how much likelier to this what it hears of its own accord is; `words` how many words the
    answer has.
    """

    nearer: float | None
    likelier: float
    own: float
    words: int

    @property
    def of_both(self) -> bool:
        """Whether each model by itself finds the answer rather than what stands beside it."""
        return self.nearer is not None and self.nearer > 0.0 and self.likelier > 0.0

    def features(self) -> tuple[float, ...]:
        """As numbers within bounds, so that nothing extreme decides alone."""
        nearer = -4.0 if self.nearer is None else min(max(self.nearer, -4.0), 6.0)
        likelier = min(max(self.likelier, -4.0), 12.0)
        own = min(max(self.own, 0.0), 40.0)
        return nearer, likelier, own / (1 + self.words), min(self.words, 6)


@dataclass(frozen=True, slots=True)
class PlainScore:
    """The weights of the features, and from which probability on an answer passes or is read back.
    `fitted` says when and on what."""

    weights: tuple[float, ...]
    constant: float
    pass_from: float
    read_back_from: float
    fitted: str

    def passes(self, evidence: Evidence) -> bool:
        """Whether an answer to an ordinary item is taken at once: both models have to find it."""
        return evidence.of_both and self.probability(evidence) >= self.pass_from

    def is_read_back(self, evidence: Evidence) -> bool:
        """Whether an answer is worth asking about."""
        return self.probability(evidence) >= self.read_back_from

    def probability(self, evidence: Evidence) -> float:
        """That the answer was said."""
        pairs = zip(self.weights, evidence.features(), strict=True)
        return 1.0 / (1.0 + math.exp(-self.constant - sum(w * x for w, x in pairs)))


SCORE = PlainScore(
    weights=(0.475, 0.016, -0.482, 0.551),
    constant=0.418,
    pass_from=0.95,
    read_back_from=0.75,
    fitted="2026-11-28, the development half of the spoken lines and talk of strangers",
)
