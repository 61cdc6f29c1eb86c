"""Charts in words: what each shows, for those who do not see it and for those who do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from voicelist.review.charts import FEWEST_POINTS, ChartPart, ChartPoint, Kind, limits
from voicelist.review.series import Figure, Funnel

_KINDS: Final[Mapping[Kind, str]] = {
    "p": "Control chart of a proportion (p chart), limits of three standard deviations of the "
    "binomial distribution.",
    "u": "Control chart of a rate (u chart), limits of three standard deviations of the Poisson "
    "distribution.",
    "xmr": "Control chart of single values (XmR chart), limits of 2.66 times the mean moving "
    "range.",
    "run": "Run chart about the median, without limits.",
}


def figure_words(figure: Figure) -> Iterator[str]:
    """What a chart shows, in sentences."""
    yield _KINDS[figure.measure.kind]
    for number, part in enumerate(figure.chart.parts):
        if number:
            first = part.points[0].point.label
            yield f"From the week of {first} most cases used another version of the list."
        yield from _part_words(figure, part)
    if figure.left_out:
        yield (
            f"{_counted(figure.left_out, 'week')} of fewer than {figure.at_least} cases not shown."
        )


def _part_words(figure: Figure, part: ChartPart) -> Iterator[str]:
    measure = figure.measure
    centre = part.points[0].centre * measure.scale
    which = "median" if measure.kind == "run" else "mean"
    of = _counted(len(part.points), "week")
    yield f"Version {part.name}, {of}: {which} {centre:.1f} {measure.unit}."
    if part.runs is None:
        yield f"Fewer than {FEWEST_POINTS} weeks: no limits are drawn and nothing is judged."
        return
    beyond = [one.point.label for one in part.points if one.beyond]
    if beyond:
        yield f"Beyond the limits: the week of {', '.join(beyond)}. Look what was special then."
    elif measure.kind != "run":
        yield "No week is beyond the limits."
    runs = part.runs
    if runs.signal:
        yield (
            f"The weeks do not change sides as by chance: the longest run is {runs.longest} "
            f"(at most {runs.longest_at_most} by chance), the centre is crossed {runs.crossings} "
            f"times (at least {runs.crossings_at_least}). Something changed; the chart does not "
            "say what."
        )
    else:
        yield "Runs and crossings are as by chance."


def funnel_words(funnel: Funnel) -> Iterator[str]:
    """What the funnel shows, in sentences."""
    yield (
        "Each point is a theatre; the curves are three standard deviations of the binomial "
        "distribution about the share of all. A point between the curves tells nothing about its "
        "theatre. Theatres differ in lists, surgeons and patients."
    )
    centre = funnel_centre(funnel)
    outside = [theatre for theatre, share, cases in funnel.points if _outside(centre, share, cases)]
    if outside:
        yield f"Not between the curves: {', '.join(outside)}. Ask what is different there."
    else:
        yield "Every theatre is between the curves: no difference is shown."
    if funnel.left_out:
        yield (
            f"{_counted(funnel.left_out, 'theatre')} of fewer than {funnel.at_least} cases not "
            "shown."
        )


def funnel_centre(funnel: Funnel) -> float:
    """The share of all theatres together, from 0 to 1."""
    return sum(share * cases for _, share, cases in funnel.points) / sum(
        cases for *_, cases in funnel.points
    )


def funnel_limits(centre: float, cases: float) -> tuple[float, float]:
    """The limits at so many cases, from 0 to 1."""
    low, high = limits("p", centre, (ChartPoint("", centre, cases),), cases)
    return (0.0 if low is None else low), (1.0 if high is None else high)


def _outside(centre: float, share: float, cases: int) -> bool:
    low, high = funnel_limits(centre, cases)
    return not low <= share <= high


def _counted(number: int, what: str) -> str:
    return f"1 {what}" if number == 1 else f"{number} {what}s"
