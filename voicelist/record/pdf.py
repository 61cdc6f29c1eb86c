"""The report as a PDF/A-2b file for an archive or a printer. The template is `report.typ`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from voicelist.record.about import about, counts_words, details_words, items_words, totals_words
from voicelist.record.attention import NOTHING, SETTLED, STANDS, first_to_be_read
from voicelist.record.html import minus
from voicelist.record.journal import Entry
from voicelist.record.times import Moment
from voicelist.record.view import CaseView, ItemView, case_view
from voicelist.record.words import (
    CAUTION,
    CHAIN_NOTE,
    FOOTNOTE,
    STATUS,
    hash_words,
    role_words,
    seconds_words,
)
from voicelist.session import state as st
from voicelist.typeset import typeset

_FOOT = (
    "What was said and heard; no proof that it was done. An aid to memory and record keeping, not "
    "a medical device."
)


def as_pdf(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """The report of one case, the same bytes for the same record."""
    view = case_view(entries, amiss)
    return typeset("voicelist.record", "report.typ", _data(view), view.last_at)


def _data(view: CaseView) -> dict[str, Any]:
    """What the template shows."""
    checklist = view.checklist_title or view.checklist_id
    return {
        "title": f"{f'{view.banner}: ' if view.banner else ''}{view.case}, {checklist}",
        "case": view.case,
        "checklist": checklist,
        "banner": view.banner,
        "foot": f"Case {view.case}. {_FOOT}",
        "problems": view.problems,
        "about": [(name, minus(text)) for name, text in about(view)],
        **{name: hash_words(getattr(view, name)) for name in ("head", "tree_head")},
        "caution": CAUTION,
        "changes": [
            _line("changed", one.field.replace("-", " "), one.words, one.at)
            for one in view.plan_changes
        ],
        "points": [
            {**_line(one.kind, one.name, one.words, one.at), "stands": one.stands}
            for one in first_to_be_read(view)
        ],
        "nothing": NOTHING,
        "titles": {"stands": STANDS, "settled": SETTLED},
        "counts": counts_words(view),
        "items": items_words(view),
        "totals": totals_words(view),
        "sections": [
            {
                "name": one.name[:1].upper() + one.name[1:],
                "rows": [_row(item) for item in one.items],
            }
            for one in view.sections
        ],
        "footnote": FOOTNOTE,
        "course": list(_course(view)),
        "not_started": ", ".join(view.course.not_started),
        "late": [
            _line("late", one.name or "the case", one.words, None, one.paper_time)
            for one in view.late_entries
        ],
        "chain": CHAIN_NOTE,
    }


def _line(
    kind: str, name: str, text: str, at: Moment | None, time: str | None = None
) -> dict[str, Any]:
    shown = time if time is not None else at.shown if at else ""
    return {"kind": kind, "name": name, "words": minus(text), "time": shown}


def _course(view: CaseView) -> Iterator[dict[str, Any]]:
    for told in view.course.milestones:
        yield _line("notice", told.name, told.words, told.at, told.happened)
    for asked in view.course.requests:
        yield _line("notice", asked.name, asked.words, asked.at)


def _row(item: ItemView) -> dict[str, Any]:
    return {
        "status": item.status,
        "name": item.name,
        "stop": item.stop,
        "said": _said(item),
        "details": [minus(one) for one in details_words(item)],
        "by": role_words(item.role, item.role_known_by) if item.answered else "",
        "called": item.first_called.shown if item.first_called else "\N{EN DASH}",
        "answered": item.answered.shown if item.answered else "\N{EN DASH}",
        "after": seconds_words(item.call_to_answer_s),
    }


def _said(item: ItemView) -> str:
    quoted = f"\N{LEFT DOUBLE QUOTATION MARK}{item.words}\N{RIGHT DOUBLE QUOTATION MARK}"
    if item.words and item.status in (st.SAID_DONE, st.VALUE):
        return quoted
    why = f" ({item.why_not_due})" if item.why_not_due and not item.answered else ""
    return f"{f'{quoted} ' if item.words else ''}{STATUS[item.status]}{why}"
