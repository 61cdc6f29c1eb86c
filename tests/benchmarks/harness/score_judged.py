"""Right and taken wrong of a weighted sample, by the rules alone and with a score beside them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from tests.benchmarks.harness.measured import wilson_95
from tests.benchmarks.harness.score_model import SYNTHETIC, Row

RIGHT, WRONG = "right", "taken wrong"
# A limit of the probability may cost so much of what is right, where it was chosen.
CLEAN_LOST_AT_MOST, LOST_AT_MOST = 0.002, 0.005
Taken = Callable[[Row], bool]


def weighted(rows: Iterable[Row]) -> list[Row]:
    """With the weight of each by the size of its stratum (`weight`), and to fit by, where each
    group counts as much as was heard of it (`fit_weight`)."""
    every = list(rows)
    heard = Counter(_stratum(row) for row in every)
    plain = [{**row, "weight": row["of"] / heard[_stratum(row)]} for row in every]
    for row in plain:
        if row["of"] == 1 and not row["known_wrong"]:
            row["weight"] = 1.0
    total, count = Counter[str](), Counter[str]()
    for row in plain:
        total[kind_of(row)] += row["weight"]
        count[kind_of(row)] += 1
    return [
        {**row, "fit_weight": row["weight"] * count[kind_of(row)] / total[kind_of(row)]}
        for row in plain
    ]


def _stratum(row: Row) -> tuple[Any, ...]:
    anew = row["condition"].startswith("anew")
    return row["group"], "anew" if anew else row["condition"], row["known_wrong"]


def kind_of(row: Row) -> str:
    """The part of the sample that a row is of."""
    if row["group"] in SYNTHETIC:
        return f"{row['group']}, {row['condition'].partition(',')[0]}"
    return str(row["group"])


def group_of(row: Row) -> str:
    """The line of the table that a row counts in."""
    if row["aside"]:
        return f"{row['group']}, voices kept aside"
    if row["group"] in SYNTHETIC:
        return kind_of(row)
    return f"{row['group']}, {row['condition']}"


def pools_of(row: Row) -> tuple[str, ...]:
    """The lines of the table in which a row counts together with other groups."""
    if row["aside"]:
        return ()
    noisy_order = row["group"] == "orders" and not is_clean(row)
    pools = {
        "pooled: orders in noise": noisy_order,
        "pooled: all answers, clean": holds_answer(row) and is_clean(row),
        "pooled: all answers, in noise": holds_answer(row) and not is_clean(row),
        "pooled: what is no answer": not holds_answer(row),
    }
    return tuple(name for name, holds in pools.items() if holds)


def by_rules(row: Row) -> bool:
    """What today's rules take."""
    return bool(row["accepted"])


def with_veto(found: dict[str, float], limits: dict[str, float]) -> Taken:
    """What is left where a lower probability than the row's limit makes an answer a doubt; what
    passes nothing is left alone."""

    def taken(row: Row) -> bool:
        exempt = row.get("passes_nothing", False)
        return by_rules(row) and (exempt or found[row["key"]] >= limits[row["key"]])

    return taken


def by_score(found: dict[str, float], limit: float) -> Taken:
    """What the probability alone takes, of what no hard rule forbids."""
    return lambda row: row["key"] in found and found[row["key"]] >= limit


def share(rows: Sequence[Row], counts: Callable[[Row], bool]) -> dict[str, Any]:
    """The weighted share of rows, with a Wilson interval at Kish's effective size of the sample
    (Kish, Survey Sampling, 1965; from memory). Where rows are of several parts of the sample, each
    part counts as much as was heard of it."""
    mixed = len({kind_of(row) for row in rows}) > 1
    weights = np.array([row["fit_weight" if mixed else "weight"] for row in rows])
    if not len(weights):
        return {"share": None, "wilson_95": [0.0, 1.0], "heard": 0, "of": 0}
    hits = np.array([counts(row) for row in rows])
    part = float(weights[hits].sum() / weights.sum())
    effective = float(weights.sum() ** 2 / (weights**2).sum())
    low, high = wilson_95(part * effective, effective)
    return {
        "share": round(part, 5),
        "wilson_95": [round(low, 4), round(high, 4)],
        "heard": int(hits.sum()),
        "of": len(rows),
    }


def outcome_shares(rows: Sequence[Row], taken: Taken) -> dict[str, Any]:
    """Right (for what is no answer: not taken) and taken wrong."""
    return {
        RIGHT: share(rows, lambda row: is_right(row, taken)),
        WRONG: share(rows, lambda row: is_wrong(row, taken)),
    }


def is_wrong(row: Row, taken: Taken) -> bool:
    """Whether something is taken that was not said."""
    return taken(row) and not row["candidate_right"]


def is_right(row: Row, taken: Taken) -> bool:
    """Whether what was said is taken, or what is no answer is not."""
    return bool(row["candidate_right"]) if taken(row) else not holds_answer(row)


def holds_answer(row: Row) -> bool:
    """Whether an answer was said."""
    return row["group"] in ("orders", "digits", "answers")


def is_clean(row: Row) -> bool:
    """Whether it was said in a quiet room."""
    return bool(row["condition"].endswith("clean"))


def limit_by(rows: Sequence[Row], found: dict[str, float]) -> float:
    """The highest limit that costs no more than is allowed of what is right: of what was clean, and
    of all."""
    answers = [row for row in rows if holds_answer(row)]
    right = [row for row in answers if by_rules(row) and row["candidate_right"]]
    allowed = [
        _limit(
            [row for row in right if of(row)],
            sum(row["fit_weight"] for row in answers if of(row)) * most,
            found,
        )
        for of, most in ((is_clean, CLEAN_LOST_AT_MOST), (lambda row: True, LOST_AT_MOST))
    ]
    return min(allowed)


def _limit(right: Sequence[Row], may_lose: float, found: dict[str, float]) -> float:
    lost = 0.0
    for row in sorted(right, key=lambda row: found[row["key"]]):
        lost += row["fit_weight"]
        if lost > may_lose:
            return found[row["key"]]
    return 1.0
