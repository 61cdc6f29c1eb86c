"""Charts as SVG: black on white, told apart by dashes and shapes, so that they print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

from voicelist.review.said import funnel_centre, funnel_limits
from voicelist.review.series import Figure, Funnel

WIDTH, HEIGHT = 720.0, 258.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 56.0, 708.0, 38.0, 220.0
_TICKS_ABOUT = 5
_LABELS_AT_MOST = 7
_STEPS_OF_FUNNEL = 60


@dataclass(frozen=True, slots=True)
class _Axes:
    """From what is counted to places in the drawing."""

    columns: float
    low: float
    high: float

    def x(self, column: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * column / max(self.columns, 1e-9), 1)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(_BOTTOM - (_BOTTOM - _TOP) * share, 1)


def figure_svg(figure: Figure, about: str) -> str:
    """A chart over weeks. `about` says in words what it shows."""
    scale = figure.measure.scale
    points = figure.chart.points
    values = [one.point.value * scale for one in points]
    bounds = [bound * scale for one in points for bound in (one.low, one.high) if bound is not None]
    centres = [one.centre * scale for one in points]
    ticks = nice_ticks([*values, *bounds, *centres], from_zero=figure.measure.kind in {"p", "u"})
    axes = _Axes(float(len(points)), ticks[0], ticks[-1])
    parts = [*_frame(axes, ticks, figure.measure.unit), *_weeks(axes, figure)]
    parts += _levels(axes, figure)
    middles = [(axes.x(n + 0.5), axes.y(value)) for n, value in enumerate(values)]
    parts.append(_line(middles, "data"))
    for (x, y), one in zip(middles, points, strict=True):
        value = f"{one.point.label}: {one.point.value * scale:.1f} {figure.measure.unit}"
        parts.append(_mark(x, y, one.beyond, value))
    return _svg(f"{figure.measure.title}: {figure.checklist}", about, parts)


def _levels(axes: _Axes, figure: Figure) -> Iterator[str]:
    """Centre and limits as steps, anew for each version of the documents."""
    scale, start = figure.measure.scale, 0
    for number, part in enumerate(figure.chart.parts):
        for name in ("centre", "low", "high"):
            steps = []
            for place, one in enumerate(part.points, start=start):
                level = getattr(one, name)
                if level is not None:
                    y = axes.y(level * scale)
                    steps += [(axes.x(place), y), (axes.x(place + 1), y)]
            if steps:
                yield _line(steps, "centre" if name == "centre" else "limit")
        if number:
            x = axes.x(start)
            yield f'<line class="change" x1="{x}" y1="{_TOP}" x2="{x}" y2="{_BOTTOM}"/>'
        label = escape(f"version {part.name[:6]}")
        yield f'<text class="note" x="{axes.x(start) + 3}" y="{_TOP - 6}">{label}</text>'
        start += len(part.points)


def _weeks(axes: _Axes, figure: Figure) -> Iterator[str]:
    points = figure.chart.points
    every = max(ceil(len(points) / _LABELS_AT_MOST), 1)
    for place in range(0, len(points), every):
        x = axes.x(place + 0.5)
        yield f'<line class="tick" x1="{x}" y1="{_BOTTOM}" x2="{x}" y2="{_BOTTOM + 4}"/>'
        label = escape(points[place].point.label)
        yield f'<text x="{x}" y="{_BOTTOM + 17}" text-anchor="middle">{label}</text>'
    yield (f'<text x="{_RIGHT}" y="{_BOTTOM + 34}" text-anchor="end">week, by its Monday</text>')


def funnel_svg(funnel: Funnel, about: str) -> str:
    """Theatres as points over their numbers of cases, between the limits."""
    centre, scale = funnel_centre(funnel), funnel.scale
    most = max(cases for *_, cases in funnel.points) * 1.15
    least = max(min(cases for *_, cases in funnel.points) * 0.5, 1.0)
    curve = [least + (most - least) * n / _STEPS_OF_FUNNEL for n in range(_STEPS_OF_FUNNEL + 1)]
    bounds = [funnel_limits(centre, cases) for cases in curve]
    shares = [share * scale for _, share, _ in funnel.points]
    ticks = nice_ticks([*shares, *(one * scale for pair in bounds for one in pair)], False)
    axes = _Axes(most, ticks[0], ticks[-1])
    parts = list(_frame(axes, ticks, funnel.unit))
    for side in (0, 1):
        line = [
            (axes.x(cases), axes.y(pair[side] * scale))
            for cases, pair in zip(curve, bounds, strict=True)
        ]
        parts.append(_line(line, "limit"))
    level = axes.y(centre * scale)
    parts.append(_line([(axes.x(least), level), (axes.x(most), level)], "centre"))
    for tick in nice_ticks([0.0, most], from_zero=True):
        if tick <= most:
            x = axes.x(tick)
            parts.append(f'<text x="{x}" y="{_BOTTOM + 17}" text-anchor="middle">{tick:g}</text>')
    parts.append(f'<text x="{_RIGHT}" y="{_BOTTOM + 34}" text-anchor="end">cases</text>')
    for number, (theatre, share, cases) in enumerate(funnel.points, start=1):
        x, y = axes.x(cases), axes.y(share * scale)
        low, high = funnel_limits(centre, cases)
        parts.append(_mark(x, y, not low <= share <= high, theatre))
        parts.append(f'<text class="note" x="{x + 6}" y="{y - 5}">{number}</text>')
    return _svg(funnel.title, about, parts)


def nice_ticks(values: Sequence[float], from_zero: bool) -> list[float]:
    """Ticks that hold all values, at steps of 1, 2 or 5 times a power of ten."""
    low, high = min(values), max(values)
    low = min(low, 0.0) if from_zero else low
    if high <= low:
        low, high = low - 1, high + 1
    rough = (high - low) / _TICKS_ABOUT
    power = 10.0 ** floor(log10(rough))
    step = next(one * power for one in (1, 2, 5, 10) if one * power >= rough)
    first, last = floor(low / step), ceil(high / step)
    return [round(number * step, 10) for number in range(first, last + 1)]


def _frame(axes: _Axes, ticks: Sequence[float], unit: str) -> Iterator[str]:
    for tick in ticks:
        y = axes.y(tick)
        yield f'<line class="grid" x1="{_LEFT}" y1="{y}" x2="{_RIGHT}" y2="{y}"/>'
        yield f'<text x="{_LEFT - 6}" y="{y + 4}" text-anchor="end">{tick:g}</text>'
    yield f'<text x="4" y="12">{escape(unit)}</text>'


def _line(points: Sequence[tuple[float, float]], kind: str) -> str:
    places = " ".join(f"{x},{y}" for x, y in points)
    return f'<polyline class="{kind}" points="{places}"/>'


def _mark(x: float, y: float, beyond: bool, title: str) -> str:
    """A dot; beyond the limits a larger open square about it, so that it prints."""
    ring = (
        f'<rect class="beyond" x="{x - 6}" y="{y - 6}" width="12" height="12"/>' if beyond else ""
    )
    return (
        f'<g><title>{escape(title)}</title><circle class="dot" cx="{x}" cy="{y}" r="3"/>{ring}</g>'
    )


def _svg(title: str, about: str, parts: Sequence[str]) -> str:
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" '
        f'aria-label="{escape(title, quote=True)}. {escape(about, quote=True)}">'
        f"{''.join(parts)}</svg>"
    )
