"""The state of a case: a fold over its records. Nothing here decides; `machine` does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from voicelist.session.day import passed_today
from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay, WentBack
from voicelist.session.planned import PLANNED, SECOND_EYE
from voicelist.session.record_base import Record
from voicelist.session.records import (
    Accepted,
    Answered,
    Asked,
    AskedAgain,
    Called,
    CarriedOn,
    Closed,
    Corrected,
    Held,
    Noted,
    Opened,
    Prompted,
    ReadBack,
    Resumed,
    SectionClosed,
    SectionOpened,
    Settled,
    Undone,
    Waiting,
)
from voicelist.session.team_records import (
    Adjusted,
    Agreed,
    EquipmentChanged,
    PlanChanged,
    PresenceChanged,
)

NOT_ASKED = "not-asked"
CALLED = "called"
WAITING = "waiting"
SAID_DONE = "said-done"
SAID_FAULT = "said-fault"
VALUE = "value"
STATED = "stated"
DEFERRED = "deferred"
NOT_APPLICABLE = "not-applicable"
ANSWERS = (SAID_DONE, SAID_FAULT, VALUE, STATED, DEFERRED, NOT_APPLICABLE)
# After these nothing is left to ask.
SETTLED = (SAID_DONE, VALUE, STATED, NOT_APPLICABLE)


@dataclass(frozen=True, slots=True)
class ItemState:
    """Where one item stands. `answer` is "" or one of ANSWERS; `values` collects what was said;
    `grade` is the one that stood when it was answered; `part` is what was said of a value that
    lacked something."""

    answer: str = ""
    words: str = ""
    role: str = ""
    role_known_by: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    expected: Mapping[str, Any] = field(default_factory=dict)
    grade: Mapping[str, Any] | None = None
    accepted: tuple[Accepted, ...] = ()
    agreed: tuple[Agreed, ...] = ()
    makes_due: tuple[str, ...] = ()
    times_called: int = 0
    times_asked_again: int = 0
    times_deferred: int = 0
    waiting: bool = False
    part: str = ""

    @property
    def status(self) -> str:
        """One of the constants above."""
        if self.answer:
            return self.answer
        if self.waiting:
            return WAITING
        return CALLED if self.times_called else NOT_ASKED


@dataclass(frozen=True, slots=True)
class State:
    """A case as it stands after some records.

    `items` holds the items that were touched; `current` is the item called last and still open to
    an answer, `pending` the read-back that waits for a word. `plan` has what was changed in the
    plan by field, `agreed` who agreed to the change that is read back; `pace` and `level` count
    steps. `under_way`: quiet until a section is asked for (`been_under_way`: now or earlier);
    `asked_for` are such sections, `short_lists` those that were started over the open section
    `place` and are not through, `milestones` what was told of the operation, by id.
    `passed_today` are the stop items that an earlier record of today passed, None where the
    plan alone decides what is left out; `presence` is what was said of roles since the plan.
    """

    items: Mapping[str, ItemState] = field(default_factory=dict)
    section: str = ""
    closed_sections: frozenset[str] = frozenset()
    current: str = ""
    pending: ReadBack | None = None
    answered: tuple[str, ...] = ()
    prompts: int = 0
    held: str = ""
    last_text: str = ""
    closed: str = ""
    plan: Mapping[str, Any] = field(default_factory=dict)
    agreed: tuple[Agreed, ...] = ()
    equipment_changed: bool = False
    presence: Mapping[str, bool] = field(default_factory=dict)
    quiet: bool = False
    passed_today: frozenset[str] | None = frozenset()
    pace: int = 0
    level: int = 0
    under_way: bool = False
    been_under_way: bool = False
    asked_for: frozenset[str] = frozenset()
    short_lists: tuple[str, ...] = ()
    place: str = ""
    milestones: Mapping[str, MilestoneTold] = field(default_factory=dict)

    @property
    def asked(self) -> str:
        """The item that a read-back waits for, or else the one that was called; "" for none."""
        return (self.pending.item if self.pending is not None else "") or self.current

    def item(self, item_id: str) -> ItemState:
        """The state of an item, touched or not."""
        return self.items.get(item_id, ItemState())

    def changed(self, item_id: str, **changes: Any) -> State:
        """A copy with one item changed."""
        return replace(self, items={**self.items, item_id: replace(self.item(item_id), **changes)})


def replay(records: Iterable[Record]) -> State:
    """The state after all `records`."""
    state = State()
    for record in records:
        state = evolve(state, record)
    return state


def evolve(state: State, record: Record) -> State:
    """The state after one more record. Kinds that change nothing return `state` itself."""
    match record:
        case SectionOpened():
            return replace(
                state,
                section=record.section,
                closed_sections=state.closed_sections - {record.section},
            )
        case SectionClosed():
            return replace(state, closed_sections=state.closed_sections | {record.section})
        case Held():
            return replace(state, held=record.by)
        case CarriedOn():
            return replace(state, held="")
        case Opened():
            passed = passed_today(record.set_up)
            return replace(state, quiet=record.quiet, passed_today=passed)
        case Resumed():
            return replace(state, closed="" if state.closed == "stopped" else state.closed)
        case Closed():
            return replace(state, closed=record.state, pending=None)
        case Asked():
            return replace(state, last_text=record.text or state.last_text)
        case Adjusted() | PlanChanged() | EquipmentChanged() | Agreed() | PresenceChanged():
            return _evolve_by_team(state, record)
        case UnderWay() | SectionAsked() | WentBack() | MilestoneTold():
            return _evolve_flow(state, record)
        case _:
            return _evolve_item(state, record)


def _evolve_by_team(
    state: State, record: Adjusted | PlanChanged | EquipmentChanged | Agreed | PresenceChanged
) -> State:
    match record:
        case Adjusted():
            return replace(state, pace=record.pace, level=record.level)
        case PlanChanged():
            plan = {**state.plan, record.field: record.new}
            return _opened_again(replace(state, plan=plan, pending=None), record.reopened)
        case EquipmentChanged():
            return _opened_again(replace(state, equipment_changed=True), record.reopened)
        case PresenceChanged():
            pending = state.pending
            return replace(
                state,
                presence={**state.presence, record.role: record.present},
                pending=None if pending is not None and pending.about == "presence" else pending,
                current="" if state.current in record.left_out else state.current,
            )
        case Agreed(item=""):
            return replace(state, agreed=(*state.agreed, record))
        case Agreed():
            agreed = (*state.item(record.item).agreed, record)
            return state.changed(record.item, agreed=agreed, waiting=False)


def _evolve_flow(state: State, record: UnderWay | SectionAsked | WentBack | MilestoneTold) -> State:
    match record:
        case UnderWay():
            last_text = record.text or state.last_text
            return replace(state, under_way=True, been_under_way=True, last_text=last_text)
        case SectionAsked():
            return _asked_for(_opened_again(state, record.reopened), record)
        case WentBack():
            rest = tuple(one for one in state.short_lists if one != record.section)
            back = replace(state, short_lists=rest, current="", pending=None)
            if rest:
                return replace(back, section=rest[-1])
            return replace(back, section=state.place, place="")
        case MilestoneTold():
            before = state.milestones.get(record.milestone)
            # Told again without a time, the first time stands: nothing was corrected.
            told = record if before is None or record.is_late else before
            milestones = {**state.milestones, record.milestone: told}
            return replace(state, milestones=milestones, last_text=record.text or state.last_text)


def _asked_for(state: State, record: SectionAsked) -> State:
    state = replace(state, current="", pending=None, under_way=False)
    if not record.goes_back:
        return replace(state, asked_for=state.asked_for | {record.section})
    before = tuple(one for one in state.short_lists if one != record.section)
    place = state.place if state.short_lists else state.section
    return replace(state, short_lists=(*before, record.section), place=place)


def _evolve_item(state: State, record: Record) -> State:
    match record:
        case Called():
            called = state.changed(
                record.item, times_called=state.item(record.item).times_called + 1
            )
            return replace(
                called, current=record.item, last_text=record.text, prompts=0, under_way=False
            )
        case Answered():
            return _answered(state, record)
        case Noted():
            values = {**state.item(record.item).values, **record.values}
            return state.changed(record.item, values=values, waiting=False)
        case ReadBack():
            return replace(state, pending=record, last_text=record.text, prompts=0, agreed=())
        case Settled():
            return replace(state, pending=None, agreed=())
        case Corrected():
            kept = tuple(
                one for one in state.item(record.item).accepted if one.quantity != record.quantity
            )
            return state.changed(record.item, accepted=kept)
        case Accepted():
            accepted = (*state.item(record.item).accepted, record)
            return state.changed(record.item, accepted=accepted)
        case AskedAgain():
            times, part = record.times, record.part
            asked = state.changed(record.item, times_asked_again=times, part=part)
            return replace(asked, last_text=record.text, prompts=0)
        case Waiting():
            return state.changed(record.item, waiting=True)
        case Prompted():
            return replace(state, prompts=state.prompts + 1, last_text=record.text)
        case Undone():
            return _undone(state, record)
        case _:
            return state


def _answered(state: State, record: Answered) -> State:
    before = state.item(record.item)
    deferred = record.answer == DEFERRED
    after = state.changed(
        record.item,
        answer=record.answer,
        words=record.words,
        role=record.role,
        role_known_by=record.role_known_by,
        values=record.values or before.values,
        expected=record.expected,
        grade=record.grade,
        agreed=() if record.answer == SAID_FAULT else before.agreed,
        makes_due=tuple(record.makes_due),
        times_asked_again=0,
        times_deferred=before.times_deferred + deferred,
        waiting=False,
        part="",
    )
    return replace(
        after,
        pending=None,
        current="" if record.item == state.current else state.current,
        answered=(*(one for one in state.answered if one != record.item), record.item),
    )


def _undone(state: State, record: Undone) -> State:
    return _opened_again(replace(state, pending=None), (record.item,))


def _opened_again(state: State, item_ids: tuple[str, ...]) -> State:
    """These items as if nothing had been said about them; the next question is open."""
    untouched = {item_id: ItemState() for item_id in item_ids}
    pending = state.pending
    return replace(
        state,
        items={**state.items, **untouched},
        answered=tuple(one for one in state.answered if one not in untouched),
        pending=None if pending is not None and pending.item in untouched else pending,
        agreed=(),
        current="",
    )


def applies(
    when: str,
    *,
    first_of_the_day: bool,
    changed: bool,
    last_of_the_day: bool,
    new_team: bool,
    toric_lens: bool,
    made_due: bool = False,
    planned: bool = True,
    second_eye: bool = False,
) -> bool:
    """Whether an item applies that says `when` it does; "" and "every case" always do."""
    known = {
        "first case of the day": first_of_the_day,
        "after a change": changed,
        "last case of the day": last_of_the_day,
        "first cases of a team": new_team,
        "toric lens": toric_lens,
        "made due": made_due,
        PLANNED: planned,
        SECOND_EYE: second_eye,
    }
    return known.get(when, True)
