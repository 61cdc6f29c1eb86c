"""The report: one self-contained page for screen and paper. The template is `report.html.j2`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicelist.record import words
from voicelist.record.journal import Entry
from voicelist.record.log import Names, event_words
from voicelist.record.timeline import PLOT_FROM, PLOT_TO, WIDTH, timeline
from voicelist.record.times import SOUND, Moment, moments
from voicelist.record.view import STATUSES, CaseView, ItemView, case_view
from voicelist.session import state as st
from voicelist.session.records import from_body

_MINUS = re.compile(r"(?<![\w.-])-(?=\d)")


@dataclass(frozen=True, slots=True)
class PageFigure:
    """A picture for the page: `svg` is markup, with a text for those who cannot see it."""

    caption: str
    svg: str


@dataclass(frozen=True, slots=True)
class PageFigures:
    """The pictures of plan and card; `missing` says why there are none, where there should be."""

    figures: tuple[PageFigure, ...]
    missing: str = ""


def as_html(
    entries: Sequence[Entry], figures: PageFigures | None = None, amiss: Sequence[str] = ()
) -> bytes:
    """The report of one case. No scripts, nothing from elsewhere. Pictures of plan and card are
    drawn by somebody else (`voicelist.figures`), for a record knows no documents."""
    view = case_view(entries, amiss)
    page = (
        _environment()
        .get_template("report.html.j2")
        .render(
            view=view,
            panels=timeline(view, entries),
            figures=figures or PageFigures(()),
            markup=Markup,
            log=tuple(_log(view, entries)),
            facts=tuple(_facts(view)),
            attention=_Attention(view),
            statuses=STATUSES,
            words=words,
            drawing={"width": WIDTH, "left": PLOT_FROM, "right": PLOT_TO},
        )
    )
    return page.encode()


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("voicelist.record", package_path="."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["when"] = when
    environment.filters["minus"] = minus
    return environment


def when(moment: Moment | None) -> str:
    """The time of an event as the report shows it: of the day, or into the sound."""
    if moment is None:
        return "\N{EN DASH}"
    return words.clock_words(moment.t_s) if moment.base == SOUND else moment.at[11:19]


def minus(text: object) -> str:
    """A minus sign before numbers in place of a hyphen."""
    return _MINUS.sub("\N{MINUS SIGN}", str(text))


class _Attention:
    """What a reader has to see before everything else."""

    def __init__(self, view: CaseView) -> None:
        self.plan_changes = view.plan_changes
        self.hand_overs = view.team.hand_overs
        self.equipment_changes = view.team.equipment_changes
        self.late_entries = view.late_entries
        self.mismatches = view.mismatches
        self.reported = [(item, one) for item in view.items for one in item.faults]
        self.taken_back = [(item, one) for item in view.items for one in item.undone]
        self.deferred = _with_status(view, st.DEFERRED)
        self.unanswered = _with_status(view, st.WAITING, st.CALLED)
        self.made_due = [item for item in view.items if item.made_due_and_open]
        self.not_asked = _with_status(view, st.NOT_ASKED)
        self.notices = view.notices
        self.clock_changes = view.clock_changes

    @property
    def is_empty(self) -> bool:
        lists: tuple[Sequence[Any], ...] = (
            self.plan_changes,
            self.hand_overs,
            self.equipment_changes,
            self.late_entries,
            self.mismatches,
            self.reported,
            self.taken_back,
            self.deferred,
            self.unanswered,
            self.made_due,
            self.not_asked,
            self.notices,
            self.clock_changes,
        )
        return not any(lists)


def _with_status(view: CaseView, *statuses: str) -> list[ItemView]:
    return [item for item in view.items if item.status in statuses]


def _facts(view: CaseView) -> Iterator[tuple[str, str]]:
    """The head of the page, in pairs of name and text."""
    ended = view.ended_at or f"not ended; last event {view.last_at}"
    roles = dict.fromkeys(role.replace("-", " ") for run in view.runs for role in run.roles)
    yield "state", view.state + (f" ({view.reason})" if view.reason else "")
    yield "started", _day_and_time(view.started_at)
    yield "ended", _day_and_time(ended)
    for name, value in view.plan.items():
        yield f"plan: {name}", words.value_words(name, value)
    yield from view.team.facts()
    yield "card", view.card or "none"
    yield "source", _each(run.source for run in view.runs)
    yield "times shown", _each(words.TIME_BASE[run.time_base] for run in view.runs)
    yield "channels", ", ".join(roles) or "one for everybody"
    yield "software", _each(f"voicelist {run.software}" for run in view.runs)
    yield "speech model", _each(_model(run.model) for run in view.runs)
    yield "events", f"{view.events} in {len(view.runs)} run{'s' if len(view.runs) > 1 else ''}"


def _each(texts: Iterable[str]) -> str:
    """Different texts of several runs, in order."""
    return ", then ".join(dict.fromkeys(texts))


def _model(model: Mapping[str, Any] | None) -> str:
    """Whatever says which model it was; long fingerprints by their beginning (the journal has the
    rest)."""
    if not model:
        return "none, typed"
    shown = {name: str(value) for name, value in model.items() if value}
    return ", ".join(
        f"{name} {text[:12]}\N{HORIZONTAL ELLIPSIS}" if len(text) > 40 else f"{name} {text}"
        for name, text in shown.items()
    )


def _day_and_time(text: str) -> str:
    return re.sub(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)\.\d+Z", r"\1 \2 UTC", text)


def _log(view: CaseView, entries: Sequence[Entry]) -> Iterator[tuple[Entry, Moment, str]]:
    names = Names.of(view)
    for entry, moment in zip(entries, moments(entries), strict=True):
        yield entry, moment, event_words(from_body(entry.kind, entry.body), names)
