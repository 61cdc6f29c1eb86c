"""The score that `fit_score.py` fits: its file, its arithmetic, and how it is judged."""

from __future__ import annotations

import importlib
import json
import random
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.harness.places import REPORTS
from tests.benchmarks.harness.score_weights import (
    Feature,
    Weights,
    hash_of,
    read_weights,
    told_weights,
)

WEIGHTS, REPORT = REPORTS / "score_weights.json", REPORTS / "score.json"
SOME = Weights((Feature("gap", 2.0, 4.0, 1.5), Feature("noise", 0.5, 0.5, -0.5)), 3.0)


@pytest.fixture
def model() -> Any:
    """What fits."""
    return importlib.import_module("tests.benchmarks.harness.score_model")


@pytest.fixture
def judged(model: Any) -> Any:
    return importlib.import_module("tests.benchmarks.harness.score_judged")


def rows_of(model: Any, count: int = 400) -> list[dict[str, Any]]:
    """Rows as they are gathered, with evidence by chance, which tells a little."""
    chance = random.Random(7)
    names = {**model.SIGNS, **model.OF_THE_VERIFIER}
    groups = ("orders", "digits", "answers", "near-misses", "strangers")
    rows = []
    for number in range(count):
        right = chance.random() < 0.8
        shift = 1.0 if right else -1.0
        evidence = {name: chance.gauss(sign * shift, 2.0) for name, sign in names.items()}
        group = chance.choice(groups)
        rows.append(
            {
                "key": str(number),
                "group": group,
                "condition": chance.choice(("clean", "kitchen 6 dB")),
                "recording": f"{group}-{chance.randrange(40)}",
                "speaker": f"{group}-{chance.randrange(6)}",
                "text": f"text {chance.randrange(30)}",
                "accepted": True,
                "candidate_right": right,
                "fit_weight": 1.0 if right else 0.2,
                "features": {**evidence, "verifier_was_asked": float(number % 2)},
            }
        )
    return rows


def test_the_file_says_when_and_from_what_it_was_fitted() -> None:
    told = json.loads(WEIGHTS.read_text(encoding="utf-8"))
    report = json.loads(REPORT.read_text(encoding="utf-8"))
    assert date.fromisoformat(told["date"]) <= date.today()
    assert told["data"] == report["data"]
    assert told["data"]["heard"] > 0
    assert len(told["data"]["sha256"]) == 64
    assert told["hash"] == hash_of(told)
    assert 0.0 < told["limit"] < 1.0
    assert read_weights(WEIGHTS).bias == told["bias"]


def test_a_file_that_was_changed_is_refused(tmp_path: Path) -> None:
    told = told_weights(SOME, date="2026-11-27")
    file = tmp_path / "weights.json"
    file.write_text(json.dumps(told), encoding="utf-8")
    assert read_weights(file) == SOME
    told["features"][0]["weight"] += 0.001
    file.write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(ValueError, match="was changed"):
        read_weights(file)


def test_its_evidence_has_names_that_are_known_and_counts_the_way_it_should(model: Any) -> None:
    told = json.loads(WEIGHTS.read_text(encoding="utf-8"))
    weights, signs = read_weights(WEIGHTS), model.signs_of(told["way"])
    names = [one.name for one in weights.features]
    assert names
    assert len(set(names)) == len(names)
    assert set(names) <= set(signs)
    for one in weights.features:
        assert signs[one.name] * one.weight >= 0, one.name


def test_more_of_what_speaks_for_an_answer_makes_it_more_probable() -> None:
    weights = read_weights(WEIGHTS)
    middle = {one.name: one.mean for one in weights.features}
    base = weights.probability(middle)
    for one in weights.features:
        more = weights.probability({**middle, one.name: one.mean + 0.5 * one.scale})
        assert (more > base) == (one.weight > 0), one.name


def test_the_arithmetic_is_by_hand_what_it_should_be() -> None:
    # 3 + 1.5 * (4 - 2) / 4 - 0.5 * (1 - 0.5) / 0.5 = 3.25, of which the logistic is 0.96267.
    assert SOME.probability({"gap": 4.0, "noise": 1.0}) == pytest.approx(0.962673, abs=1e-6)
    assert SOME.probability({"gap": -1e9, "noise": 0.0}) == 0.0
    assert SOME.probability({"gap": 1e9, "noise": 0.0}) == 1.0
    with pytest.raises(KeyError):
        SOME.probability({"gap": 1.0})


