"""The picture of a case over time: the drawing of the report (`record.timeline`) as a file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from voicelist.figures.canvas import INK, LINE, SOFT, WIDTH_IN, Picture, PictureTold, Sheet, bare
from voicelist.record.journal import Entry
from voicelist.record.timeline import PLOT_FROM, PLOT_TO, WIDTH, Panel, Row, timeline
from voicelist.record.view import CaseView, case_view
from voicelist.record.words import STATUS, hash_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_SCALE_IN = WIDTH_IN / WIDTH
_CAPTION = 24.0
_KEY_ROW = 15.0
_KEY_COLUMNS = 5
_OPEN = {"markerfacecolor": "white", "markeredgecolor": INK, "markeredgewidth": 1.1}
_FULL = {"markerfacecolor": INK, "markeredgecolor": INK, "markeredgewidth": 0.5}
_CROSS = {"markeredgecolor": INK, "markeredgewidth": 1.3}
_SIGNS: dict[str, tuple[str, dict[str, Any]]] = {
    "said-done": ("s", _FULL),
    "value": ("D", _FULL),
    "mismatch": ("D", _OPEN),
    "accepted": ("P", _OPEN),
    "said-fault": ("^", _OPEN),
    "deferred": ("o", _OPEN),
    "not-applicable": ("x", _CROSS),
    "undone": ("<", _OPEN),
    "notice": ("v", _FULL),
}
_TOLD = {
    "called": "called, and the wait",
    "mismatch": "mismatch read back",
    "accepted": "mismatch accepted",
    "undone": "taken back",
    "notice": "equipment",
}


def timeline_picture(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> Picture:
    """A case from its journal; `amiss` as for exports. Raises RecordError if the entries do not
    make a case."""
    view = case_view(entries, amiss)
    panels = timeline(view, entries)
    rows = -(-(len(_SIGNS) + 1) // _KEY_COLUMNS)
    units = sum(panel.bottom + _CAPTION for panel in panels) + _KEY_ROW * rows + 8
    told = PictureTold(
        name="timeline",
        title=f"Case {view.case} over time",
        under=f"{view.checklist_title or view.checklist_id}; {view.state}",
        about=_about(view, panels),
        origin=f"From the record of case {view.case}, head {hash_words(view.head)}.",
        notes=("What was said and heard; no proof that it was done.",),
        banner=view.banner,
    )

    def draw(sheet: Sheet) -> None:
        top = units
        for number, panel in enumerate(panels, start=1):
            top -= panel.bottom + _CAPTION
            axes = _room(sheet, top, panel.bottom + _CAPTION)
            axes.set_ylim(panel.bottom, -_CAPTION)
            _panel(axes, panel, f"Run {number} of {len(panels)}, {_caption(panel)}")
        _key(_room(sheet, 0.0, _KEY_ROW * rows), rows)

    return Picture(told, units * _SCALE_IN, draw)


def _room(sheet: Sheet, bottom: float, height: float) -> Axes:
    axes = sheet.axes(0.0, bottom * _SCALE_IN, WIDTH_IN, height * _SCALE_IN)
    bare(axes)
    axes.set_xlim(0, WIDTH)
    return axes


def _caption(panel: Panel) -> str:
    if panel.time_base == "sound":
        return f"{panel.source}: {panel.unit} into the sound"
    began = panel.started_at[:19].replace("T", " ")
    return f"{panel.source}: {panel.unit} since it began, {began} UTC"


def _panel(axes: Axes, panel: Panel, caption: str) -> None:
    axes.text(26, -8, caption, color=SOFT, va="center", size=8)
    for x, label in panel.ticks:
        axes.plot((x, x), (22, panel.bottom - 2), color=LINE, linewidth=0.6)
        axes.text(x, 17, label, ha="center", va="baseline", size=7, color=SOFT)
    axes.text(PLOT_FROM - 12, 17, panel.unit, ha="right", va="baseline", size=7, color=SOFT)
    axes.plot((PLOT_FROM, PLOT_TO), (22, 22), color=INK, linewidth=0.8)
    for row in panel.items:
        _row(axes, row, INK)
    for row in panel.tracks:
        _row(axes, row, SOFT)


def _row(axes: Axes, row: Row, ink: str) -> None:
    axes.text(PLOT_FROM - 12, row.y, row.label, ha="right", va="center", size=7, color=ink)
    if row.span:
        axes.plot(row.span, (row.y, row.y), color=INK, linewidth=1.0)
    for x in row.calls:
        axes.plot((x, x), (row.y - 4, row.y + 4), color=INK, linewidth=1.1)
    for bar in row.bars:
        ends = (bar.x, bar.x + bar.width)
        axes.plot(ends, (row.y, row.y), color=SOFT, linewidth=4.0, solid_capstyle="butt")
    for mark in row.marks:
        _sign(axes, mark.x, row.y, mark.shape)


def _sign(axes: Axes, x: float, y: float, shape: str) -> None:
    marker, look = _SIGNS.get(shape, ("o", _OPEN))
    size = {"D": 5.0, "P": 7.0}.get(marker, 5.6)
    axes.plot([x], [y], marker=marker, markersize=size, linestyle="none", **look)


def _key(axes: Axes, rows: int) -> None:
    """What each sign means, in rows below the panels."""
    axes.set_ylim(_KEY_ROW * rows, 0)
    step = (WIDTH - 40) / _KEY_COLUMNS
    for place, shape in enumerate(("called", *_SIGNS)):
        x = 30 + step * (place % _KEY_COLUMNS)
        y = _KEY_ROW * (place // _KEY_COLUMNS + 0.5)
        if shape == "called":
            axes.plot((x - 4, x + 6), (y, y), color=INK, linewidth=1.0)
            axes.plot((x - 4, x - 4), (y - 4, y + 4), color=INK, linewidth=1.1)
        else:
            _sign(axes, x, y, shape)
        text = _TOLD.get(shape) or STATUS[shape]
        axes.text(x + 10, y, text, va="center", size=7, color=SOFT)


def _about(view: CaseView, panels: Sequence[Panel]) -> str:
    counts = ", ".join(f"{STATUS[name]} {count}" for name, count in view.counts.items() if count)
    runs = "; ".join(
        f"{panel.source}, {len(panel.items)} items over {panel.ticks[-1][1]} {panel.unit} or more"
        for panel in panels
    )
    return (
        f"Calls and answers of case {view.case} over time in {len(panels)} "
        f"run{'s' if len(panels) > 1 else ''} ({runs}). Items: {counts}. "
        f"Mismatches read back: {len(view.mismatches)}."
    )
