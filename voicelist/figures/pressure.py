"""The picture of pressures: how vacuum rises behind an occluded tip, how the eye's falls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelist.documents.wording import number
from voicelist.figures.canvas import (
    DASHES,
    FAINT,
    INK,
    LINE,
    SOFT,
    WIDTH_IN,
    Picture,
    PictureTold,
    Sheet,
    key,
    labelled,
)
from voicelist.figures.series import Fall, Rise

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEFT_IN, _BETWEEN_IN, _BELOW_IN, _PLOT_IN = 0.75, 0.75, 0.5, 2.3
_RISE_NOTE = (
    "Vacuum: a teaching model from memory, in which the rise time goes as one over the flow; the "
    "seconds depend on tubing and machine, and are measured on site."
)
_FALL_NOTE = (
    "Pressure in the eye: infusion pressure less flow times the resistance of the line, from "
    "memory, at rest and without surge; leakage 0 to 15 cc/min is a published laboratory range."
)


@dataclass(frozen=True, slots=True)
class Pressures:
    """What is drawn: the vacuum's limit with its rises, the flow of the card, and, where infusion
    is known, how the pressure in the eye falls."""

    limit_mmHg: float
    flow_cc_per_min: float
    rises: tuple[Rise, ...]
    infusion_mmHg: float | None
    falls: tuple[Fall, ...]


def pressure_picture(
    pressures: Pressures, under: str, origin: str, notes: Sequence[str], banner: str
) -> Picture:
    """`notes` say what was assumed, each in a sentence."""
    told = PictureTold(
        name="pressure",
        title="Vacuum and pressure in the eye" if pressures.falls else "Vacuum",
        under=under,
        about=_about(pressures),
        origin=origin,
        notes=(_RISE_NOTE, *((_FALL_NOTE,) if pressures.falls else ()), *notes),
        banner=banner,
    )
    both = bool(pressures.falls)
    width_in = (WIDTH_IN - _LEFT_IN - 0.35 - (_BETWEEN_IN if both else 0.0)) / (2 if both else 1)

    def draw(sheet: Sheet) -> None:
        _rises(sheet.axes(_LEFT_IN, _BELOW_IN, width_in, _PLOT_IN), pressures)
        if both:
            left_in = _LEFT_IN + width_in + _BETWEEN_IN
            _falls(sheet.axes(left_in, _BELOW_IN, width_in, _PLOT_IN), pressures)

    return Picture(told, _BELOW_IN + _PLOT_IN + 0.2, draw)


def _rises(axes: Axes, pressures: Pressures) -> None:
    limit = pressures.limit_mmHg
    axes.set_xlim(0, pressures.rises[0].points[-1][0])
    axes.set_ylim(0, max(limit, 1.0) * 1.15)
    axes.axhline(limit, color=LINE, linewidth=0.8)
    for place, rise in enumerate(pressures.rises):
        xs, ys = zip(*rise.points, strict=True)
        mine = rise.flow_cc_per_min == pressures.flow_cc_per_min
        axes.plot(
            xs,
            ys,
            color=INK,
            linestyle=DASHES[0] if mine else DASHES[1 + place % 3],
            linewidth=1.8 if mine else 1.2,
            gid=f"line-vacuum-{number(rise.flow_cc_per_min)}",
            label=f"{number(rise.flow_cc_per_min)} cc/min: {rise.reached_s:.3g} s",
        )
    key(axes, "lower right")
    axes.set_yticks([0, limit], ["0", number(limit)])
    axes.set_xlabel("time after the tip is occluded, s")
    axes.set_ylabel("vacuum, mmHg", labelpad=4)


def _falls(axes: Axes, pressures: Pressures) -> None:
    falls = pressures.falls
    end = falls[0].points[-1][0]
    lowest = min(y for fall in falls for _, y in fall.points)
    infusion = pressures.infusion_mmHg or 0.0
    axes.set_xlim(0, end)
    axes.set_ylim(min(lowest * 1.1, 0.0), max(infusion, 1.0) * 1.15)
    axes.axhline(0, color=INK, linewidth=0.8)
    if lowest < 0:
        axes.axhspan(lowest * 1.1, 0, facecolor=FAINT, edgecolor=LINE, hatch="////", zorder=0)
        labelled(axes, end * 0.04, lowest * 0.55, "inflow cannot keep up", ha="left", size=8)
    for place, fall in enumerate(falls):
        xs, ys = zip(*fall.points, strict=True)
        axes.plot(
            xs,
            ys,
            color=INK,
            linestyle=DASHES[place % 4],
            linewidth=1.8 - 0.6 * place,
            gid=f"line-eye-{number(fall.leakage_cc_per_min)}",
            label=f"leakage {number(fall.leakage_cc_per_min)} cc/min",
        )
    flow = pressures.flow_cc_per_min
    axes.axvline(flow, color=SOFT, linewidth=0.9, linestyle=DASHES[2], gid="line-flow")
    axes.text(
        flow, axes.get_ylim()[1], f"card: {number(flow)} cc/min", ha="center", va="bottom", size=8
    )
    key(axes, "upper right")
    axes.set_xlabel("aspiration flow, cc/min")
    axes.set_ylabel("pressure in the eye, mmHg", labelpad=4)


def _about(pressures: Pressures) -> str:
    rises = ", ".join(
        f"{number(one.flow_cc_per_min)} cc/min in {one.reached_s:.3g} s" for one in pressures.rises
    )
    text = f"Vacuum rises evenly to its limit of {number(pressures.limit_mmHg)} mmHg: at {rises}."
    if not pressures.falls:
        return text
    flow = pressures.flow_cc_per_min
    falls = ", ".join(
        f"{_at(one, flow):.3g} mmHg with a leakage of {number(one.leakage_cc_per_min)} cc/min"
        for one in pressures.falls
    )
    return f"{text} At the card's flow of {number(flow)} cc/min the pressure in the eye is {falls}."


def _at(fall: Fall, flow: float) -> float:
    """The pressure at a flow: the lines are straight."""
    (x, y), (end_x, end_y) = fall.points[0], fall.points[-1]
    return y + (end_y - y) * (flow - x) / (end_x - x)
