"""The picture of a profile as it was said, beside the card."""

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
from voicelist.figures.said import SaidRow
from voicelist.record.words import named

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LEFT_IN, _RIGHT_IN, _STEP_IN, _PANEL_IN, _BELOW_IN = 1.15, 1.6, 0.72, 0.3, 0.42
_NOTES = (
    "Grey: within the tolerance of the card. Line: the card's value. Filled: what stood at the "
    "end. Open: said before. What was said; nobody knows what the machine was set to.",
)


def profile_picture(
    name: str, rows: tuple[SaidRow, ...], under: str, origin: str, banner: str
) -> Picture:
    """`name` is the item's, such as "the quadrant settings"."""
    told = PictureTold(
        name="profile",
        title=f"As said, beside the card: {name}",
        under=under,
        about=_about(name, rows),
        origin=origin,
        notes=_NOTES,
        banner=banner,
    )

    def draw(sheet: Sheet) -> None:
        for place, row in enumerate(reversed(rows)):
            bottom_in = _BELOW_IN + _STEP_IN * place
            width_in = WIDTH_IN - _LEFT_IN - _RIGHT_IN
            _row(sheet.axes(_LEFT_IN, bottom_in, width_in, _PANEL_IN), row)

    return Picture(told, _BELOW_IN + _STEP_IN * len(rows) - 0.2, draw)


def _row(axes: Axes, row: SaidRow) -> None:
    low, high = row.room
    axes.set_xlim(low, high)
    axes.set_ylim(0, 1)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.locator_params(axis="x", nbins=6)
    band = (max(row.card - row.tolerance, low), min(row.card + row.tolerance, high))
    axes.axvspan(*band, facecolor=FAINT, edgecolor=LINE, linewidth=0.8)
    axes.axvline(row.card, color=SOFT, linewidth=1.1, gid=f"line-card-{row.quantity}")
    for earlier in row.earlier:
        _mark(axes, earlier, "white")
    _mark(axes, row.said, INK)
    row_label(axes, f"{named(row.quantity)[0]}\n{row.unit}", _LEFT_IN)
    beside(axes, 0.9, f"said {number(row.said)}, card {number(row.card)}\n{_verdict(row)}")


def _mark(axes: Axes, x: float, filling: str) -> None:
    axes.plot(
        [x],
        [0.5],
        marker="D",
        markersize=6.5,
        markerfacecolor=filling,
        markeredgecolor=INK,
        linestyle="none",
        clip_on=False,
    )


def _verdict(row: SaidRow) -> str:
    said, card = row.controls
    control = f"\n{said}, card {card}" if said and said != card else ""
    if row.accepted:
        return f"accepted{control}"
    return ("within tolerance" if row.fits else "outside tolerance") + control


def _about(name: str, rows: tuple[SaidRow, ...]) -> str:
    parts = []
    for row in rows:
        before = "".join(f", before that {number(one)}" for one in row.earlier)
        parts.append(
            f"{named(row.quantity)[0]} said {number(row.said)} {row.unit}{before}, card "
            f"{number(row.card)} within {number(row.tolerance)}: {_verdict(row)}".replace(
                "\n", ", "
            )
        )
    return f"What was said for {name} beside the card: {'; '.join(parts)}."
