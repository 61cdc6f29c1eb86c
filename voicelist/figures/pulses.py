"""The picture of a train of pulses: power against time, at full pedal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicelist.documents.wording import number
from voicelist.figures.canvas import (
    DASHES,
    FAINT,
    INK,
    SOFT,
    WIDTH_IN,
    Picture,
    PictureTold,
    Sheet,
    beside,
)
from voicelist.figures.series import Train, shown_rate

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEFT_IN, _RIGHT_IN, _BELOW_IN, _PLOT_IN = 0.8, 0.85, 0.5, 2.1
_NOTE = (
    "Power at full pedal, as the card has it. Pulses are drawn with square edges, their rate as "
    "pulses per second: a count on a machine's screen may be something else. voicelist does not "
    "know what a machine delivers."
)


def pulses_picture(train: Train, under: str, origin: str, banner: str) -> Picture:
    """`under` says whose settings these are."""
    waits = "The pulses wait until the tip is occluded." if train.on_occlusion else ""
    told = PictureTold(
        name="pulses",
        title="Ultrasound over time",
        under=under,
        about=_about(train),
        origin=origin,
        notes=tuple(note for note in (_NOTE, train.assumed, waits) if note),
        banner=banner,
    )

    def draw(sheet: Sheet) -> None:
        axes = sheet.axes(_LEFT_IN, _BELOW_IN, WIDTH_IN - _LEFT_IN - _RIGHT_IN, _PLOT_IN)
        xs, ys = zip(*train.points, strict=True)
        top = max(train.power_percent * 1.5, 1.0)
        axes.set_xlim(0, train.until_ms)
        axes.set_ylim(0, top)
        axes.fill_between(xs, ys, facecolor=FAINT, edgecolor="none")
        axes.plot(xs, ys, color=INK, gid="line-power")
        axes.set_yticks(sorted({0.0, train.power_percent}))
        axes.set_yticklabels([number(one) for one in sorted({0.0, train.power_percent})])
        axes.set_xlabel("time, ms")
        axes.set_ylabel("power, %")
        beside(axes, train.power_percent, f"{number(train.power_percent)} %")
        if train.timing is not None:
            _mean(axes, train)
            _measured(axes, train)

    return Picture(told, _BELOW_IN + _PLOT_IN + 0.1, draw)


def _mean(axes: Axes, train: Train) -> None:
    """The power over the whole train, pauses included."""
    axes.axhline(
        train.mean_percent, color=SOFT, linestyle=DASHES[1], linewidth=1.1, gid="line-mean"
    )
    beside(axes, train.mean_percent, f"mean\n{train.mean_percent:.3g} %")


def _measured(axes: Axes, train: Train) -> None:
    """Lengths of pulse, pause and period above the first pulses, as on a workshop drawing."""
    timing = train.timing
    if timing is None:
        return
    low, high = train.power_percent * 1.14, train.power_percent * 1.38
    period, on = timing.period_ms, timing.on_time_ms
    _length(axes, 0.0, period, high, f"period {period:.3g} ms")
    _length(axes, period, period + on, low, f"on {on:.3g} ms")
    if timing.off_time_ms > 0:
        _length(axes, 3 * period + on, 4 * period, low, f"off {timing.off_time_ms:.3g} ms")


def _length(axes: Axes, start: float, end: float, y: float, text: str) -> None:
    axes.annotate(
        "",
        (end, y),
        xytext=(start, y),
        arrowprops={
            "arrowstyle": "|-|, widthA=0.3, widthB=0.3",
            "color": SOFT,
            "linewidth": 0.8,
            "shrinkA": 0,
            "shrinkB": 0,
        },
    )
    axes.annotate(
        text, ((start + end) / 2, y), xytext=(0, 4), textcoords="offset points", ha="center", size=8
    )


def _about(train: Train) -> str:
    power = number(train.power_percent)
    if train.timing is None:
        return f"Power against time: {power} % without pauses (continuous)."
    return (
        f"Power against time: pulses of {power} % with pauses of no power between; "
        f"{shown_rate(train.timing)}; over the whole train {train.mean_percent:.3g} % on average."
    )
