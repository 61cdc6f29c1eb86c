"""The report: one self-contained page for screen and paper. The template is `report.html.j2`."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment
from markupsafe import Markup

from voicelist.record import words
from voicelist.record.about import about, items_words, totals_words
from voicelist.record.attention import NOTHING, SETTLED, STANDS, first_to_be_read
from voicelist.record.journal import Entry
from voicelist.record.log import Names, event_words
from voicelist.record.pages import page_templates
from voicelist.record.timeline import PLOT_FROM, PLOT_TO, WIDTH, timeline
from voicelist.record.times import Moment, both_words, moments
from voicelist.record.view import STATUSES, CaseView, case_view
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
            facts=about(view),
            points=first_to_be_read(view),
            titles={True: STANDS, False: SETTLED},
            nothing=NOTHING,
            totals=totals_words(view),
            items=items_words(view),
            statuses=STATUSES,
            words=words,
            drawing={"width": WIDTH, "left": PLOT_FROM, "right": PLOT_TO},
        )
    )
    return page.encode()


@cache
def _environment() -> Environment:
    environment = page_templates("voicelist.record")
    environment.filters["when"] = when
    environment.filters["minus"] = minus
    environment.globals["both"] = both_words
    return environment


def when(moment: Moment | None) -> str:
    """The time of an event as the report shows it: of the day, or into the sound."""
    if moment is None:
        return "\N{EN DASH}"
    return moment.shown


def minus(text: object) -> str:
    """A minus sign before numbers in place of a hyphen."""
    return _MINUS.sub("\N{MINUS SIGN}", str(text))


def _log(view: CaseView, entries: Sequence[Entry]) -> Iterator[tuple[Entry, Moment, str]]:
    names = Names.of(view)
    for entry, moment in zip(entries, moments(entries), strict=True):
        yield entry, moment, event_words(from_body(entry.kind, entry.body), names)
