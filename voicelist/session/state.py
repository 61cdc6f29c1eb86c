"""The state of a case: a fold over its records. Nothing here decides; `machine` does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

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
    Prompted,
    ReadBack,
    Record,
    Resumed,
    SectionClosed,
    SectionOpened,
    Settled,
    Undone,
    Waiting,
)

NOT_ASKED = "not-asked"
CALLED = "called"
WAITING = "waiting"
SAID_DONE = "said-done"
SAID_FAULT = "said-fault"
VALUE = "value"
DEFERRED = "deferred"
NOT_APPLICABLE = "not-applicable"
ANSWERS = (SAID_DONE, SAID_FAULT, VALUE, DEFERRED, NOT_APPLICABLE)


@dataclass(frozen=True, slots=True)
class ItemState:
    """Where one item stands. `answer` is "" or one of ANSWERS; `values` collects what was said."""

    answer: str = ""
    words: str = ""
    role: str = ""
    role_known_by: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    expected: Mapping[str, Any] = field(default_factory=dict)
    accepted: tuple[Accepted, ...] = ()
    times_called: int = 0
    times_asked_again: int = 0
    times_deferred: int = 0
    waiting: bool = False

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
    an answer, `pending` the read-back that waits for a word.
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
        case Resumed():
            return replace(state, closed="" if state.closed == "stopped" else state.closed)
        case Closed():
            return replace(state, closed=record.state, pending=None)
        case Asked():
            return replace(state, last_text=record.text or state.last_text)
        case _:
            return _evolve_item(state, record)


def _evolve_item(state: State, record: Record) -> State:
    match record:
        case Called():
            called = state.changed(
                record.item, times_called=state.item(record.item).times_called + 1
            )
            return replace(called, current=record.item, last_text=record.text, prompts=0)
        case Answered():
            return _answered(state, record)
        case Noted():
            values = {**state.item(record.item).values, **record.values}
            return state.changed(record.item, values=values, waiting=False)
        case ReadBack():
            return replace(state, pending=record, last_text=record.text, prompts=0)
        case Settled():
            return replace(state, pending=None)
        case Corrected():
            kept = tuple(
                one for one in state.item(record.item).accepted if one.quantity != record.quantity
            )
            return state.changed(record.item, accepted=kept)
        case Accepted():
            accepted = (*state.item(record.item).accepted, record)
            return state.changed(record.item, accepted=accepted)
        case AskedAgain():
            asked = state.changed(record.item, times_asked_again=record.times)
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
        times_asked_again=0,
        times_deferred=before.times_deferred + deferred,
        waiting=False,
    )
    return replace(
        after,
        pending=None,
        current="" if record.item == state.current else state.current,
        answered=(*(one for one in state.answered if one != record.item), record.item),
    )


def _undone(state: State, record: Undone) -> State:
    touched = ItemState(times_called=0)
    return replace(
        state,
        items={**state.items, record.item: touched},
        answered=tuple(one for one in state.answered if one != record.item),
        pending=None,
        current="",
    )
