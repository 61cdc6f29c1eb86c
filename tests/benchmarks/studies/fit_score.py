"""One score for the decision whether an utterance is an answer: fitted, and judged on what it was
not fitted to.

`python -m tests.benchmarks.studies.fit_score` reads what `gather_score.py` gathered, and writes
`score.json`: right and taken wrong under today's rules, with the score as a veto in the end, and
with the score alone; all by voices, speakers and recordings left out, the limit of the probability
chosen without them, too. `score_weights.json` is the model of all but the voices kept aside.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from collections import Counter
from collections.abc import Sequence
from typing import Any

import sklearn

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import REPORTS
from tests.benchmarks.harness.score_judged import (
    LOST_AT_MOST,
    RIGHT,
    WRONG,
    Taken,
    by_rules,
    by_score,
    group_of,
    holds_answer,
    is_right,
    is_wrong,
    limit_by,
    outcome_shares,
    pools_of,
    share,
    weighted,
    with_veto,
)
from tests.benchmarks.harness.score_model import (
    AT_HAND,
    WAYS,
    Row,
    evidence_of,
    fitted,
    folds,
    held_out,
)
from tests.benchmarks.harness.score_weights import Weights, told_weights
from tests.benchmarks.studies.gather_score import gathered
from voicelist.asr.model import find_model

REPORT = REPORTS / "score.json"
WEIGHTS = REPORTS / "score_weights.json"
RULES, ALONE = "rules of today", "score alone"
# So many limits are tried for a curve; of the lowest probabilities each.
_POINTS, _LOWEST = 200, 60


def main() -> None:
    """The command."""
    argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0]).parse_args()
    rows = weighted(gathered())
    judged = {way: Judged(rows, way) for way in WAYS}
    report = {
        **circumstances(find_model().fingerprint),
        "scikit_learn": sklearn.__version__,
        "data": _data(rows),
        "groups": _groups(rows, judged),
        "calibration": {way: _calibration(rows, one) for way, one in judged.items()},
        "curves": _curves(rows, judged),
    }
    _print(report)
    write_report(REPORT, report)
    about = {"date": report["date"], "way": AT_HAND, "data": report["data"]}
    one = judged[AT_HAND]
    told = told_weights(one.weights, **about, limit=one.limit)
    write_report(WEIGHTS, told)


class Judged:
    """A way of scoring. As a veto: the probability of each answer that the rules take (`found`), by
    a model of such answers that knows nothing of its kin, and the limit chosen without it; that of
    voices kept aside by the model of all others. `alone`: the same of all that might be taken."""

    def __init__(self, rows: Sequence[Row], way: str) -> None:
        known = [row for row in rows if "features" in row and not row["aside"]]
        taken = [row for row in known if by_rules(row)]
        self.alone = held_out(known, way)
        self.found = held_out(taken, way)
        self.limit = limit_by(known, self.found)
        self.limits: dict[str, float] = {}
        for fold in folds(taken):
            inner = [row for row in taken if fold.fitted(row)]
            others = [row for row in known if fold.fitted(row)]
            limit = limit_by(others, held_out(inner, way))
            self.limits.update((row["key"], limit) for row in taken if fold.judged(row))
        self.weights: Weights = fitted(taken, way)
        for row in rows:
            if row["aside"] and by_rules(row):
                self.found[row["key"]] = self.weights.probability(evidence_of(row, way))
                self.limits[row["key"]] = self.limit

    def veto(self) -> Taken:
        """What is taken with the veto."""
        return with_veto(self.found, self.limits)


def _data(rows: Sequence[Row]) -> dict[str, Any]:
    plain = sorted(json.dumps(row, sort_keys=True) for row in rows)
    kinds = Counter(group_of(row) for row in rows)
    return {
        "heard": len(rows),
        "with_a_candidate": sum("features" in row for row in rows),
        "candidates_not_said": sum(
            "features" in row and not row["candidate_right"] for row in rows
        ),
        "taken_wrong": sum(is_wrong(row, by_rules) for row in rows if row["accepted"]),
        "by_group": dict(sorted(kinds.items())),
        "sha256": hashlib.sha256("\n".join(plain).encode()).hexdigest(),
    }


def _groups(rows: Sequence[Row], judged: dict[str, Judged]) -> dict[str, Any]:
    """By group: what becomes of it under each way, and what the veto changes."""
    parts: dict[str, list[Row]] = {}
    for row in rows:
        for name in (group_of(row), *pools_of(row)):
            parts.setdefault(name, []).append(row)
    return {
        name: {
            RULES: outcome_shares(part, by_rules),
            **{way: _vetoed(part, one.veto()) for way, one in judged.items()},
        }
        for name, part in sorted(parts.items())
    }


def _vetoed(rows: Sequence[Row], taken: Taken) -> dict[str, Any]:
    lost = share(rows, lambda row: is_right(row, by_rules) and not is_right(row, taken))
    spared = share(rows, lambda row: is_wrong(row, by_rules) and not is_wrong(row, taken))
    return {**outcome_shares(rows, taken), "right lost": lost, "wrong spared": spared}


def _calibration(rows: Sequence[Row], judged: Judged) -> dict[str, Any]:
    """How probable answers were, and how often right, of those that the rules take; held out."""
    taken = [row for row in rows if row["accepted"] and not row["aside"]]
    total = sum(row["fit_weight"] for row in taken)
    right = sum(row["fit_weight"] for row in taken if row["candidate_right"])
    brier = sum(
        row["fit_weight"] * (judged.found[row["key"]] - row["candidate_right"]) ** 2
        for row in taken
    )
    base = right / total
    bins = []
    for low, high in ((0.0, 0.5), (0.5, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 0.99), (0.99, 1.01)):
        inside = [row for row in taken if low <= judged.found[row["key"]] < high]
        weight = sum(row["fit_weight"] for row in inside) or 1.0
        bins.append(
            {
                "from": low,
                "answers": len(inside),
                "said": round(
                    sum(r["fit_weight"] * judged.found[r["key"]] for r in inside) / weight, 4
                ),
                "right": round(
                    sum(r["fit_weight"] for r in inside if r["candidate_right"]) / weight, 4
                ),
            }
        )
    return {
        "brier": round(brier / total, 5),
        "brier_of_a_constant": round(base * (1 - base), 5),
        "bins": bins,
        "area": round(_area(taken, judged.found), 4),
        "area_of_all_candidates": round(
            _area([row for row in rows if row["key"] in judged.alone], judged.alone), 4
        ),
    }


def _area(rows: Sequence[Row], found: dict[str, float]) -> float:
    """How often a right answer is more probable than a wrong one, weighted (the area under the
    receiver operating characteristic)."""
    from sklearn.metrics import roc_auc_score

    return float(
        roc_auc_score(
            [row["candidate_right"] for row in rows],
            [found[row["key"]] for row in rows],
            sample_weight=[row["fit_weight"] for row in rows],
        )
    )


def _curves(rows: Sequence[Row], judged: dict[str, Judged]) -> dict[str, Any]:
    """By set: the point of today's rules, and by limit of the probability the share of answers not
    taken and of all taken wrong, with the rules and alone; on what was held out."""
    sets = {
        "orders in noise": lambda row: row["group"] == "orders" and row["condition"] != "clean",
        "synthetic answers, near misses": lambda row: (
            row["group"] in ("answers", "near-misses") and not row["aside"]
        ),
    }
    told: dict[str, Any] = {}
    for name, holds in sets.items():
        part = [row for row in rows if holds(row)]
        told[name] = {"rules": _point(part, by_rules)}
        for way, one in judged.items():
            veto = _line(part, one.found, rules=True)
            alone = _line(part, one.alone, rules=False)
            told[name][way] = {
                "chosen": _point(part, one.veto()),
                **_best_at(told[name]["rules"], veto, alone),
                "veto": veto,
                "alone": alone,
            }
    return told


def _best_at(
    rules: Sequence[float], veto: Sequence[Sequence[float]], alone: Sequence[Sequence[float]]
) -> dict[str, Any]:
    """By limits chosen on these very curves, which flatters: how little the veto takes wrong where
    it loses no more than is allowed, and what the score alone does not take where it takes no more
    wrong than the rules."""
    wrong, missed = rules
    return {
        "veto_least_wrong": min(
            (one for one, lost in veto if lost <= missed + LOST_AT_MOST), default=None
        ),
        "alone_least_not_taken": min((lost for one, lost in alone if one <= wrong), default=None),
    }


def _line(rows: Sequence[Row], found: dict[str, float], *, rules: bool) -> list[list[float]]:
    """The best there is at each share taken wrong, by some limit."""
    points = set()
    values = sorted({found[row["key"]] for row in rows if row["key"] in found})
    step = max(1, len(values) // _POINTS)
    for limit in (0.0, *values[:_LOWEST], *values[::step], 1.1):
        every = dict.fromkeys(found, limit)
        taken = with_veto(found, every) if rules else by_score(found, limit)
        points.add(tuple(_point(rows, taken)))
    best: list[list[float]] = []
    for wrong, missed in sorted(points):
        if not best or missed < best[-1][1]:
            best.append([wrong, missed])
    return best


def _point(rows: Sequence[Row], taken: Taken) -> list[float]:
    """The share taken wrong of all, and of the answers that which was not taken."""
    answers = [row for row in rows if holds_answer(row)]
    wrong = share(rows, lambda row: is_wrong(row, taken))["share"]
    missed = share(answers, lambda row: not is_right(row, taken))["share"]
    return [wrong, missed]


def _print(report: dict[str, Any]) -> None:
    print(json.dumps(report["data"], indent=1))
    lines = []
    for name, ways in report["groups"].items():
        for way, told in ways.items():
            lines.append((name, way, told[RIGHT]["of"], _cell(told[RIGHT]), _cell(told[WRONG])))
    print_table("Held out", ("", "", "heard", "right", "taken wrong"), lines)
    for way, told in report["calibration"].items():
        print(way, json.dumps(told))
    for name, told in report["curves"].items():
        print(name, told["rules"], {way: told[way]["chosen"] for way in WAYS})


def _cell(told: dict[str, Any]) -> str:
    if told["share"] is None:
        return "-"
    low, high = told["wilson_95"]
    return f"{100 * told['share']:.2f} ({100 * low:.1f}-{100 * high:.1f}) [{told['heard']}]"


if __name__ == "__main__":
    main()
