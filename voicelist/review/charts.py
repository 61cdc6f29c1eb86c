"""Run charts and control charts: centre lines, limits and signals, pure.

p, u and XmR charts with limits of three standard deviations, as in the NIST/SEMATECH e-Handbook of
Statistical Methods, sections 6.3.3.2 (p), 6.3.3.1 (counts) and 6.3.2.2 (individuals). Runs are
judged by Anhoej and Olesen (2014), PLoS ONE 9(11): e113825: signals are a run longer than
round(log2(n) + 3), and fewer crossings of the centre than the 5 % quantile of the binomial
distribution of n - 1 trials at one half, n being the points that do not lie on the centre line.
Each part of a chart, from one change of documents to the next, has its own centre and limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import comb, log2, sqrt
from statistics import fmean, median
from typing import Final, Literal

Kind = Literal["p", "u", "xmr", "run"]

# Limits of fewer points say more of the points than of the work: none are drawn.
# Common practice, no source.
FEWEST_POINTS: Final = 12
# Expected range of two values of one normal distribution, d2(2) = 2 / sqrt(pi); 3 / d2 = 2.66.
D2: Final = 1.1283791670955126
# Upper limit of moving ranges over their mean: D4(2) = 1 + 3 * sqrt(pi / 2 - 1).
D4: Final = 1 + 3 * sqrt(3.141592653589793 / 2 - 1)


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One point: `value`, made of `count` in `of` where it is a proportion or a rate. `part` says
    which documents were in use."""

    label: str
    value: float
    of: float = 1.0
    part: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """A point with its centre and limits (None where there are none) and whether it is beyond
    them."""

    point: ChartPoint
    centre: float
    low: float | None
    high: float | None
    beyond: bool


@dataclass(frozen=True, slots=True)
class Runs:
    """What Anhoej's rules look at in one part: `useful` points, the longest run on one side of the
    centre, and the crossings of it, each with its bound."""

    useful: int
    longest: int
    longest_at_most: int
    crossings: int
    crossings_at_least: int

    @property
    def signal(self) -> bool:
        """Whether the points are not as chance alone would have them."""
        return self.longest > self.longest_at_most or self.crossings < self.crossings_at_least


@dataclass(frozen=True, slots=True)
class ChartPart:
    """One part of a chart; `runs` is None where there are too few points to judge."""

    name: str
    points: tuple[Judged, ...]
    runs: Runs | None


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of its parts in order."""

    kind: Kind
    parts: tuple[ChartPart, ...]

    @property
    def points(self) -> tuple[Judged, ...]:
        """All points in order."""
        return tuple(one for part in self.parts for one in part.points)


def chart(kind: Kind, points: Sequence[ChartPoint]) -> Chart:
    """A chart of points in the order of time. Of p the values are shares from 0 to 1, of u counts
    per `of`. Raises ValueError for a point without anything to be a share of."""
    if any(one.of <= 0 for one in points):
        raise ValueError("each point needs something that it is a share or a rate of")
    parts = [_part(kind, name, tuple(some)) for name, some in groupby(points, lambda one: one.part)]
    return Chart(kind, tuple(parts))


def _part(kind: Kind, name: str, points: tuple[ChartPoint, ...]) -> ChartPart:
    centre = _centre(kind, points)
    enough = len(points) >= FEWEST_POINTS
    judged = []
    for one in points:
        low, high = limits(kind, centre, points, one.of) if enough else (None, None)
        beyond = (low is not None and one.value < low) or (high is not None and one.value > high)
        judged.append(Judged(one, centre, low, high, beyond))
    # Runs are counted about the centre of the chart, which of a run chart is the median.
    values = [one.value for one in points]
    return ChartPart(name, tuple(judged), runs(values, centre) if enough else None)


def _centre(kind: Kind, points: Sequence[ChartPoint]) -> float:
    if kind == "run":
        return median(one.value for one in points)
    if kind == "xmr":
        return fmean(one.value for one in points)
    return sum(one.value * one.of for one in points) / sum(one.of for one in points)


def limits(
    kind: Kind, centre: float, points: Sequence[ChartPoint], of: float
) -> tuple[float | None, float | None]:
    """Lower and upper limit at a point that is a share or rate of `of`; a lower limit that would be
    negative does not exist for shares and counts (None), nor a share above 1."""
    if kind == "run":
        return None, None
    if kind == "xmr":
        reach = 3 * mean_moving_range(points) / D2
        # What is never negative, such as a time, has no limit below zero.
        never_negative = all(one.value >= 0 for one in points)
        low = centre - reach
        return None if low < 0 and never_negative else low, centre + reach
    spread = centre * (1 - centre) if kind == "p" else centre
    reach = 3 * sqrt(spread / of)
    low, high = centre - reach, centre + reach
    return low if low > 0 else None, high if kind == "u" or high < 1 else None


def mean_moving_range(points: Sequence[ChartPoint]) -> float:
    """The mean of the differences between neighbours; 0 for a single point."""
    ranges = [abs(later.value - earlier.value) for earlier, later in pairwise(points)]
    return fmean(ranges) if ranges else 0.0


def runs(values: Sequence[float], centre: float) -> Runs:
    """Runs and crossings about the centre; values on it are not counted."""
    sides = [one > centre for one in values if one != centre]
    useful = len(sides)
    longest = max((len(tuple(some)) for _, some in groupby(sides)), default=0)
    crossings = sum(earlier != later for earlier, later in pairwise(sides))
    return Runs(useful, longest, longest_at_most(useful), crossings, crossings_at_least(useful))


def longest_at_most(useful: int) -> int:
    """The longest run that is no signal; 0 without any point."""
    return round(log2(useful) + 3) if useful else 0


def crossings_at_least(useful: int) -> int:
    """The fewest crossings that are no signal: the 5 % quantile of Binomial(useful - 1, 1/2)."""
    trials = max(useful - 1, 0)
    below = 0.0
    for count in range(trials + 1):
        below += comb(trials, count) / 2**trials
        if below >= 0.05:
            return count
    return trials
