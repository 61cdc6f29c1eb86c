"""A case written down for people and programs: one function a format, bytes out."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from voicelist.errors import UsageError
from voicelist.record.history import Mismatch
from voicelist.record.journal import Entry, canonical
from voicelist.record.view import CaseView, ItemView, case_view
from voicelist.record.words import CAUTION, quantities_words, value_words

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
    "answered_at",
    "call_to_answer_s",
    "time_base",
    "asked_again",
    "mismatches",
    "corrections",
    "reported",
    "taken_back",
    "made_due_by",
    "head",
)
_NO_PROOF = "said and heard; no proof that it was done"
_NOT_BUILT = ("pdf", "fhir")


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
        why = "is not built yet" if format_name in _NOT_BUILT else "is no format of an export"
        raise UsageError(f"{format_name} {why}: choose one of {there_are}.")
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


def as_json(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """The view of the case as one JSON object."""
    view = case_view(entries, amiss)
    document = {
        "format": 1,
        "caution": CAUTION,
        "verifies": not view.problems,
        **dataclasses.asdict(view),
    }
    document["notices"] = [
        {"at": at, "part": part, "what": what} for at, part, what in document["notices"]
    ]
    for key in ("plan_changes", "late_entries", "clock_changes"):
        document[key] = _with_words(document[key], getattr(view, key))
    course = document["course"]
    course["milestones"] = _with_words(course["milestones"], view.course.milestones)
    course["requests"] = _with_words(course["requests"], view.course.requests)
    text = json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)
    return f"{text}\n".encode()


def _with_words(told: Sequence[dict[str, Any]], views: Sequence[Any]) -> list[dict[str, Any]]:
    """Parts of a view, each with its one line of words."""
    return [{**one, "words": view.words} for one, view in zip(told, views, strict=True)]


def as_csv(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """One row an item, for spreadsheets: UTF-8 with its mark, a header, lines ended by CR LF."""
    view = case_view(entries, amiss)
    sheet = io.StringIO(newline="")
    rows = [_blank(view, "does not verify", problem, "") for problem in view.problems]
    rows += [_blank(view, "change of plan", one.words, one.at.at) for one in view.plan_changes]
    rows += [_row(view, section.name, item) for section in view.sections for item in section.items]
    rows += [
        _blank(view, "milestone", one.words, one.at.at, one.role, one.id)
        for one in view.course.milestones
    ]
    rows += [
        _blank(view, "asked for", one.words, one.at.at, one.role) for one in view.course.requests
    ]
    rows += [
        _blank(view, "hand-over", one.words, one.at.at, one.role) for one in view.team.hand_overs
    ]
    rows += [_blank(view, "clock", one.words, one.at.at) for one in view.clock_changes]
    rows += [
        _blank(view, "late entry", one.words, one.at, one.role, one.item)
        for one in view.late_entries
    ]
    writer = csv.DictWriter(sheet, fieldnames=COLUMNS)
    writer.writeheader()
    writer.writerows({name: guarded(cell) for name, cell in row.items()} for row in rows)
    return sheet.getvalue().encode("utf-8-sig")


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
        "status": item.status.replace("-", " "),
        "words": item.words,
        "values": quantities_words(item.values),
        "expected": quantities_words(item.expected),
        "role": item.role,
        "role_known_by": item.role_known_by,
        "first_called_at": item.first_called.at if item.first_called else "",
        "answered_at": item.answered.at if item.answered else "",
        "call_to_answer_s": "" if seconds is None else f"{seconds:.3f}",
        "time_base": item.answered.base if item.answered else "",
        "asked_again": str(item.times_asked_again),
        "mismatches": _cell(mismatch_words(one, one.quantity) for one in item.mismatches),
        "corrections": _cell(
            f"{one.quantity}: {value_words(one.quantity, one.old)} to "
            f"{value_words(one.quantity, one.new)}"
            for one in item.corrections
        ),
        "reported": _cell(
            f"{one.words}{' (later: ' + one.ended + ')' if one.ended else ''}"
            for one in item.faults
        ),
        "taken_back": _cell(f"{one.answer}: {one.words}" for one in item.undone),
        "made_due_by": _cell(iter(item.made_due_by)),
        "head": view.head,
    }


def _blank(
    view: CaseView, section: str, text: str, at: str, role: str = "", item: str = ""
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
        "words": text,
        "role": role,
        "answered_at": at,
        "head": view.head,
    }


def _cell(parts: Iterator[str]) -> str:
    return "; ".join(parts)


def mismatch_words(one: Mismatch, name: str) -> str:
    """What was heard, what was expected and what became of it, in one line of plain text; `name`
    is the quantity's."""
    text = (
        f"{name}: heard {value_words(one.quantity, one.heard)}, "
        f"expected {value_words(one.quantity, one.expected)}: {one.outcome}"
    )
    if one.times > 1:
        text += f", read back {one.times} times"
    if one.elsewhere:
        text += f"; it is the plan {one.elsewhere}"
    if one.outcome == "accepted":
        known = f", {one.role_known_by}" if one.role_known_by else ""
        text += f" by {one.role}{known}, reason: {one.reason or 'none said'}"
    return f"{text} (rule: {one.source})" if one.source else text


def _as_html(entries: Sequence[Entry], amiss: Sequence[str]) -> bytes:
    from voicelist.record.html import as_html

    return as_html(entries, amiss=amiss)


def _as_text(entries: Sequence[Entry], amiss: Sequence[str]) -> bytes:
    from voicelist.record.text import as_text

    return as_text(entries, amiss)


_WRITERS: Mapping[str, Callable[[Sequence[Entry], Sequence[str]], bytes]] = {
    "journal": journal_lines,
    "json": as_json,
    "csv": as_csv,
    "html": _as_html,
    "text": _as_text,
}
FORMATS: tuple[str, ...] = tuple(_WRITERS)
