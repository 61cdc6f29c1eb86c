"""The picture of the pedal: what it gives over its travel in one phase of a card."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelist.documents.wording import number
from voicelist.figures.canvas import (
    FAINT,
    INK,
    LINE,
    SOFT,
    WIDTH_IN,
    Picture,
    PictureTold,
    Sheet,
    beside,
    row_label,
)
from voicelist.figures.series import Trace, Travel
from voicelist.record.words import named

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ADDS = {1: "irrigation", 2: "and aspiration", 3: "and ultrasound"}
_LEFT_IN, _RIGHT_IN = 1.15, 1.35
_STEP_IN, _PANEL_IN = 1.0, 0.78
_IRRIGATION_IN, _BELOW_IN, _NAMES_IN = 0.42, 0.5, 0.42
_NOTES = (
    "Each position is drawn equally wide; how wide it is, is set on the machine. A vacuum is a "
    "limit: with a flow pump it is reached when the tip is occluded. Power is that of the pulses, "
    "if there are any.",
)


def pedal_picture(travel: Travel, under: str, origin: str, irrigation: str, banner: str) -> Picture:
    """`under` says which card, grade and phase; `irrigation` how high or strong it is, or ""."""
    told = PictureTold(
        name="pedal",
        title=f"What the pedal gives: {travel.phase}",
        under=under,
        about=_about(travel, irrigation),
        origin=origin,
        notes=_NOTES,
        banner=banner,
    )
    irrigation_in = _BELOW_IN + _STEP_IN * len(travel.traces)

    def draw(sheet: Sheet) -> None:
        first = _panel(sheet, travel, irrigation_in, _IRRIGATION_IN)
        _irrigation(first, travel, irrigation)
        for place, trace in enumerate(reversed(travel.traces)):
            axes = _panel(sheet, travel, _BELOW_IN + _STEP_IN * place, _PANEL_IN)
            _trace(axes, trace)
            if place == 0:
                _travel_axis(axes)
        if not travel.traces:
            _travel_axis(first)
        _positions(first, travel)

    return Picture(told, irrigation_in + _IRRIGATION_IN + _NAMES_IN, draw)


def _panel(sheet: Sheet, travel: Travel, bottom_in: float, height_in: float) -> Axes:
    axes = sheet.axes(_LEFT_IN, bottom_in, WIDTH_IN - _LEFT_IN - _RIGHT_IN, height_in)
    end = travel.deepest + 1
    axes.set_xlim(0, end)
    axes.set_xticks(range(end + 1), [])
    axes.tick_params(axis="x", length=0)
    for position in range(1, end, 2):
        axes.axvspan(position, position + 1, facecolor=FAINT, edgecolor="none", zorder=0)
    for position in range(1, end):
        axes.axvline(position, color=LINE, linewidth=0.7, zorder=0)
    return axes


def _positions(axes: Axes, travel: Travel) -> None:
    """Names above the first panel."""
    for position in range(travel.deepest + 1):
        text = f"position {position}\n{_ADDS.get(position, 'at rest')}"
        axes.text(position + 0.5, 1.2, text, ha="center", va="bottom", size=8, linespacing=1.15)


def _irrigation(axes: Axes, travel: Travel, irrigation: str) -> None:
    xs, ys = zip(*travel.irrigation, strict=True)
    axes.plot(xs, ys, color=INK, gid="line-irrigation")
    axes.set_ylim(0, 1.12)
    axes.set_yticks([0, 1], ["off", "on"])
    row_label(axes, "irrigation", _LEFT_IN)
    beside(axes, 1.0, irrigation)


def _trace(axes: Axes, trace: Trace) -> None:
    xs, ys = zip(*trace.points, strict=True)
    top = max(trace.value, 1.0) * 1.15
    axes.plot(xs, ys, color=INK, gid=f"line-{trace.quantity}")
    axes.set_ylim(0, top)
    ticks = sorted({0.0, trace.minimum, trace.value})
    if len(ticks) == 3 and trace.minimum < 0.15 * trace.value:
        ticks.remove(0.0)  # the two numbers would be written over each other
    axes.set_yticks(ticks, [number(tick) for tick in ticks])
    row_label(axes, f"{named(trace.quantity)[0]}\n{trace.unit}", _LEFT_IN)
    value = number(trace.value)
    if trace.control == "linear":
        value = f"{number(trace.minimum)} to {value}"
    beside(axes, trace.value, f"{value} {trace.unit}\n{trace.control}")


def _travel_axis(axes: Axes) -> None:
    axes.set_xlabel("travel of the pedal, in positions: from rest to fully down", labelpad=9)
    axes.annotate(
        "",
        (1.0, -0.09),
        xytext=(0.0, -0.09),
        xycoords="axes fraction",
        arrowprops={"arrowstyle": "-|>", "color": SOFT, "linewidth": 0.8},
        annotation_clip=False,
    )


def _about(travel: Travel, irrigation: str) -> str:
    parts = [
        f"Over the travel of the pedal in the phase {travel.phase}: at rest nothing; irrigation on "
        f"from position 1{f' ({irrigation})' if irrigation else ''}"
    ]
    for trace in travel.traces:
        name, value = named(trace.quantity)[0], number(trace.value)
        begins = number(next(x for x, y in trace.points if x > 0))
        if trace.control == "linear":
            told = f"rises from {number(trace.minimum)} to {value} {trace.unit} (linear)"
        else:
            told = f"is {value} {trace.unit} whatever the travel (fixed)"
        parts.append(f"{name} in position {begins} {told}")
    if travel.deepest < 3:
        parts.append("position 3 is not used")
    return "; ".join(parts) + "."
