"""What earlier records say to a new case: the set-up of the day, and a patient's first eye."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

from voicelist.errors import RecordError
from voicelist.record.journal import Entry
from voicelist.record.store import Reader
from voicelist.record.verify import verify_reading
from voicelist.record.view import CaseView, case_view
from voicelist.session import state as st
from voicelist.session.day import CHANGED, OF_THE_DAY, PASSED
from voicelist.session.records import Closed, from_body


def set_up_of_the_day(
    reader: Reader, checklist: str, today: date, *, practice: bool = False
) -> dict[str, Any]:
    """What the records of today say of the set-up that `checklist` takes: case, time and head of
    the newest record in which all of it was answered, `passed` (the stop items that stand passed
    and need not be asked again) and, where there are none, `why`. `today` is the local day.
    Practice and real records say nothing about each other."""
    views, unread = _of_today(reader, today, practice)
    if unread:
        return {PASSED: [], "why": f"the record {unread} of today does not verify"}
    for view in views:
        at = _taken_at(view) if view.checklist_id == checklist else ""
        if at:
            found = {"case": view.case, "at": at, "head": view.head}
            why = _not_as_it_was(views, view, at)
            return {**found, PASSED: [], "why": why} if why else {**found, PASSED: _passed(view)}
    return {PASSED: [], "why": ""}


def _of_today(reader: Reader, today: date, practice: bool) -> tuple[list[CaseView], str]:
    """The cases of today, newest first; and the first of them that is not whole, "" if all are."""
    views = []
    for one in reader.outlines():
        if local_day(one.started_at) != today:
            continue
        reading = reader.kept(one.case)
        if not verify_reading(reading).ok:
            return [], one.case
        view = case_view(reading.entries)
        if view.practice == practice:
            views.append(view)
    return views, ""


def _not_as_it_was(views: Sequence[CaseView], set_up: CaseView, at: str) -> str:
    """Why the set-up taken `at` that time holds no longer; "" if nothing speaks against it."""
    if any(moment.at > at for one in views for moment, _ in one.team.equipment_changes):
        return CHANGED
    passed = set(_passed(set_up))
    for one in views:
        for item in one.items:
            if item.id in passed and any(fault.at.at > at for fault in item.faults):
                return f"{item.name} was reported since"
    return ""


def local_day(at: str) -> date | None:
    """The day of a time by the clock on the wall; None for one that is damaged."""
    try:
        moment = datetime.fromisoformat(at.replace("Z", "+00:00"))
    except ValueError:
        return None  # a damaged row has no day
    return moment.astimezone().date() if moment.tzinfo else moment.replace(tzinfo=UTC).date()


def _taken_at(view: CaseView) -> str:
    """When the last of the day's items was answered; "" if one of them is open or was not due, or
    a stop item of them did not pass."""
    items = [item for item in view.items if item.when == OF_THE_DAY]
    taken = all(item.due and item.status in st.SETTLED for item in items)
    passed = {item.id for item in items if item.stop} <= set(_passed(view))
    times = [item.answered for item in items if item.answered]
    if not (items and taken and passed and len(times) == len(items)):
        return ""
    # By their order in the record: the time of day may have been set between two of them.
    return max(times, key=lambda one: one.seq).at


def _passed(view: CaseView) -> list[str]:
    """The stop items of the day that passed: one that did not apply did not."""
    stop_items = (item for item in view.items if item.when == OF_THE_DAY and item.stop)
    return [item.id for item in stop_items if item.status in (st.SAID_DONE, st.VALUE)]


def begun_anew(reader: Reader, case: str) -> str:
    """The code under which a plan's case is begun: after one that was abandoned a further one, for
    nothing that was checked then holds now; else its own."""
    code, number = case, 1
    while reader.holds(code) and _was_abandoned(reader.entries(code)):
        number += 1
        code = f"{case}-{number}"
    return code


def _was_abandoned(entries: Sequence[Entry]) -> bool:
    records = (from_body(one.kind, one.body) for one in entries)
    return any(isinstance(one, Closed) and one.state == "abandoned" for one in records)


def refuse_same_eye(reader: Reader, first_case: str, eye: str) -> None:
    """Raises RecordError if the first eye is on record as the same eye."""
    if not reader.holds(first_case):
        return
    first = _eye_of(reader.entries(first_case))
    if first == eye:
        raise RecordError(
            f"The plan is for the second eye, and names the {eye} eye; so did {first_case}, the "
            "first one. Look at both plans and at the patient's mark."
        )


def _eye_of(entries: Sequence[Entry]) -> str:
    """The eye that a case ended with: its plan's, or the one that the plan was changed to."""
    records = [from_body(entry.kind, entry.body) for entry in entries]
    plan = dict(entries[0].body["documents"].get("plan") or {})
    return str(st.replay(records).plan.get("eye", plan.get("eye", "")))
