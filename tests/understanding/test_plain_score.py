"""The fitted score of an answer in people's own words."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import pytest

from voicelist.understanding.plain_score import SCORE, Evidence

REPORT = next((Path(__file__).parents[1] / "benchmarks").rglob("plain_score.json"))
SURE = Evidence(nearer=5.0, likelier=8.0, own=0.0, words=3)


def test_the_weights_are_those_that_were_fitted() -> None:
    told = json.loads(REPORT.read_text(encoding="utf-8"))
    assert [*SCORE.weights, SCORE.constant] == [*told["weights"], told["constant"]]
    assert told["date"] in SCORE.fitted


def test_it_is_the_logistic_function_of_a_sum() -> None:
    weighed = sum(w * x for w, x in zip(SCORE.weights, SURE.features(), strict=True))
    chance = SCORE.probability(SURE)
    assert math.log(chance / (1 - chance)) == pytest.approx(weighed + SCORE.constant)


@pytest.mark.parametrize(
    "worse",
    [
        {"nearer": 1.0},
        {"nearer": None},
        {"likelier": -2.0},
        {"own": 6.0},
        {"words": 1},
    ],
)
def test_less_evidence_is_less_probable(worse: dict[str, float | None]) -> None:
    assert SCORE.probability(dataclasses.replace(SURE, **worse)) < SCORE.probability(SURE)  # type: ignore[arg-type]  # fields by name


def test_what_is_plain_passes_and_what_stands_beside_its_denial_does_not() -> None:
    assert SCORE.probability(SURE) >= SCORE.pass_from > SCORE.read_back_from > 0.5
    beside = Evidence(nearer=-0.5, likelier=1.0, own=4.0, words=3)
    assert SCORE.probability(beside) < SCORE.pass_from
    unheard = Evidence(nearer=None, likelier=0.0, own=20.0, words=2)
    assert SCORE.probability(unheard) < SCORE.read_back_from


@pytest.mark.parametrize("alone", [{"nearer": -0.1}, {"nearer": None}, {"likelier": -0.1}])
def test_both_models_have_to_find_what_passes(alone: dict[str, float | None]) -> None:
    evidence = dataclasses.replace(SURE, **alone)  # type: ignore[arg-type]  # fields by name
    assert not SCORE.passes(evidence)
    assert SCORE.passes(SURE)


def test_nothing_extreme_decides_alone() -> None:
    endless = Evidence(nearer=math.inf, likelier=math.inf, own=18.0, words=2)
    assert SCORE.probability(endless) < SCORE.pass_from
