"""Where everything stands in the drawing of a case over time. Coordinates in SVG user units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from voicelist.record.journal import Entry
from voicelist.record.log import Names, event_words
from voicelist.record.times import SOUND, Moment, moments
from voicelist.record.view import CaseView
from voicelist.session import records as rec
from voicelist.session.flow_records import MilestoneTold, SectionAsked
from voicelist.session.record_base import Record
from voicelist.session.records import from_body

WIDTH = 760.0
PLOT_FROM = 172.0
PLOT_TO = 748.0
ROW = 13.0
TOP = 26.0
_LABEL_AT_MOST = 30
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400)
_TICKS_AT_MOST = 10
_MINUTES_FROM_S = 180.0
MISMATCH = "mismatch"
_NAMELESS = Names({}, {})


@dataclass(frozen=True, slots=True)
class Mark:
    """A sign at `x`. `shape` is a status of an item, or mismatch, accepted, undone, notice."""

    x: float
    shape: str
    title: str


@dataclass(frozen=True, slots=True)
class Bar:
    """Something that lasted."""

    x: float
    width: float
    title: str


@dataclass(slots=True)
class Row:
    """One line of the drawing; `y` is its middle."""

    label: str
    y: float
    calls: list[float] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)

    @property
    def span(self) -> tuple[float, float] | None:
        """From the first call to the last sign."""
        every = [*self.calls, *(mark.x for mark in self.marks)]
        return (min(every), max(every)) if self.calls and len(every) > 1 else None


@dataclass(frozen=True, slots=True)
class Panel:
    """One run: its own axis, since durations never cross runs. `ticks` are (x, label)."""

    run: str
    source: str
    started_at: str
    started_local: str
    time_base: str
    unit: str
    ticks: tuple[tuple[float, str], ...]
    items: tuple[Row, ...]
    tracks: tuple[Row, ...]
    bottom: float


def timeline(view: CaseView, entries: Sequence[Entry]) -> tuple[Panel, ...]:
    """A panel for each run."""
    names = Names.of(view)
    timed = list(zip(entries, moments(entries), strict=True))
    panels = []
    for run, group in groupby(timed, key=lambda pair: pair[0].run):
        events = [(from_body(entry.kind, entry.body), at) for entry, at in group]
        source = next((one.source for one in view.runs if one.run == run), None)
        if source is None:
            continue  # late entries: nothing was said in that run
        panels.append(_panel(source, events, names))
    return tuple(panels)


@dataclass(frozen=True, slots=True)
class _Axis:
    span_s: float

    def x(self, t_s: float) -> float:
        share = min(max(t_s / self.span_s, 0.0), 1.0)
        return round(PLOT_FROM + share * (PLOT_TO - PLOT_FROM), 1)

    @property
    def unit(self) -> str:
        return "minutes" if self.span_s >= _MINUTES_FROM_S else "seconds"

    def ticks(self) -> Iterable[tuple[float, str]]:
        step = next((one for one in _STEPS_S if self.span_s / one <= _TICKS_AT_MOST), _STEPS_S[-1])
        if self.unit == "minutes":
            step = max(step, 30)
        for number in range(int(self.span_s // step) + 1):
            t_s = number * step
            shown = t_s / 60 if self.unit == "minutes" else t_s
            yield self.x(t_s), f"{shown:g}"


def _panel(source: str, events: Sequence[tuple[Record, Moment]], names: Names) -> Panel:
    first, last = events[0][1], events[-1][1]
    axis = _Axis(max(last.t_s, 1.0))
    rows: dict[str, Row] = {}
    for record, at in events:
        item = getattr(record, "item", "")
        if item:
            label = _short(names.items.get(item, item))
            row = rows.setdefault(item, Row(label, TOP + ROW * (len(rows) + 0.5)))
            _take(row, record, axis.x(at.t_s), names)
    below = TOP + ROW * len(rows) + 8
    tracks = [track for track in _tracks(events, axis) if track.bars or track.marks]
    for number, track in enumerate(tracks):
        track.y = below + ROW * (number + 0.5)
    return Panel(
        first.run,
        source,
        first.at,
        first.local,
        first.base,
        axis.unit,
        tuple(axis.ticks()),
        tuple(rows.values()),
        tuple(tracks),
        below + ROW * len(tracks) + 2,
    )


def _short(label: str) -> str:
    if len(label) <= _LABEL_AT_MOST:
        return label
    return label[: _LABEL_AT_MOST - 1] + "\N{HORIZONTAL ELLIPSIS}"


def _take(row: Row, record: Record, x: float, names: Names) -> None:
    title = event_words(record, names)
    match record:
        case rec.Called():
            row.calls.append(x)
        case rec.Answered():
            row.marks.append(Mark(x, record.answer, title))
        case rec.ReadBack(about="mismatch"):
            row.marks.append(Mark(x, MISMATCH, title))
        case rec.Accepted():
            row.marks.append(Mark(x, "accepted", title))
        case rec.Undone():
            row.marks.append(Mark(x, "undone", title))


def _tracks(events: Sequence[tuple[Record, Moment]], axis: _Axis) -> tuple[Row, ...]:
    """What is not about one item: speech of the assistant and of the team, and the equipment.

    A recording rests while the assistant speaks, so that on sample time its speech has no place.
    """
    speaking = Row("assistant speaking", 0)
    heard = Row("heard for the checklist", 0)
    ignored = Row("other talk, not kept", 0)
    equipment = Row("equipment and clock", 0)
    course = Row("milestones, as told", 0)
    for record, at in events:
        title = event_words(record, _NAMELESS)
        match record:
            case rec.Said() if at.base != SOUND:
                speaking.bars.append(_bar(axis, at.t_s - record.seconds, at.t_s, title))
            case rec.Heard() if record.status != "not-taken":
                track = ignored if record.status == "not-for-us" else heard
                track.bars.append(_heard_bar(axis, record, at, title))
            case rec.Noticed() | rec.ClockChanged():
                equipment.marks.append(Mark(axis.x(at.t_s), "notice", title))
            case MilestoneTold() | SectionAsked():
                course.marks.append(Mark(axis.x(at.t_s), "notice", title))
    return course, speaking, heard, ignored, equipment


def _heard_bar(axis: _Axis, record: rec.Heard, at: Moment, title: str) -> Bar:
    start_s, end_s = record.start_s, record.end_s
    if start_s is None or end_s is None:
        return _bar(axis, at.t_s, at.t_s, title)
    if at.base == SOUND:
        return _bar(axis, start_s, end_s, title)
    return _bar(axis, at.t_s - (end_s - start_s), at.t_s, title)


def _bar(axis: _Axis, start_s: float, end_s: float, title: str) -> Bar:
    x = axis.x(start_s)
    return Bar(x, max(round(axis.x(end_s) - x, 1), 1.2), title)
