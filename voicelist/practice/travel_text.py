"""Travel of the pedal against output, drawn in letters for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voicelist.documents.wording import number
from voicelist.figures.series import Point, Trace, Travel
from voicelist.record.words import named

_NAME_COLUMNS, _POSITION_COLUMNS = 11, 11
_RISING = " \N{LOWER ONE EIGHTH BLOCK}\N{LOWER ONE QUARTER BLOCK}\N{LOWER THREE EIGHTHS BLOCK}"
_RISING += "\N{LOWER HALF BLOCK}\N{LOWER FIVE EIGHTHS BLOCK}\N{LOWER THREE QUARTERS BLOCK}"
_RISING += "\N{LOWER SEVEN EIGHTHS BLOCK}\N{FULL BLOCK}"
# The same where a terminal shows plain letters alone.
_PLAIN = " .:-=+*#@"


def travel_lines(travel: Travel, *, plain: bool = False) -> tuple[str, ...]:
    """One line a quantity: how much of its value is given along the travel, and the value."""
    return tuple(_lines(travel, _PLAIN if plain else _RISING))


def _lines(travel: Travel, steps: str) -> Iterator[str]:
    ends = travel.deepest + 1
    names = "".join(f"|{at}".ljust(_POSITION_COLUMNS) for at in range(ends))
    yield f"{'position'.ljust(_NAME_COLUMNS)}{names}|"
    yield _line("irrigation", travel.irrigation, 1.0, ends, steps, "on or off")
    for trace in travel.traces:
        name = named(trace.quantity)[0]
        yield _line(name, trace.points, trace.value, ends, steps, _value(trace))


def _value(trace: Trace) -> str:
    value = number(trace.value)
    if trace.control == "linear":
        return f"{number(trace.minimum)} to {value} {trace.unit}, linear"
    return f"{value} {trace.unit}, fixed"


def _line(
    name: str, points: Sequence[Point], whole: float, ends: int, steps: str, told: str
) -> str:
    drawn = []
    for column in range(ends * _POSITION_COLUMNS):
        if column % _POSITION_COLUMNS == 0:
            drawn.append("|")
            continue
        share = _at(points, (column + 0.5) / _POSITION_COLUMNS) / whole if whole else 0.0
        drawn.append(steps[_step(share, len(steps) - 1)])
    return f"{name.ljust(_NAME_COLUMNS)}{''.join(drawn)}| {told}"


def _step(share: float, most: int) -> int:
    """Which of the steps: the lowest is nothing at all."""
    return 0 if share <= 0 else max(1, min(most, round(share * most)))


def _at(points: Sequence[Point], travel: float) -> float:
    """The value at a place of the travel, between points that are joined by straight lines."""
    before = points[0]
    for one in points[1:]:
        if one[0] >= travel:
            wide = one[0] - before[0]
            part = (travel - before[0]) / wide if wide else 1.0
            return before[1] + (one[1] - before[1]) * part
        before = one
    return points[-1][1]
