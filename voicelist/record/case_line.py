"""A case in one line of a list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from voicelist.record.journal import Entry
from voicelist.record.view import NO_CASE, unverified_view

UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case in a list. `items` counts those of the checklist, `answered` those of which an
    answer stands, `mismatches` all that were read back. `state` is open, completed, stopped or
    abandoned; or unreadable, and then `problem` says why."""

    case: str
    checklist: str
    source: str
    started_at: str
    state: str
    items: int
    answered: int
    mismatches: int
    head: str
    problem: str = ""


def case_line(entries: Sequence[Entry]) -> CaseLine:
    """The view in one line, not verified; a case that cannot be shown says so in it."""
    try:
        view = unverified_view(tuple(entries))
    except NO_CASE as error:
        return unreadable_line(entries[0].case, entries, f"It cannot be shown ({error}).")
    return CaseLine(
        view.case,
        view.checklist_id,
        view.source,
        view.started_at,
        view.state,
        len(view.items),
        view.answered,
        len(view.mismatches),
        view.head,
    )


def unreadable_line(case: str, entries: Sequence[Entry], problem: str) -> CaseLine:
    """The line of a case of which only `entries` could be read."""
    started_at = entries[0].at if entries else ""
    head = entries[-1].hash if entries else ""
    return CaseLine(case, "", "", started_at, UNREADABLE, 0, 0, 0, head, problem)