@pytest.mark.parametrize("way", ["the verifier where asked", "the verifier always asked"])
def test_the_arithmetic_says_what_scikit_learn_says(model: Any, way: str) -> None:
    rows = rows_of(model)
    weights = model.fitted(rows, way)
    names = [one.name for one in weights.features]
    scaler, fitted = model.sklearn_model(rows, names, way)
    theirs = fitted.predict_proba(scaler.transform(model.table_of(rows, names, way)))[:, 1]
    ours = [weights.probability(model.evidence_of(row, way)) for row in rows]
    assert ours == pytest.approx(list(theirs), abs=1e-9)
    # Shifted so that, as often as each occurs, as much is probable as is right.
    counts = [row["fit_weight"] for row in rows]
    probable = sum(one * count for one, count in zip(ours, counts, strict=True))
    right = sum(row["fit_weight"] for row in rows if row["candidate_right"])
    assert probable == pytest.approx(right, rel=1e-6)


def test_evidence_that_counts_the_other_way_round_is_left_out(model: Any) -> None:
    rows = rows_of(model)
    for row in rows:
        row["features"]["snr_dB"] = -row["features"]["snr_dB"]
    names = [one.name for one in model.fitted(rows, model.ASKED).features]
    assert "snr_dB" not in names
    assert "gap_permitted_first" in names


def test_what_is_judged_shares_nothing_with_what_was_fitted_to(model: Any) -> None:
    rows = rows_of(model)
    judged: Counter[str] = Counter()
    for fold in model.folds(rows):
        tried = [row for row in rows if fold.judged(row)]
        known = [row for row in rows if fold.fitted(row)]
        judged.update(row["key"] for row in tried)
        for group, kin in (
            ("orders", ("recording",)),
            ("strangers", ("recording",)),
            ("digits", ("speaker",)),
            ("answers", ("speaker", "text")),
            ("near-misses", ("speaker", "text")),
        ):
            for name in kin:
                ours = {row[name] for row in tried if row["group"] == group}
                theirs = {row[name] for row in known if row["group"] == group}
                assert not ours & theirs
    assert judged == Counter(row["key"] for row in rows)


def test_without_the_verifier_what_was_not_asked_counts_for_nothing(model: Any) -> None:
    asked, silent = (
        {
            "features": {
                **dict.fromkeys(model.SIGNS, 1.0),
                "verifier_was_asked": one,
                **dict.fromkeys(model.OF_THE_VERIFIER, 2.0),
            }
        }
        for one in (1.0, 0.0)
    )
    assert model.evidence_of(asked, model.AT_HAND)["ratio_other"] == 2.0
    assert model.evidence_of(silent, model.AT_HAND)["ratio_other"] == 0.0
    assert model.evidence_of(silent, model.ASKED)["ratio_other"] == 2.0


def test_a_sample_of_rare_cases_says_how_often_they_occur(judged: Any) -> None:
    """Of 100 orders all 2 that were taken wrong are heard, and 14 of the other 98."""
    rows = [
        {
            "key": str(number),
            "group": "orders",
            "condition": "clean",
            "accepted": True,
            "known_wrong": number < 2,
            "of": 2 if number < 2 else 98,
            "candidate_right": number >= 2,
            "aside": False,
        }
        for number in range(16)
    ]
    told = judged.outcome_shares(judged.weighted(rows), judged.by_rules)
    assert told["taken wrong"]["share"] == pytest.approx(0.02)
    assert told["right"]["share"] == pytest.approx(0.98)
    low, high = told["taken wrong"]["wilson_95"]
    assert low < 0.02 < high


def test_a_limit_costs_no_more_than_it_may(model: Any, judged: Any) -> None:
    rows = rows_of(model, 2_000)
    found = {row["key"]: random.Random(row["key"]).random() for row in rows}
    limit = judged.limit_by(rows, found)
    answers = [row for row in rows if judged.holds_answer(row)]
    for of, most in ((judged.is_clean, 0.002), (lambda row: True, 0.005)):
        part = [row for row in answers if of(row)]
        lost = sum(
            row["fit_weight"]
            for row in part
            if row["candidate_right"] and found[row["key"]] < limit
        )
        assert lost <= most * sum(row["fit_weight"] for row in part)
    assert limit > 0.0


def test_the_veto_makes_doubts_of_answers_and_never_answers_of_doubts(judged: Any) -> None:
    rows = [
        {"key": f"{accepted} {nothing}", "accepted": accepted, "passes_nothing": nothing}
        for accepted in (True, False)
        for nothing in (True, False)
    ]
    high, low = ({row["key"]: value for row in rows} for value in (0.9, 0.1))
    limits = {row["key"]: 0.5 for row in rows}
    likely, unlikely = judged.with_veto(high, limits), judged.with_veto(low, limits)
    assert [likely(row) for row in rows] == [True, True, False, False]
    # What passes nothing is left alone.
    assert [unlikely(row) for row in rows] == [True, False, False, False]
