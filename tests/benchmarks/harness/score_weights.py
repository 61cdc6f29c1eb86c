"""A fitted score as a small file, and its arithmetic: the probability that an answer is what was
said.

The file names date, data and features with mean, scale and weight each; `hash` is the SHA-256 of
the rest in canonical JSON, so that a changed number shows.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Feature:
    """A kind of evidence: `(value - mean) / scale` times its weight counts for the answer."""

    name: str
    mean: float
    scale: float
    weight: float


@dataclass(frozen=True, slots=True)
class Weights:
    """A logistic model: evidence, each with its weight, and what stands without any."""

    features: tuple[Feature, ...]
    bias: float

    def probability(self, evidence: Mapping[str, float]) -> float:
        """That an answer of this evidence is what was said. Raises KeyError for one that lacks."""
        parts = (one.weight * (evidence[one.name] - one.mean) / one.scale for one in self.features)
        logit = self.bias + math.fsum(parts)
        # Both forms are the same; neither lets the exponential overflow.
        if logit >= 0:
            return 1.0 / (1.0 + math.exp(-logit))
        grown = math.exp(logit)
        return grown / (1.0 + grown)


def told_weights(weights: Weights, **about: Any) -> dict[str, Any]:
    """For a file, with what it is about, and its hash."""
    told = {
        **about,
        "bias": weights.bias,
        "features": [
            {"name": one.name, "mean": one.mean, "scale": one.scale, "weight": one.weight}
            for one in weights.features
        ],
    }
    return {**told, "hash": hash_of(told)}


def hash_of(told: Mapping[str, Any]) -> str:
    """Of all but the hash itself."""
    rest = {name: value for name, value in told.items() if name != "hash"}
    plain = json.dumps(rest, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(plain.encode()).hexdigest()


def read_weights(file: Path) -> Weights:
    """Raises ValueError where the file is not as it was written."""
    told = json.loads(file.read_text(encoding="utf-8"))
    if hash_of(told) != told.get("hash"):
        raise ValueError(f"{file.name} was changed: fit it again (fit_score.py).")
    return Weights(tuple(Feature(**one) for one in told["features"]), told["bias"])
