"""Weeks as points of charts: which figures are drawn, and what they are made of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from voicelist.review.asking import same_of_all
from voicelist.review.charts import Chart, ChartPoint, Kind, chart
from voicelist.review.tables import Cell


@dataclass(frozen=True, slots=True)
class Measure:
    """Something counted each week. `scale` turns a value into what is shown, in `unit`; `count` and
    `of` are columns of the weekly table, `of` "" for a value that is no share or rate."""

    title: str
    kind: Kind
    unit: str
    scale: float
    count: str
    of: str = ""


# Units of a share or rate are cases, which hardly depend on each other; utterances of one case do.
MEASURES: Final = (
    Measure("Cases in which an item was asked again", "p", "% of cases", 100, "again", "cases"),
    Measure("Values that did not fit", "u", "for each case", 1, "mismatches", "cases"),
    Measure("Time out, the median of each week", "xmr", "s", 1, "time_out_s"),
    Measure("Length of a case, the median of each week", "run", "min", 1 / 60, "duration_s"),
)


@dataclass(frozen=True, slots=True)
class Figure:
    """A chart of one checklist. `left_out` counts weeks with too few cases."""

    checklist: str
    measure: Measure
    chart: Chart
    left_out: int
    at_least: int


@dataclass(frozen=True, slots=True)
class Funnel:
    """A share for each theatre against what chance alone would make of it. `points` are
    (theatre, share, cases)."""

    title: str
    unit: str
    scale: float
    points: tuple[tuple[str, float, int], ...]
    left_out: int
    at_least: int


def figures(tables: Mapping[str, Any], at_least: int) -> Iterator[Figure]:
    """The charts of every checklist, in the order of their names."""
    weeks = _weeks(tables["cases"])
    for checklist in sorted({str(row["checklist"]) for row in weeks}):
        rows = [row for row in weeks if row["checklist"] == checklist]
        for measure in MEASURES:
            enough = [row for row in rows if row["cases"] >= at_least]
            points = [_point(measure, row) for row in enough if row[measure.count] is not None]
            if points:
                drawn = chart(measure.kind, points)
                yield Figure(checklist, measure, drawn, len(rows) - len(enough), at_least)


def _point(measure: Measure, row: Mapping[str, Any]) -> ChartPoint:
    of = float(row[measure.of]) if measure.of else 1.0
    return ChartPoint(str(row["week"]), float(row[measure.count]) / of, of, str(row["documents"]))


def _weeks(cases: Any) -> list[dict[str, Any]]:
    """Each week of each checklist. The documents are those of most cases of the week."""
    by_week = cases.group_by(["checklist", "week"]).aggregate(
        cases=cases.count(),
        again=(cases.asked_again > 0).sum(),
        mismatches=cases.mismatches.sum(),
        time_out_s=cases.time_out_s.quantile(0.5),
        duration_s=cases.duration_s.quantile(0.5),
    )
    versions = cases.group_by(["checklist", "week", "documents"]).aggregate(cases=cases.count())
    most: dict[tuple[str, str], tuple[int, str]] = {}
    for row in versions.to_pyarrow().to_pylist():
        key = (row["checklist"], row["week"])
        most[key] = max(most.get(key, (0, "")), (row["cases"], row["documents"]))
    found: list[dict[str, Any]] = by_week.order_by(["checklist", "week"]).to_pyarrow().to_pylist()
    return [
        {name: same_of_all(cell) for name, cell in row.items()}
        | {"documents": most[row["checklist"], row["week"]][1]}
        for row in found
    ]


def funnel(tables: Mapping[str, Any], at_least: int) -> Funnel | None:
    """Theatres by the share of their cases in which an item was asked again; None with one
    theatre."""
    cases = tables["cases"]
    counted = cases.group_by("theatre").aggregate(
        cases=cases.count(), again=(cases.asked_again > 0).sum()
    )
    rows = counted.order_by("theatre").to_pyarrow().to_pylist()
    points = tuple(
        (str(row["theatre"]), row["again"] / row["cases"], int(row["cases"]))
        for row in rows
        if row["cases"] >= at_least
    )
    if len(points) < 2:
        return None
    title = "Cases in which an item was asked again, theatre by theatre"
    return Funnel(title, "% of cases", 100, points, len(rows) - len(points), at_least)


def table_of(figure: Figure) -> tuple[tuple[str, ...], tuple[tuple[Cell, ...], ...]]:
    """A chart as a table: the numbers that are drawn."""
    measure = figure.measure
    names: tuple[str, ...] = ("week", "cases", measure.unit)
    names += ("centre", "lower limit", "upper limit", "beyond")
    if not measure.of:
        names = ("week", *names[2:])

    def scaled(value: float | None) -> Cell:
        return None if value is None else round(value * measure.scale, 2)

    rows: list[tuple[Cell, ...]] = []
    for one in figure.chart.points:
        row: tuple[Cell, ...] = (
            one.point.label,
            int(one.point.of),
            scaled(one.point.value),
            scaled(one.centre),
            scaled(one.low),
            scaled(one.high),
            "yes" if one.beyond else "no",
        )
        rows.append(row if measure.of else (row[0], *row[2:]))
    return names, tuple(rows)
