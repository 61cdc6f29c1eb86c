"""What the team changed or handed over in a case, and what was entered late: heads and tails of a
record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voicelist.record.times import Moment
from voicelist.record.words import role_words, value_words
from voicelist.session import state as st
from voicelist.session.record_base import Record
from voicelist.session.records import Opened
from voicelist.session.state import State
from voicelist.session.team_records import (
    Amended,
    EquipmentChanged,
    HandedOver,
    PlanChanged,
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
    """An entry made after the end, in a run of its own: not heard, and no answer."""

    seq: int
    at: str
    text: str
    reason: str
    role: str
    item: str
    name: str

    @property
    def words(self) -> str:
        """The entry in one line."""
        about = f"{self.name}: " if self.name else ""
        who = role_words(self.role, "")
        return f'{about}"{self.text}", entered late by {who}, reason: {self.reason}'


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
    """`set_up` is where the day's set-up was taken (case, at, head), empty where it was looked for
    and not found, None where it was not looked for. `grade` is the one that stands: declared, or
    the plan's."""

    hand_overs: tuple[HandOver, ...]
    equipment_changes: tuple[tuple[Moment, str], ...]
    second_eye_of: str
    set_up: Mapping[str, Any] | None
    quiet: bool
    first_section: str
    grade: Mapping[str, Any] | None = None

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
        if self.quiet:
            yield "read-backs", "on the display alone, after sign in"


def set_up_words(set_up: Mapping[str, Any]) -> str:
    """When and in which record the day's set-up was taken."""
    if not set_up:
        return "no record of it was found"
    at = str(set_up["at"])
    return f"taken at {at[11:16]} UTC, record {set_up['case']}, head {str(set_up['head'])[:12]}"


def is_due(when: str, item: Mapping[str, Any], documents: Mapping[str, Any], state: State) -> bool:
    """Whether an item applied, by the plan and by what was said to be changed."""
    if state.equipment_changed and "equipment" in (item.get("depends on") or ()):
        return True
    plan = documents.get("plan") or {}
    return st.applies(
        when,
        first_of_the_day=bool(plan.get("first of the day", True)),
        changed=bool(plan.get("changed", False)) or state.equipment_changed,
        last_of_the_day=bool(plan.get("last of the day", False)),
        new_team=bool(plan.get("new team", False)),
        toric_lens=(plan.get("lens") or {}).get("axis_deg") is not None or "axis" in state.plan,
    )


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
        LateEntry(at.seq, at.at, one.text, one.reason, one.role, one.item, names.get(one.item, ""))
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
        _grade_at_the_end(timed, opened),
    )


def _grade_at_the_end(
    timed: Sequence[tuple[Record, Moment]], opened: Opened
) -> Mapping[str, Any] | None:
    """The grade that stands: declared last and not taken back, else the plan's as it is now."""
    state = st.replay(one for one, _ in timed)
    sections = (opened.documents.get("checklist") or {}).get("sections") or ()
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
    planned = state.plan.get("grade") or (opened.documents.get("plan") or {}).get("grade")
    return dict(planned) if planned else None


def _named(item_ids: Iterable[str], names: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(names.get(one, one) for one in item_ids)
