"""Answers not taken against answers taken wrong, as the probability that is asked for rises: a
detection error trade-off, with today's rules as a point.

`python -m tests.benchmarks.studies.score_picture` writes `docs/score.svg` from the latest run of
`fit_score.py`. Both axes are by the normal deviate, as is usual for such curves (Martin et al.,
Eurospeech 1997).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from statistics import NormalDist
from typing import Any

from tests.benchmarks.harness.places import CHECKOUT
from tests.benchmarks.harness.score_model import ASKED, AT_HAND
from tests.benchmarks.studies.fit_score import REPORT
from voicelist.figures.canvas import (
    DASHES,
    INK,
    LINE,
    WIDTH_IN,
    Picture,
    PictureTold,
    Sheet,
    as_svg,
)

PICTURE = CHECKOUT / "docs" / "score.svg"
_LEFT_IN, _GAP_IN, _BELOW_IN, _KEY_IN = 0.75, 0.7, 0.5, 0.5
_WIDE_IN = (WIDTH_IN - _LEFT_IN - 0.3 - _GAP_IN) / 2
_HIGH_IN = 2.9
_TICKS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5)
_LEAST, _MOST_WRONG, _LEAST_MISSED, _MOST_MISSED = 0.0005, 0.12, 0.015, 0.6
WAYS = (AT_HAND, ASKED)
_KINDS = {"veto": "rules and {}", "alone": "{}, alone"}
_NOTES = (
    "By recordings, speakers, voices and texts left out; what was taken wrong was heard on purpose "
    "and is weighted by how often it occurs. Circle: today's rules. What is not taken is asked "
    "again. What lies beyond an edge is drawn at it.",
)
_KEY: dict[str, Any] = {"frameon": False, "fontsize": 7.5, "handlelength": 2.8, "ncol": 2}


def main() -> None:
    """The command."""
    if not REPORT.is_file():
        raise SystemExit("There is no score.json: run fit_score.py first.")
    report = json.loads(REPORT.read_text(encoding="utf-8"))
    PICTURE.write_bytes(as_svg(picture(report)))
    print(f"Written: {PICTURE.name}")


def picture(report: dict[str, Any]) -> Picture:
    """The picture of a report of `fit_score.py`."""
    told = PictureTold(
        name="score",
        title="One score beside today's rules",
        under="Share of answers not taken, and share of everything heard that is taken wrong",
        about=_about(report),
        origin=f"tests/benchmarks/studies/fit_score.py, {report['date']}; "
        f"{report['data']['heard']} heard; speech model {report['speech_model'][:12]}.",
        notes=_NOTES,
    )

    def draw(sheet: Sheet) -> None:
        for number, (name, curves) in enumerate(report["curves"].items()):
            left = _LEFT_IN + number * (_WIDE_IN + _GAP_IN)
            axes = sheet.axes(left, _BELOW_IN, _WIDE_IN, _HIGH_IN)
            _frame(axes, name)
            _lines(axes, curves, number)
            if number == 0:
                axes.set_ylabel("answers not taken")
                axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), **_KEY)

    return Picture(told, _BELOW_IN + _HIGH_IN + _KEY_IN, draw)


def _frame(axes: Any, name: str) -> None:
    for place, low, high in (
        (axes.set_xticks, _LEAST, _MOST_WRONG),
        (axes.set_yticks, _LEAST_MISSED, _MOST_MISSED),
    ):
        shares = [one for one in _TICKS if low < one < high]
        place([deviate(one) for one in shares], [f"{100 * one:g}%" for one in shares])
    for label in axes.get_xticklabels():
        label.set_rotation(45)
    axes.set_xlim(deviate(_LEAST), deviate(_MOST_WRONG))
    axes.set_ylim(deviate(_LEAST_MISSED), deviate(_MOST_MISSED))
    axes.set_xlabel(f"taken wrong: {name}")
    axes.grid(color=LINE, linewidth=0.5)


def _lines(axes: Any, curves: dict[str, Any], number: int) -> None:
    styles = iter(DASHES)
    for kind, words in _KINDS.items():
        for way in WAYS:
            points = sorted(curves[way][kind])
            axes.plot(
                *_placed(points),
                linestyle=next(styles),
                color=INK,
                linewidth=1.0,
                drawstyle="steps-post",
                label=words.format(way),
                gid=f"line-{number}-{kind}-{WAYS.index(way)}",
            )
    x, y = _placed([curves["rules"]])
    look = {"linestyle": "none", "marker": "o", "markersize": 6, "markerfacecolor": "white"}
    axes.plot(x, y, color=INK, gid=f"rules-{number}", zorder=3, label="rules of today", **look)


def _placed(points: Sequence[Sequence[float]]) -> tuple[list[float], list[float]]:
    """Where points are drawn; what is beyond the edges, at the edges."""
    x = [deviate(min(max(one, _LEAST), _MOST_WRONG)) for one, _ in points]
    y = [deviate(min(max(one, _LEAST_MISSED), _MOST_MISSED)) for _, one in points]
    return x, y


def deviate(share: float) -> float:
    """Where a share is drawn; none and all are drawn at the edges."""
    return NormalDist().inv_cdf(min(1 - _LEAST, max(_LEAST, share)))


def _about(report: dict[str, Any]) -> str:
    told = []
    for name, curves in report["curves"].items():
        wrong, missed = curves["rules"]
        told.append(f"{name}: rules of today {wrong:.4f} taken wrong, {missed:.4f} not taken")
        for way in WAYS:
            wrong, missed = curves[way]["chosen"]
            told.append(f"with the veto by {way} {wrong:.4f} and {missed:.4f}")
    return f"Answers not taken against answers taken wrong. {'; '.join(told)}."


if __name__ == "__main__":
    main()
