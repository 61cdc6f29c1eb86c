"""What a reader of a record has to see first: one list for every page and every file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from voicelist.record.times import Moment
from voicelist.record.view import CaseView, ItemView
from voicelist.record.words import STATUS, role_words
from voicelist.session import state as st

NOTHING = "No mismatch, nothing reported not right, left for later, taken back or left unasked."
STANDS = "Not settled, or standing as it was accepted"
SETTLED = "Settled, and what else happened"


@dataclass(frozen=True, slots=True)
class Point:
    """One thing to be seen. `stands` says that it is not settled, or is a mismatch that was
    accepted; such points come first. `item` is an id, "" for what is about no single item."""

    kind: str
    item: str
    name: str
    words: str
    at: Moment | None = None
    stands: bool = False


def first_to_be_read(view: CaseView) -> tuple[Point, ...]:
    """All points, those that stand first: mismatches, reports, stop items, what waits; each kind in
    the order of time."""
    points = (*_mismatches(view), *_reported(view), *_open_items(view), *_happened(view))
    return tuple(sorted(points, key=lambda one: not one.stands))


def _mismatches(view: CaseView) -> Iterator[Point]:
    for one in sorted(view.mismatches, key=lambda one: one.outcome != "open"):
        kind = "accepted" if one.outcome == "accepted" else "mismatch"
        yield Point(kind, one.item, one.name, one.words, one.at, one.stands)


def _reported(view: CaseView) -> Iterator[Point]:
    for item in view.items:
        for one in item.faults:
            yield Point(
                st.SAID_FAULT, item.id, item.name, one.words_of_fault, one.at, not one.ended
            )


def _open_items(view: CaseView) -> Iterator[Point]:
    items = view.items
    for item in items:
        if item.stop and item.status == st.NOT_APPLICABLE:
            who = role_words(item.role, item.role_known_by)
            words = f'a stop item, said not applicable: "{item.words}", {who}'
            yield Point(item.status, item.id, item.name, words, item.answered, True)
    for item in sorted(items, key=lambda one: not one.stop):
        if item.status in (st.CALLED, st.WAITING):
            words = STATUS[item.status] + ("; a stop item" if item.stop else "")
            yield Point(item.status, item.id, item.name, words, item.first_called, True)
    left = [item for item in items if item.status == st.NOT_ASKED]
    yield from _listed("stop items not asked", (one for one in left if one.stop and one.due), True)
    yield from _by_reason("stop items that did not apply", (one for one in left if one.stop), True)
    for item in items:
        if item.status == st.DEFERRED:
            words = "left for later, and not answered since"
            yield Point(item.status, item.id, item.name, words, item.answered, True)
    for item in items:
        if item.made_due_and_open:
            words = f"made due by {', '.join(item.made_due_by)}, not answered"
            yield Point(item.status, item.id, item.name, words, None, True)
    yield from _listed("not asked", (one for one in left if not one.stop and one.due), True)
    yield from _by_reason("did not apply", (one for one in left if not one.stop), False)


def _listed(name: str, items: Iterable[ItemView], stands: bool) -> Iterator[Point]:
    names = [item.name for item in items]
    if names:
        yield Point(st.NOT_ASKED, "", name, ", ".join(names), None, stands)


def _by_reason(name: str, items: Iterable[ItemView], stands: bool) -> Iterator[Point]:
    """Items that were not due, by the reason why."""
    not_due = sorted((item for item in items if not item.due), key=lambda one: one.why_not_due)
    for why, group in groupby(not_due, key=lambda one: one.why_not_due):
        names = ", ".join(item.name for item in group)
        yield Point(st.NOT_ASKED, "", name, f"{names} ({why})", None, stands)


def _happened(view: CaseView) -> Iterator[Point]:
    for item in view.items:
        for one in item.undone:
            yield Point("undone", item.id, item.name, one.words_of_undone, one.ended_at)
    for hand_over in view.team.hand_overs:
        yield Point("changed", "", "hand-over", hand_over.words, hand_over.at)
    for at, words in view.team.equipment_changes:
        yield Point("changed", "", "equipment changed", f'"{words}"', at)
    for change in view.clock_changes:
        yield Point("changed", "", "clock", change.words, change.at)
    for notice in view.notices:
        yield Point("notice", "", f"equipment: {notice.part}", notice.what, notice.at)
    if view.late_entries:
        paper = sum(bool(one.paper_time) for one in view.late_entries)
        words = f"{len(view.late_entries)}, shown apart at the end; from paper: {paper}"
        yield Point("late", "", "entered late", words)
