"""A case written down for people and programs: one function a format, bytes out."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from voicelist.errors import UsageError
from voicelist.record.about import about, totals_words
from voicelist.record.as_json import as_json
from voicelist.record.attention import first_to_be_read
from voicelist.record.journal import Entry, canonical
from voicelist.record.times import Moment
from voicelist.record.view import CaseView, ItemView, case_view
from voicelist.record.words import STATUS, quantities_words

if TYPE_CHECKING:
    from voicelist.record.html import PageFigures

FiguresOf = Callable[[Sequence[Entry]], "PageFigures"]

_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?")
# What spreadsheets may take for the start of a formula; full-width forms count in some languages.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# The columns of the CSV, in order.
COLUMNS = (
    "note",
    "case",
    "checklist",
    "source",
    "case_state",
    "section",
    "item",
    "name",
    "stop_item",
    "status",
    "words",
    "values",
    "expected",
    "role",
    "role_known_by",
    "first_called_at",
    "first_called_local",
    "answered_at",
    "answered_local",
    "call_to_answer_s",
    "time_base",
    "asked_again",
    "mismatches",
    "corrections",
    "reported",
    "taken_back",
    "made_due_by",
    "why_not_due",
    "entered_late",
    "paper_time",
    "head",
    "tree_head",
)
_NO_PROOF = "said and heard; no proof that it was done"


def export(
    entries: Sequence[Entry],
    format_name: str,
    figures: FiguresOf | None = None,
    amiss: Sequence[str] = (),
) -> bytes:
    """A case in one of FORMATS. `figures` draws what a page shows of plan and card; `amiss` is what
    is known to be missing or damaged beside the entries: every format says so. Raises UsageError
    for another format, RecordError if the entries do not make a case."""
    write = _WRITERS.get(format_name)
    if write is None:
        there_are = ", ".join(FORMATS)
        raise UsageError(f"{format_name} is no format of an export: choose one of {there_are}.")
    if format_name == "html" and figures is not None:
        from voicelist.record.html import as_html

        return as_html(tuple(entries), figures(tuple(entries)), amiss)
    return write(tuple(entries), amiss)


def journal_lines(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """JSON Lines, one canonical entry a line: what `verify FILE` checks again. What is known to be
    amiss stands in a last line, which is no entry: so the file does not verify either."""
    lines = [entry.line() for entry in entries]
    if amiss:
        lines.append(canonical({"does not verify": list(amiss)}))
    return b"".join(line + b"\n" for line in lines)


def as_csv(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """One row an item, for spreadsheets: UTF-8 with its mark, a header, lines ended by CR LF."""
    view = case_view(entries, amiss)
    sheet = io.StringIO(newline="")
    rows = [
        *_above_items(view),
        *(_row(view, section.name, item) for section in view.sections for item in section.items),
        *_below_items(view),
    ]
    writer = csv.DictWriter(sheet, fieldnames=COLUMNS)
    writer.writeheader()
    writer.writerows({name: guarded(cell) for name, cell in row.items()} for row in rows)
    return sheet.getvalue().encode("utf-8-sig")


def _above_items(view: CaseView) -> Iterator[dict[str, str]]:
    """What the head of a record says, and what is first to be read: a row each."""
    for problem in view.problems:
        yield _blank(view, "does not verify", problem)
    for one in view.plan_changes:
        yield _blank(view, "change of plan", one.words, one.at)
    title = view.checklist_title or view.checklist_id
    for name, text in (("checklist", title), *about(view)):
        yield _blank(view, "about the case", text, name=name)
    for point in first_to_be_read(view):
        kind = "first to be read, stands" if point.stands else "first to be read"
        kind = {"changed": point.name, "notice": "equipment"}.get(point.kind, kind)
        yield _blank(view, kind, point.words, point.at, item=point.item, name=point.name)


def _below_items(view: CaseView) -> Iterator[dict[str, str]]:
    for told in view.course.milestones:
        yield _blank(view, "milestone", told.words, told.at, told.role, told.id, told.name)
    for asked in view.course.requests:
        yield _blank(view, "asked for", asked.words, asked.at, asked.role, name=asked.name)
    for name in view.course.not_started:
        yield _blank(view, "short list that nobody asked for", name)
    yield _blank(view, "totals", totals_words(view))
    for late in view.late_entries:
        row = _blank(view, "late entry", late.words, None, late.role, late.item, late.name)
        origin = {"answered_at": late.at, "answered_local": late.local}
        yield row | origin | {"paper_time": late.paper_time}


def guarded(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; numbers stay as they are."""
    if cell.startswith(_FORMULA_STARTS) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell


def _row(view: CaseView, section: str, item: ItemView) -> dict[str, str]:
    seconds = item.call_to_answer_s
    return {
        "note": view.banner or _NO_PROOF,
        "case": view.case,
        "checklist": view.checklist_id,
        "source": view.source,
        "case_state": view.state,
        "section": section,
        "item": item.id,
        "name": item.name,
        "stop_item": "yes" if item.stop else "no",
        "status": STATUS.get(item.status, item.status),
        "words": item.words,
        "values": quantities_words(item.values),
        "expected": quantities_words(item.expected),
        "role": item.role,
        "role_known_by": item.role_known_by,
        "first_called_at": item.first_called.at if item.first_called else "",
        "first_called_local": item.first_called.local if item.first_called else "",
        "answered_at": item.answered.at if item.answered else "",
        "answered_local": item.answered.local if item.answered else "",
        "call_to_answer_s": "" if seconds is None else f"{seconds:.3f}",
        "time_base": item.answered.base if item.answered else "",
        "asked_again": str(item.times_asked_again),
        "mismatches": _cell(one.words for one in item.mismatches),
        "corrections": _cell(one.words for one in item.corrections),
        "reported": _cell(one.words_of_fault for one in item.faults),
        "taken_back": _cell(one.words_of_undone for one in item.undone),
        "made_due_by": _cell(iter(item.made_due_by)),
        "why_not_due": item.why_not_due,
        "entered_late": _cell(one.words for one in item.late),
        "paper_time": _cell(one.paper_time for one in item.late if one.paper_time),
        "head": view.head,
        "tree_head": view.tree_head,
    }


def _blank(
    view: CaseView,
    section: str,
    text: str,
    at: Moment | None = None,
    role: str = "",
    item: str = "",
    name: str = "",
) -> dict[str, str]:
    """A row that is no item: its kind in place of the section, and what it says."""
    row = dict.fromkeys(COLUMNS, "")
    return row | {
        "note": view.banner or _NO_PROOF,
        "case": view.case,
        "checklist": view.checklist_id,
        "source": view.source,
        "case_state": view.state,
        "section": section,
        "item": item,
        "name": name,
        "words": text,
        "role": role,
        "answered_at": at.at if at else "",
        "answered_local": at.local if at else "",
        "time_base": at.base if at else "",
        "head": view.head,
        "tree_head": view.tree_head,
    }


def _cell(parts: Iterator[str]) -> str:
    return "; ".join(parts)


def _as_html(entries: Sequence[Entry], amiss: Sequence[str]) -> bytes:
    from voicelist.record.html import as_html

    return as_html(entries, amiss=amiss)


def _as_text(entries: Sequence[Entry], amiss: Sequence[str]) -> bytes:
    from voicelist.record.text import as_text

    return as_text(entries, amiss)


def _as_pdf(entries: Sequence[Entry], amiss: Sequence[str]) -> bytes:
    from voicelist.record.pdf import as_pdf

    return as_pdf(entries, amiss)


def _as_fhir(entries: Sequence[Entry], amiss: Sequence[str]) -> bytes:
    from voicelist.record.fhir import as_fhir

    return as_fhir(entries, amiss)


_WRITERS: Mapping[str, Callable[[Sequence[Entry], Sequence[str]], bytes]] = {
    "journal": journal_lines,
    "json": as_json,
    "csv": as_csv,
    "html": _as_html,
    "text": _as_text,
    "pdf": _as_pdf,
    "fhir": _as_fhir,
}
FORMATS: tuple[str, ...] = tuple(_WRITERS)
# What a file of a format is called behind the dot, where that is not its name.
ENDINGS: Mapping[str, str] = {"journal": "jsonl", "text": "txt", "fhir": "fhir.json"}
