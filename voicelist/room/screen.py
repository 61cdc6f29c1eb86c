"""What the page shows of a case as it stands on disk: plain values, ready to be sent.

Neither the call nor anything beside it gives an expected value before the answer. On a discreet
screen nothing stands of what was heard, reported or found not to fit: the patient may read along.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from voicelist.documents.checklist import Item, Section
from voicelist.room import labels
from voicelist.room.told import HeardLine, Told
from voicelist.session import state as st
from voicelist.session.answers_in_words import answers_in_words
from voicelist.session.case import Case
from voicelist.session.order import due_items
from voicelist.session.sections import at_hand, next_waiting
from voicelist.session.state import ItemState, State
from voicelist.session.turn import is_settled

# What the page puts first: that nothing is heard, before that talk is on hold, before the rest.
ENDED, DEAF, PAUSED, QUIET = "ended", "not-listening", "paused", "quiet"


@dataclass(frozen=True, slots=True)
class Doing:
    """What the assistant does, from the running case: one of `activity`'s words, whether lines are
    typed, and whose microphone gives no signal where another's does."""

    what: str = "starting"
    typing: bool = False
    unheard: tuple[str, ...] = ()


def screen(
    case: Case, state: State, told: Told, doing: Doing, now_s: float, *, discreet: bool
) -> dict[str, Any]:
    """The page's values. `now_s` is on the clock of `told`."""
    case = case.with_plan(state.plan)
    waiting = next_waiting(case, state)
    until = waiting.name if waiting is not None else ""
    items = list(_touched_and_open(case, state))
    return {
        "practice": told.practice,
        "discreet": discreet,
        "title": case.bundle.checklist.title,
        "case": _code(case, state),
        "band": _band(state, doing),
        "doing": doing.what,
        "typing": doing.typing,
        "unheard": [_person(case, one) for one in doing.unheard],
        "until": until,
        "section": case.section(state.section).name if state.section else "",
        "call": _call(case, state, discreet=discreet),
        "more": _more(case, state),
        "asks": "read-back" if state.pending is not None else "call" if state.current else "",
        "source": _source(case, state),
        "answers": [] if discreet and state.pending else list(answers_in_words(case, state)),
        "heard": [_line(case, state, told, one, discreet=discreet) for one in told.heard[::-1]],
        "sections": list(_progress(case, state, discreet=discreet)),
        "open": [_open(one, standing, discreet=discreet) for one, standing in items],
        "not_asked": _not_asked(case, state),
        "mismatches": list(_mismatches(case, told, discreet=discreet)),
        "milestones": list(_milestones(case, state, told, now_s)),
        "elapsed_s": _since(told.opened_s, now_s),
        "called_s": _since(told.called_s, now_s) if state.current else None,
        "quiet_s": _since(told.quiet_s, now_s) if state.under_way else None,
        "closed": state.closed,
    }


def _band(state: State, doing: Doing) -> str:
    if state.closed:
        return ENDED
    if doing.what == DEAF:
        return DEAF
    if state.held:
        return PAUSED
    return QUIET if state.under_way and state.pending is None else doing.what


def _person(case: Case, role: str) -> str:
    """A role as people name it; whatever else is known by, as it is."""
    key = f"role.{role}"
    return case.text(key) if key in case.bundle.sentences.sentences else role


def _code(case: Case, state: State) -> str:
    """The case's code; not before its number was read from the list, where that is asked for."""
    asked = [one.id for one in case.items.values() if one.compare == "case-number"]
    known = all(state.item(one).answer == st.VALUE for one in asked)
    return case.bundle.plan.case if known else ""


def _call(case: Case, state: State, *, discreet: bool) -> str:
    if state.closed:
        return labels.ENDED[state.closed]
    pending = state.pending
    if pending is not None:
        return _read_back(case, state, discreet=discreet)
    if state.current:
        item = case.items[state.current]
        return item.call if _more(case, state) else case.call_text(item)
    return _while_quiet(state) if state.under_way else ""


def _more(case: Case, state: State) -> str:
    """What is said behind the call in a team's first cases."""
    if state.pending is not None or not state.current or state.closed:
        return ""
    item = case.items[state.current]
    text = case.call_text(item)
    return text.removeprefix(item.call).strip() if text.startswith(item.call) else ""


def _while_quiet(state: State) -> str:
    """The milestone that was told last."""
    names = [one.name for one in state.milestones.values()]
    return names[-1][:1].upper() + names[-1][1:] if names else labels.NOTHING_ASKED


def _read_back(case: Case, state: State, *, discreet: bool) -> str:
    pending = state.pending
    assert pending is not None, "asked only then"
    if not discreet:
        return pending.text
    return labels.DISCREET_READ_BACK.get(pending.about, labels.DISCREET_OTHER)


