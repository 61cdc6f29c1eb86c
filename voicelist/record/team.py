"""What the team changed or handed over in a case, and what was entered late: heads and tails of a
record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voicelist.record.times import Moment, both_words
from voicelist.record.words import role_words, value_words
from voicelist.session import state as st
from voicelist.session.day import OF_THE_DAY, is_left_out
from voicelist.session.planned import PLANNED, bands_of, phase_is_planned, words_planned
from voicelist.session.presence import away
from voicelist.session.record_base import Record
from voicelist.session.records import Opened
from voicelist.session.state import State
from voicelist.session.team_records import (
    Amended,
    EquipmentChanged,
    HandedOver,
    PlanChanged,
    PresenceChanged,
    SecondEye,
)

_QUANTITY = {
    "lens-power": "power_D",
    "axis": "axis_deg",
    "target": "target_D",
    "cylinder": "cylinder_D",
}


@dataclass(frozen=True, slots=True)
class PlanChange:
    """A change of the plan itself; `roles` say how each was known, `reopened` are names."""

    at: Moment
    field: str
    old: Any
    new: Any
    document: str
    roles: tuple[str, ...]
    reopened: tuple[str, ...]

    @property
    def words(self) -> str:
        """The change in one line."""
        quantity = _QUANTITY.get(self.field, self.field)
        old = value_words(quantity, self.old) or "nothing planned"
        text = (
            f"{self.field.replace('-', ' ')}: {old} to {value_words(quantity, self.new)}, "
            f"read from {self.document}, agreed by {' and '.join(self.roles)}"
        )
        return text + (f"; asked again: {', '.join(self.reopened)}" if self.reopened else "")


@dataclass(frozen=True, slots=True)
class LateEntry:
    """An entry made after the end, in a run of its own: not heard, and no answer. `paper_time` is
    the time that stands on the paper it was taken from, "" where it was not."""

    seq: int
    at: str
    text: str
    reason: str
    role: str
    item: str
    name: str
    local: str = ""
    paper_time: str = ""

    @property
    def origin(self) -> str:
        """Where it is from."""
        return f"from paper, {self.paper_time} on the paper, " if self.paper_time else ""

    @property
    def words(self) -> str:
        """The entry in one line."""
        about = f"{self.name}: " if self.name else ""
        who = role_words(self.role, "")
        entered = f"entered late by {who} at {both_words(self.at, self.local)}"
        return f'{about}"{self.text}", {self.origin}{entered}, reason: {self.reason}'


@dataclass(frozen=True, slots=True)
class HandOver:
    """`deferred` and `open` are names of items."""

    at: Moment
    role: str
    deferred: tuple[str, ...]
    open: tuple[str, ...]
    not_asked: int

    @property
    def words(self) -> str:
        """The hand-over in one line."""
        parts = [f"{role_words(self.role, '')} handed over"]
        if self.deferred:
            parts.append(f"left for later: {', '.join(self.deferred)}")
        if self.open:
            parts.append(f"asked and open: {', '.join(self.open)}")
        return "; ".join((*parts, f"not asked yet: {self.not_asked}"))


@dataclass(frozen=True, slots=True)
class TeamView:
    """`set_up` is where the day's set-up was taken (case, at, head) and why it is asked again, if
    it is; None where it was not looked for. `grade` is the one that stands: declared, or the
    plan's."""

    hand_overs: tuple[HandOver, ...]
    equipment_changes: tuple[tuple[Moment, str], ...]
    second_eye_of: str
    set_up: Mapping[str, Any] | None
    quiet: bool
    first_section: str
    grade: Mapping[str, Any] | None = None
    planned_away: tuple[str, ...] = ()
    presence: tuple[tuple[Moment, str], ...] = ()

    def facts(self) -> Iterator[tuple[str, str]]:
        """What of this belongs to the head of a record, as name and text."""
        if self.second_eye_of:
            yield "second eye of", f"{self.second_eye_of}; nothing carried over"
        if self.set_up is not None:
            yield "day's set-up", set_up_words(self.set_up)
        if self.grade is not None:
            yield "grade that stands", value_words("grade", self.grade)
        if self.first_section:
            yield "begun at", f"{self.first_section}; earlier sections not asked"
        if self.planned_away:
            yield "not in the room", f"{', '.join(self.planned_away)}, by the plan"
        for at, words in self.presence:
            yield "said of a role", f"{words}, {at.shown}"
        if self.quiet:
            yield "read-backs", "on the display alone, after sign in"


def set_up_words(set_up: Mapping[str, Any]) -> str:
    """When and in which record the day's set-up was taken."""
    why = str(set_up.get("why", ""))
    if "case" not in set_up:
        return f"no record of it was found{f' ({why})' if why else ''}"
    at = str(set_up["at"])
    told = f"taken at {at[11:16]} UTC, record {set_up['case']}, head {str(set_up['head'])[:12]}"
    return f"{told}; asked again: {why}" if why else told


