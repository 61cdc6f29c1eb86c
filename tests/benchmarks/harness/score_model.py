"""The logistic model of an answer's score, fitted with scikit-learn, and judged by what was left
out.

What was taken wrong was heard on purpose far more often than it occurs. Such a choice by outcome
leaves the weights of a logistic model as they are and shifts its intercept alone (Prentice & Pyke,
Biometrika 1979;66:403-411; from memory). So the model is fitted to the rows as they are, and then
shifted until the probabilities, weighted by how often each row stands for, come to what was right.

Orders and talk are left out by recording, with all their noisy copies; digits by speaker;
synthetic sound by voice and text at once. Everything that is chosen, the limit of the probability
too, is chosen on the rest.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

from tests.benchmarks.harness.score_weights import Feature, Weights

Row = dict[str, Any]
# Whether more of it speaks for an answer (1), against it (-1), or may do either (0). What comes
# out the other way round was learnt from too little, and is left out.
SIGNS = {
    "gap_permitted_first": 1,
    "gap_permitted_mean": 1,
    "gap_other_mean": 1,
    "gap_second_mean": 1,
    "nearest_share": 1,
    "understood_share": 1,
    "understood_otherwise": -1,
    "decodings": -1,
    "words": 0,
    "numbers": 0,
    "teen_or_ten": -1,
    "alikes": -1,
    "snr_dB": 1,
    "in_noise": -1,
    "low_snr": -1,
    "amid_babble": -1,
    "edge_speech_s": -1,
    "edge_unknown": -1,
    "edge_background": -1,
    "seconds_a_word": 0,
}
OF_THE_VERIFIER = {
    "likely_a_word": 1,
    "ratio_permitted": 1,
    "ratio_alike": 1,
    "ratio_other": 1,
    "free_gap_a_word": -1,
    "free_words_apart": -1,
    "free_says_more": -1,
}
# By what is known without one more question; with the verifier where the stages asked it anyway, of
# rivals that were heard alone; and with the verifier asked about every answer.
BY_RECOGNISER, AT_HAND, ASKED = (
    *("the recogniser alone", "the verifier where asked"),
    "the verifier always asked",
)
WAYS = (BY_RECOGNISER, AT_HAND, ASKED)
_NOT_AT_HAND = ("ratio_alike", "ratio_other")
C = 0.1
_CELLS, _FOLDS = 3, 5
SYNTHETIC = ("answers", "near-misses")


@dataclass(frozen=True)
class Fold:
    """What is judged, and what may be fitted to for it."""

    judged: Callable[[Row], bool]
    fitted: Callable[[Row], bool]


def signs_of(way: str) -> dict[str, int]:
    """The evidence that a way of scoring uses."""
    if way == ASKED:
        return {**SIGNS, **OF_THE_VERIFIER}
    found = {**SIGNS, "verifier_was_asked": 0}
    if way == AT_HAND:
        found |= OF_THE_VERIFIER
    return {name: sign for name, sign in found.items() if name not in _NOT_AT_HAND}


def evidence_of(row: Row, way: str) -> dict[str, float]:
    """A row's evidence; of the verifier only what the stages asked it anyway, unless always."""
    known: dict[str, float] = dict(row["features"])
    if way == AT_HAND and not known["verifier_was_asked"]:
        known.update(dict.fromkeys(OF_THE_VERIFIER, 0.0))
    return known


def fitted(rows: Sequence[Row], way: str) -> Weights:
    """The model of these rows, without evidence that comes out the other way round."""
    signs = signs_of(way)
    names = list(signs)
    while True:
        weights = _fitted(rows, names, way)
        odd = [one.name for one in weights.features if signs[one.name] * one.weight < 0]
        if not odd:
            return weights
        names = [name for name in names if name not in odd]


def _fitted(rows: Sequence[Row], names: Sequence[str], way: str) -> Weights:
    scaler, model = sklearn_model(rows, names, way)
    features = (
        Feature(name, float(mean), float(scale), float(weight))
        for name, mean, scale, weight in zip(
            names, scaler.mean_, scaler.scale_, model.coef_[0], strict=True
        )
    )
    return Weights(tuple(features), float(model.intercept_[0]))


def sklearn_model(
    rows: Sequence[Row], names: Sequence[str], way: str
) -> tuple[StandardScaler, LogisticRegression]:
    """As scikit-learn has it."""
    table = table_of(rows, names, way)
    right = np.array([int(row["candidate_right"]) for row in rows])
    counts = np.array([row["fit_weight"] for row in rows])
    scaler = StandardScaler().fit(table)
    scaled = scaler.transform(table)
    model = LogisticRegression(C=C, max_iter=2_000).fit(scaled, right)
    model.intercept_ += _shift(model.decision_function(scaled), right, counts)
    return scaler, model


def _shift(logits: np.ndarray, right: np.ndarray, counts: np.ndarray) -> float:
    """What must be added so that as much is probable as is right, found by halving."""
    low, high = -20.0, 20.0
    for _ in range(60):
        middle = (low + high) / 2
        probable = counts @ (1 / (1 + np.exp(-(logits + middle))))
        low, high = (middle, high) if probable < counts @ right else (low, middle)
    return low


def table_of(rows: Sequence[Row], names: Sequence[str], way: str) -> np.ndarray:
    """The evidence as a table."""
    known = [evidence_of(row, way) for row in rows]
    return np.array([[each[name] for name in names] for each in known], np.float64)


def folds(rows: Sequence[Row]) -> Iterator[Fold]:
    """All of them: each row is judged once."""
    for number in range(_FOLDS):
        yield _left_out(lambda row, n=number: _in("orders", row, _FOLDS) == n)
        yield _left_out(lambda row, n=number: _in("strangers", row, _FOLDS) == n)
    for speaker in sorted({row["speaker"] for row in rows if row["group"] == "digits"}):
        yield _left_out(lambda row, who=speaker: row["group"] == "digits" and row["speaker"] == who)
    for voice in range(_CELLS):
        for text in range(_CELLS):
            yield Fold(
                lambda row, v=voice, t=text: _cell(row) == (v, t),
                lambda row, v=voice, t=text: _voice(row) != v and _text(row) != t,
            )


def _left_out(judged: Callable[[Row], bool]) -> Fold:
    return Fold(judged, lambda row: not judged(row))


def _in(group: str, row: Row, of: int) -> int:
    return _hash(row["recording"]) % of if row["group"] == group else -1


def _cell(row: Row) -> tuple[int, int]:
    return _voice(row), _text(row)


def _voice(row: Row) -> int:
    return _hash(row["speaker"]) % _CELLS if row["group"] in SYNTHETIC else -1


def _text(row: Row) -> int:
    return _hash(row["text"]) % _CELLS if row["group"] in SYNTHETIC else -1


def _hash(text: str) -> int:
    return zlib.crc32(text.encode())


def held_out(rows: Sequence[Row], way: str) -> dict[str, float]:
    """By key: the probability by a model that knows nothing of the row's kin."""
    found: dict[str, float] = {}
    for fold in folds(rows):
        judged = [row for row in rows if fold.judged(row)]
        if judged:
            weights = fitted([row for row in rows if fold.fitted(row)], way)
            for row in judged:
                found[row["key"]] = weights.probability(evidence_of(row, way))
    return found