def _source(case: Case, state: State) -> str:
    """Where the value that is asked for is to be read."""
    asked = state.asked
    return (case.items[asked].read_from or "") if asked and not state.closed else ""


def _line(
    case: Case, state: State, told: Told, line: HeardLine, *, discreet: bool
) -> dict[str, str]:
    role = f"role.{line.role}"
    became = "recorded" if discreet and line.became == "reported" else line.became
    sentences = case.bundle.sentences.sentences
    return {
        "who": case.text(role) if role in sentences else labels.NOBODY,
        "words": _words(case, state, told, line, discreet=discreet),
        "became": labels.BECAME[became],
        "mark": became,
    }


def _words(case: Case, state: State, told: Told, line: HeardLine, *, discreet: bool) -> str:
    """What was heard. A value that was said before stands no longer while one is asked for: it may
    be the one that is expected."""
    if not line.words:
        return labels.TALK
    if discreet:
        return labels.SOMETHING
    asked = case.items.get(state.asked)
    said = case.items.get(line.item)
    earlier = line.after_call < told.calls
    if earlier and asked is not None and asked.asks_for_value and said is not None:
        return said.name if said.asks_for_value or said.details else line.words
    return line.words


def _sections(case: Case, state: State) -> tuple[Section, ...]:
    """The sections of the case, each short list that is open where it was started."""
    lists = (case.section(one) for one in state.short_lists)
    return (*case.sections(), *lists)


def _progress(case: Case, state: State, *, discreet: bool) -> Iterator[dict[str, Any]]:
    waits = {one.id for one in case.sections()} - {one.id for one in at_hand(case, state)}
    for section in _sections(case, state):
        items = list(due_items(case, state, section))
        if not items:
            continue
        marks = [_mark(one, state) for one in items]
        if discreet:
            marks = ["open" if one == "reported" else one for one in marks]
        through = sum(is_settled(one, state.item(one.id)) for one in items)
        here = section.id == state.section and not state.closed and not state.under_way
        yield {
            "name": section.name,
            "marks": marks,
            "through": through,
            "due": len(items),
            "here": here,
            "state": "through" if through == len(items) else "here" if here else "open",
            "waits": section.id in waits and section.waits,
        }


def _mark(item: Item, state: State) -> str:
    standing = state.item(item.id)
    if standing.answer == st.NOT_APPLICABLE:
        return "not-applicable"
    if standing.answer == st.SAID_FAULT:
        return "reported"
    if standing.answer == st.DEFERRED:
        return "later"
    if is_settled(item, standing):
        return "recorded"
    return "asked" if item.id == state.asked else "open"


def _touched_and_open(case: Case, state: State) -> Iterator[tuple[Item, ItemState]]:
    """Items that were asked and still ask for something, but for the one that is asked now."""
    for section in at_hand(case, state):
        for item in due_items(case, state, section):
            standing = state.item(item.id)
            untouched = standing.status == st.NOT_ASKED and not standing.values
            now = item.id == state.asked and not standing.waiting
            if not (untouched or now or is_settled(item, standing)):
                yield item, standing


def _open(item: Item, standing: ItemState, *, discreet: bool) -> dict[str, str]:
    why = standing.status
    if why == st.NOT_ASKED or (why == st.CALLED and standing.values):
        why = "noted"
    told = labels.DISCREET_OPEN if discreet else labels.OPEN_BECAUSE.get(why, why)
    return {"name": item.name, "why": told, "mark": "open" if discreet else why}


def _not_asked(case: Case, state: State) -> int:
    return sum(
        state.item(item.id).status == st.NOT_ASKED
        for section in _sections(case, state)
        for item in due_items(case, state, section)
    )


def _mismatches(case: Case, told: Told, *, discreet: bool) -> Iterator[dict[str, str]]:
    for item_id, found in told.mismatches.items():
        name = case.items[item_id].name
        if discreet:
            yield {"name": name, "sentence": labels.DISCREET_MISMATCH}
            continue
        for one in found:
            yield {"name": name, "sentence": one.sentence}


def _milestones(case: Case, state: State, told: Told, now_s: float) -> Iterator[dict[str, Any]]:
    for milestone in case.bundle.checklist.milestones:
        one = state.milestones.get(milestone.id)
        if one is not None:
            yield {
                "name": one.name,
                "clock": f"{one.clock}, {labels.AS_TOLD}" if one.clock else "",
                "since_s": None if one.clock else _since(told.milestones[milestone.id], now_s),
            }


def _since(at_s: float | None, now_s: float) -> float | None:
    return None if at_s is None else round(max(0.0, now_s - at_s), 1)
