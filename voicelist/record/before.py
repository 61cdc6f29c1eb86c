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
from voicelist.session.records import from_body

_OF_THE_DAY = "first case of the day"


def set_up_of_the_day(reader: Reader, checklist: str, today: date) -> dict[str, Any]:
    """Case, time and head of the newest record of today in which every item of that checklist for
    the first case of the day was answered; empty if there is none. `today` is the local day."""
    for one in reader.outlines():
        if _local_day(one.started_at) != today:
            continue
        reading = reader.kept(one.case)
        if not verify_reading(reading).ok:
            continue
        view = case_view(reading.entries)
        at = _taken_at(view) if view.checklist_id == checklist else ""
        if at:
            return {"case": one.case, "at": at, "head": view.head}
    return {}


def _local_day(at: str) -> date | None:
    try:
        moment = datetime.fromisoformat(at.replace("Z", "+00:00"))
    except ValueError:
        return None  # a damaged row has no day
    return moment.astimezone().date() if moment.tzinfo else moment.replace(tzinfo=UTC).date()


def _taken_at(view: CaseView) -> str:
    """When the last of the day's items was answered; "" if one of them is open or was not due."""
    items = [item for item in view.items if item.when == _OF_THE_DAY]
    taken = all(item.due and item.status in st.SETTLED for item in items)
    times = [item.answered.at for item in items if item.answered]
    return max(times) if items and taken and len(times) == len(items) else ""


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