def applies(
    item: Mapping[str, Any], section: Mapping[str, Any], documents: Mapping[str, Any], state: State
) -> bool:
    """Whether an item applied: by the plan, by the records of the day and by what was said to be
    changed."""
    plan = documents.get("plan") or {}
    roles = item.get("answered by") or ()
    absent = away(roles, plan.get("present"), state.presence)
    if roles and len(absent) == len(roles) and not (item.get("stop") or item.get("value")):
        return False
    if state.equipment_changed and "equipment" in (item.get("depends on") or ()):
        return True
    when = when_due(item, section)
    stop_items = [
        str(one["id"])
        for one in section["items"]
        if one.get("stop") and when_due(one, section) == OF_THE_DAY
    ]
    first = bool(plan.get("first of the day", True)) or (
        when == OF_THE_DAY and not is_left_out(stop_items, state.passed_today)
    )
    return st.applies(
        when,
        first_of_the_day=first,
        changed=bool(plan.get("changed", False)) or state.equipment_changed,
        last_of_the_day=bool(plan.get("last of the day", False)),
        new_team=bool(plan.get("new team", False)),
        toric_lens=(plan.get("lens") or {}).get("axis_deg") is not None or "axis" in state.plan,
        made_due=any(item.get("id") in one.makes_due for one in state.items.values()),
        planned=when != PLANNED or _is_planned(item, documents, state),
        second_eye=plan.get("second eye of") is not None,
    )


def _is_planned(item: Mapping[str, Any], documents: Mapping[str, Any], state: State) -> bool:
    """Whether plan or card had something that the item compares."""
    plan, card = documents.get("plan") or {}, documents.get("card") or {}
    if item.get("compare") == "profile":
        said = _grade_that_stands(state, documents)
        grade = (str(said["scale"]), float(said["value"])) if said else None
        return phase_is_planned(str(item.get("phase")), bands_of(card), grade, plan.get("phases"))
    also, wanted = plan.get("also") or {}, card.get("also") or {}
    return words_planned(str(item.get("planned")), also, wanted) is not None


def thread(item_id: str, documents: Mapping[str, Any], state: State) -> tuple[str, ...]:
    """The answers that made an item due, each with its item's name and words."""
    sections = documents["checklist"]["sections"]
    names = {
        str(one["id"]): str(one.get("name") or str(one["id"]).replace("-", " "))
        for section in sections
        for one in section["items"]
    }
    return tuple(
        f'{names.get(one, one)}: "{standing.words}"'
        for one, standing in state.items.items()
        if item_id in standing.makes_due
    )


def when_due(item: Mapping[str, Any], section: Mapping[str, Any]) -> str:
    """When an item is due, by its own word or its section's."""
    return str(item.get("when") or section.get("when") or "")


def plan_changes(
    timed: Iterable[tuple[Record, Moment]], names: Mapping[str, str]
) -> tuple[PlanChange, ...]:
    """Every change of plan, in order."""
    return tuple(
        PlanChange(
            at,
            one.field,
            one.old,
            one.new,
            one.document,
            tuple(role_words(str(who["role"]), str(who["role_known_by"])) for who in one.roles),
            _named(one.reopened, names),
        )
        for one, at in timed
        if isinstance(one, PlanChanged)
    )


def late_entries(
    timed: Iterable[tuple[Record, Moment]], names: Mapping[str, str]
) -> tuple[LateEntry, ...]:
    """Every late entry, in order."""
    return tuple(
        LateEntry(
            at.seq,
            at.at,
            one.text,
            one.reason,
            one.role,
            one.item,
            names.get(one.item, ""),
            at.local,
            one.paper_time,
        )
        for one, at in timed
        if isinstance(one, Amended)
    )


def team_view(
    timed: Sequence[tuple[Record, Moment]], names: Mapping[str, str], opened: Opened
) -> TeamView:
    """The rest of what the team did to the case."""
    hand_overs = tuple(
        HandOver(at, one.role, _named(one.deferred, names), _named(one.open, names), one.not_asked)
        for one, at in timed
        if isinstance(one, HandedOver)
    )
    changes = tuple((at, one.words) for one, at in timed if isinstance(one, EquipmentChanged))
    eyes = [one.first_case for one, _ in timed if isinstance(one, SecondEye)]
    return TeamView(
        hand_overs,
        changes,
        eyes[0] if eyes else "",
        opened.set_up,
        opened.quiet,
        opened.first_section,
        _grade_that_stands(st.replay(one for one, _ in timed), opened.documents),
        _planned_away(opened.documents),
        tuple((at, _presence_words(one)) for one, at in timed if isinstance(one, PresenceChanged)),
    )


def _grade_that_stands(state: State, documents: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The grade that stands: declared last and not taken back, else the plan's as it is now."""
    sections = (documents.get("checklist") or {}).get("sections") or ()
    asking = {
        str(item["id"])
        for section in sections
        for item in section["items"]
        if item.get("compare") == "grade"
    }
    for item_id in reversed(state.answered):
        declared = state.item(item_id).values.get("grade")
        if item_id in asking and state.item(item_id).answer == st.VALUE and declared:
            return dict(declared)
    planned = state.plan.get("grade") or (documents.get("plan") or {}).get("grade")
    return dict(planned) if planned else None


def _planned_away(documents: Mapping[str, Any]) -> tuple[str, ...]:
    """The roles that the checklist asks and the plan has not in the room."""
    present = (documents.get("plan") or {}).get("present")
    sections = documents["checklist"]["sections"]
    items = [item for section in sections for item in section["items"]]
    roles = dict.fromkeys(role for item in items for role in item.get("answered by") or ())
    return tuple(role_words(role, "") for role in away(roles, present, {}))


def _presence_words(one: PresenceChanged) -> str:
    """What was said of a role: that it is there, or is not."""
    return f"{role_words(one.role, '')} is {'here' if one.present else 'not here'}"


def _named(item_ids: Iterable[str], names: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(names.get(one, one) for one in item_ids)
