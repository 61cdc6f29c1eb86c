"""A case as people and programs look at it: derived from its entries and from nothing else."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from voicelist.errors import RecordError
from voicelist.record.course import CourseView, asked_for, course_view, ending, is_left_out
from voicelist.record.equipment import ClockChange, Notice, clock_changes, notices
from voicelist.record.history import Answer, Correction, ItemHistory, Mismatch
from voicelist.record.journal import Entry
from voicelist.record.plan_in_force import PlanPart, plan_in_force
from voicelist.record.runs import RunView, Totals, runs_of, totals_of
from voicelist.record.team import (
    LateEntry,
    PlanChange,
    TeamView,
    applies,
    late_entries,
    plan_changes,
    team_view,
    thread,
    when_due,
)
from voicelist.record.times import Moment, moments
from voicelist.record.verify import verify_entries
from voicelist.record.words import DAMAGED_BANNER, PRACTICE_BANNER, role_words
from voicelist.session import records as rec
from voicelist.session import state as st
from voicelist.session.planned import PLANNED
from voicelist.session.record_base import Record

# What entries that do not make a case run into.
NO_CASE = (KeyError, TypeError, ValueError, AttributeError, IndexError)
# Of an item that is due only where plan or card has something to compare with.
NOT_PLANNED = "not due: neither plan nor card asks for it"
ANSWERED = tuple(one for one in st.ANSWERS if one != st.DEFERRED)
STATUSES = (*st.ANSWERS, st.WAITING, st.CALLED, st.NOT_ASKED)


@dataclass(frozen=True, slots=True)
class ItemView:
    """An item. `status` is one of STATUSES, never blank; words, role, values and `answered` are of
    the answer that stands; `call_to_answer_s` is from its call to that answer, None if it did not
    follow a call of its own in the same run. `answers` holds earlier ones too. `agreed` are the
    roles that have said their part; `when` says when the item applies, `due` whether it did,
    `made_due_by` because of which answers; `late` are entries after the end, which answer nothing.
    """

    id: str
    name: str
    section: str
    call: str
    stop: bool
    status: str
    words: str
    role: str
    role_known_by: str
    values: Mapping[str, Any]
    expected: Mapping[str, Any]
    first_called: Moment | None
    answered: Moment | None
    call_to_answer_s: float | None
    times_asked_again: int
    answers: tuple[Answer, ...]
    mismatches: tuple[Mismatch, ...]
    corrections: tuple[Correction, ...]
    agreed: tuple[str, ...] = ()
    when: str = ""
    due: bool = True
    made_due_by: tuple[str, ...] = ()
    late: tuple[LateEntry, ...] = ()

    @property
    def is_answered(self) -> bool:
        """Whether an answer stands; one that was left for later has none."""
        return self.status in ANSWERED

    @property
    def made_due_and_open(self) -> bool:
        """Whether an answer made it due and nobody has answered it."""
        return bool(self.made_due_by) and self.answered is None

    @property
    def faults(self) -> tuple[Answer, ...]:
        """Everything reported not right; those that ended were cleared or taken back later."""
        return tuple(one for one in self.answers if one.answer == st.SAID_FAULT)

    @property
    def why_not_due(self) -> str:
        """Why the item did not apply; "" for one that did."""
        if self.due:
            return ""
        return NOT_PLANNED if self.when == PLANNED else f"applies to: {self.when}"

    @property
    def undone(self) -> tuple[Answer, ...]:
        """Answers that were taken back."""
        return tuple(one for one in self.answers if one.ended == "undone")


@dataclass(frozen=True, slots=True)
class SectionView:
    """A section with its items, in the order of the checklist."""

    id: str
    name: str
    items: tuple[ItemView, ...]


@dataclass(frozen=True, slots=True)
class CaseView:
    """A case. `mismatches` are in the order of time; `problems` are those of its verification,
    empty for a whole record; `state` is open, completed, stopped or abandoned; `plan` is the one in
    force."""

    case: str
    checklist_id: str
    checklist_title: str
    source: str
    practice: bool
    state: str
    reason: str
    started_at: str
    ended_at: str | None
    last_at: str
    started_local: str
    ended_local: str
    last_local: str
    events: int
    head: str
    tree_head: str
    problems: tuple[str, ...]
    mismatches: tuple[Mismatch, ...]
    counts: Mapping[str, int]
    totals: Totals
    plan: Mapping[str, Any]
    plan_in_force: tuple[PlanPart, ...]
    card: str
    runs: tuple[RunView, ...]
    sections: tuple[SectionView, ...]
    notices: tuple[Notice, ...]
    clock_changes: tuple[ClockChange, ...]
    plan_changes: tuple[PlanChange, ...]
    late_entries: tuple[LateEntry, ...]
    team: TeamView
    course: CourseView

    @property
    def banner(self) -> str:
        """What has to stand over everything made of this record, "" if nothing does."""
        damaged = (DAMAGED_BANNER,) if self.problems else ()
        practice = (PRACTICE_BANNER,) if self.practice else ()
        return "; ".join((*damaged, *practice))

    @property
    def answered(self) -> int:
        """How many items have an answer that stands."""
        return sum(item.is_answered for item in self.items)

    @property
    def due(self) -> int:
        """How many items applied, and those that were answered all the same."""
        return sum(item.due or item.is_answered for item in self.items)

    @property
    def items(self) -> tuple[ItemView, ...]:
        """All items, in the order of the checklist."""
        return tuple(item for section in self.sections for item in section.items)


def case_view(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> CaseView:
    """The view of one case. `amiss` is what is known to be missing or damaged beside the entries.
    Raises RecordError if the entries do not make a case at all."""
    try:
        view = unverified_view(tuple(entries))
        verdict = verify_entries(entries)
        problems = tuple(dict.fromkeys((*verdict.problems, *amiss)))
        return replace(view, problems=problems, tree_head=verdict.tree_head)
    except NO_CASE as error:
        raise RecordError(
            f"This record cannot be shown ({type(error).__name__}: {error}): verify it; an older "
            "or newer version of voicelist may have written it."
        ) from error


def unverified_view(entries: tuple[Entry, ...]) -> CaseView:
    """The view without a look at the links. Raises one of NO_CASE for what makes no case."""
    records = [rec.from_body(entry.kind, entry.body) for entry in entries]
    opened = _opening(records[0])
    times = moments(entries)
    documents = opened.documents
    timed = list(zip(records, times, strict=True))
    histories = _histories(documents, iter(timed))
    sections = _sections(documents, histories, st.replay(records), asked_for(records))
    names = {one.item: one.name for one in histories.values()}
    late = late_entries(timed, names)
    sections = tuple(_with_late(section, late) for section in sections)
    items = [item for section in sections for item in section.items]
    state, reason, ended_at = ending(zip(records, entries, strict=True))
    runs = runs_of(entries, records, times)
    return CaseView(
        case=entries[0].case,
        checklist_id=str(documents["checklist"].get("id", "")),
        checklist_title=str(documents["checklist"].get("title", "")),
        source=opened.source,
        practice=any(run.source == "practice" for run in runs),
        state=state,
        reason=reason,
        started_at=entries[0].at,
        ended_at=ended_at,
        last_at=entries[-1].at,
        started_local=times[0].local,
        ended_local=next((one.local for one in times if one.at == ended_at), ""),
        last_local=times[-1].local,
        events=len(entries),
        head=entries[-1].hash,
        tree_head="",  # worked out with the problems, not for a list
        problems=(),
        mismatches=_mismatches(items),
        counts=_counts(items),
        totals=totals_of(records),
        card=str((documents.get("card") or {}).get("id", "")),
        runs=runs,
        sections=sections,
        late_entries=late,
        **_around_items(timed, names, opened),
    )


def _around_items(
    timed: Sequence[tuple[Record, Moment]], names: Mapping[str, str], opened: rec.Opened
) -> dict[str, Any]:
    """What the view has of plan, equipment, team and course."""
    documents, changes = opened.documents, plan_changes(timed, names)
    in_force = plan_in_force(documents.get("plan") or {}, changes)
    return {
        "plan": {part.name: part.value for part in in_force if part.value is not None},
        "plan_in_force": in_force,
        "plan_changes": changes,
        "notices": notices(timed),
        "clock_changes": clock_changes(timed),
        "team": team_view(timed, names, opened),
        "course": course_view(timed, documents),
    }


def _opening(first: Record) -> rec.Opened:
    if not isinstance(first, rec.Opened):
        raise ValueError("it does not begin with the event that opens a case")
    return first


def _counts(items: Sequence[ItemView]) -> dict[str, int]:
    statuses = Counter(item.status for item in items)
    return {status: statuses[status] for status in STATUSES}


def _mismatches(items: Sequence[ItemView]) -> tuple[Mismatch, ...]:
    """Those of all items, in the order of time."""
    every = (one for item in items for one in item.mismatches)
    return tuple(sorted(every, key=lambda one: one.at.seq))


def _listed(documents: Mapping[str, Any]) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    for section in documents["checklist"]["sections"]:
        for item in section["items"]:
            yield section, item


def _histories(
    documents: Mapping[str, Any], timed: Iterator[tuple[Record, Moment]]
) -> dict[str, ItemHistory]:
    names = {str(item["id"]): _name(item) for _, item in _listed(documents)}
    histories = {item_id: ItemHistory(item_id, name) for item_id, name in names.items()}
    for record, at in timed:
        item_id = getattr(record, "item", "")
        if item_id:
            # An item that is not in the checklist is shown all the same, at the end.
            histories.setdefault(item_id, ItemHistory(item_id, item_id)).take(record, at)
        for item_id in getattr(record, "reopened", ()):
            histories.setdefault(item_id, ItemHistory(item_id, item_id)).take(record, at)
    return histories


def _name(item: Mapping[str, Any]) -> str:
    return str(item.get("name") or str(item["id"]).replace("-", " "))


def _sections(
    documents: Mapping[str, Any],
    histories: Mapping[str, ItemHistory],
    state: st.State,
    started: frozenset[str],
) -> tuple[SectionView, ...]:
    sections: list[SectionView] = []
    listed: set[str] = set()
    for section in documents["checklist"]["sections"]:
        section_id = str(section["id"])
        items = [
            replace(
                _item(item, section_id, histories[str(item["id"])], state),
                when=when_due(item, section),
                due=applies(item, section, documents, state),
                made_due_by=thread(str(item["id"]), documents, state),
            )
            for item in section["items"]
        ]
        listed.update(item.id for item in items)
        name = str(section.get("name") or section_id)
        if not is_left_out(section, started):
            sections.append(SectionView(section_id, name, tuple(items)))
    strangers = [
        _item({"id": one.item}, "", one, state)
        for one in histories.values()
        if one.item not in listed
    ]
    if strangers:
        sections.append(SectionView("", "not in the checklist", tuple(strangers)))
    return tuple(sections)


def _with_late(section: SectionView, late: Sequence[LateEntry]) -> SectionView:
    items = (
        replace(item, late=tuple(one for one in late if one.item == item.id))
        for item in section.items
    )
    return replace(section, items=tuple(items))


def _item(item: Mapping[str, Any], section: str, history: ItemHistory, state: st.State) -> ItemView:
    stands = state.item(history.item)
    last = history.answers[-1] if history.answers else None
    return ItemView(
        id=history.item,
        name=history.name,
        section=section,
        call=str(item.get("call", "")),
        stop=bool(item.get("stop", False)),
        status=stands.status,
        words=stands.words,
        role=stands.role,
        role_known_by=stands.role_known_by,
        values=stands.values,
        expected=stands.expected,
        first_called=history.first_called,
        answered=last.at if last and not last.ended else None,
        call_to_answer_s=last.after_call_s if last and not last.ended else None,
        times_asked_again=history.asked_again,
        answers=tuple(history.answers),
        mismatches=tuple(history.mismatches),
        corrections=tuple(history.corrections),
        agreed=tuple(role_words(one.role, one.role_known_by) for one in stands.agreed),
    )
