"""The tables of one case, from its events alone: the same events give the same rows."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from voicelist.errors import RecordError
from voicelist.record.history import Mismatch
from voicelist.record.journal import Entry, canonical
from voicelist.record.times import Moment, moments
from voicelist.record.view import NO_CASE, CaseView, ItemView, unverified_view
from voicelist.review.tables import TABLES, Cell, Row
from voicelist.review.walk import AskedItem, UtteranceInCase, Walk, length_s, walk
from voicelist.session import records as rec
from voicelist.session import state as st

Rows = Mapping[str, tuple[Row, ...]]

REAL, PRACTICE, INVENTED = "real", "practice", "invented"
INCISION = "incision"
TIME_OUT = "time-out"
_DIGITS_OF_A_VERSION = 12


def project(
    entries: Sequence[Entry], nature: str | None = None, theatre: str | None = None
) -> Rows:
    """The rows of each table for one case. `nature` and `theatre` override what the case says of
    itself: a server knows whose login added it. Nothing is verified here. Raises RecordError for
    events that make no case."""
    try:
        return _project(tuple(entries), nature, theatre)
    except NO_CASE as error:
        raise RecordError(
            f"This record makes no tables ({type(error).__name__}: {error}): verify it; an older "
            "or newer version of voicelist may have written it."
        ) from error


def _project(entries: tuple[Entry, ...], nature: str | None, theatre: str | None) -> Rows:
    view = unverified_view(entries)
    opened = rec.from_body(entries[0].kind, entries[0].body)
    if not isinstance(opened, rec.Opened):
        raise ValueError("it does not begin with the event that opens a case")
    records = [rec.from_body(one.kind, one.body) for one in entries]
    walked = walk(list(zip(records, moments(entries), strict=True)))
    lead = {**_lead(view, opened, nature), **({} if theatre is None else {"theatre": theatre})}
    incision = _incision(walked)
    early = _sections_before_incision(opened.documents)
    items = [
        _item(
            item,
            walked.asked.get(item.id, AskedItem()),
            incision if item.section in early else None,
        )
        for item in view.items
    ]
    rows = {
        "cases": [_case(view, opened, walked, items, early)],
        "items": items,
        "utterances": [_utterance(one) for one in walked.utterances],
        "mismatches": [
            _mismatch(one, item.section) for item in view.items for one in item.mismatches
        ],
        "milestones": list(_steps(walked)),
    }
    return {name: tuple(_row(name, lead, one) for one in rows[name]) for name in TABLES}


def _row(table: str, lead: Mapping[str, Cell], cells: Mapping[str, Cell]) -> Row:
    """The cells in the order of the table's columns; a missing one is a mistake in this module."""
    both = {**lead, **cells}
    return tuple(_cell(both[one.name], one.kind) for one in TABLES[table].columns)


def _cell(value: Cell, kind: str) -> Cell:
    """Whole seconds are real numbers, too, so that the same column always has one type."""
    return float(value) if kind == "real" and value is not None else value


def _lead(view: CaseView, opened: rec.Opened, nature: str | None) -> dict[str, Cell]:
    digest = hashlib.sha256(canonical(dict(opened.documents["checklist"]))).hexdigest()
    return {
        "theatre": opened.theatre,
        "case": view.case,
        "head": view.head,
        "nature": nature or (PRACTICE if view.practice else REAL),
        **days_of(view.started_at),
        "checklist": view.checklist_id,
        "documents": digest[:_DIGITS_OF_A_VERSION],
    }


def days_of(began_at: str) -> dict[str, Cell]:
    """Month, week and day of a time in UTC."""
    day = date.fromisoformat(began_at[:10])
    monday = day - timedelta(days=day.weekday())
    return {"month": began_at[:7], "week": monday.isoformat(), "day": day.isoformat()}


def _incision(walked: Walk) -> Moment | None:
    """The event that told of the incision as it happened; None where none did."""
    told = (one for one in walked.steps if one.kind == "told" and one.name == INCISION)
    first = next(told, None)
    return None if first is None or first.late else first.at


def _sections_before_incision(documents: Mapping[str, Any]) -> frozenset[str]:
    """Those that stand before the first section that waits to be asked for, short lists aside."""
    found: list[str] = []
    for section in documents["checklist"]["sections"]:
        if section.get("goes back"):
            continue
        if section.get("begins") == "when asked":
            break
        found.append(str(section["id"]))
    return frozenset(found)


def _case(
    view: CaseView,
    opened: rec.Opened,
    walked: Walk,
    items: Sequence[Mapping[str, Cell]],
    early: frozenset[str],
) -> dict[str, Cell]:
    due = [one for one in items if one["due"]]
    totals = view.totals
    return {
        "seq": 1,
        "source": view.source,
        "software": opened.software,
        "card": view.card,
        "state": view.state,
        "began_at": view.started_at,
        "ended_at": view.ended_at,
        "duration_s": round(sum(run.seconds for run in view.runs), 3),
        "runs": len(view.runs),
        "events": view.events,
        "items_due": len(due),
        "items_answered": sum(1 for one in due if one["status"] in st.SETTLED),
        "items_before_incision": sum(1 for one in due if one["section"] in early),
        "answered_before_incision": _counted_before(due, walked),
        "utterances": totals.utterances,
        "not_understood": totals.not_understood,
        "not_for_us": totals.ignored,
        "asked_again": totals.asked_again,
        "prompts": totals.prompts,
        "mismatches": len(view.mismatches),
        "stop_faults": sum(len(item.faults) for item in view.items if item.stop),
        "speech_s": totals.speech_s,
        "time_out_s": _lasted_s(walked, TIME_OUT),
    }


def _counted_before(due: Sequence[Mapping[str, Cell]], walked: Walk) -> int | None:
    """None where no incision was told as it happened: then nobody knows."""
    if _incision(walked) is None:
        return None
    return sum(1 for one in due if one["before_incision"])


def _lasted_s(walked: Walk, section: str) -> float | None:
    lasted = (
        one.lasted_s
        for one in walked.steps
        if one.kind == "section-closed" and one.name == section and one.lasted_s is not None
    )
    return next(lasted, None)


def _item(item: ItemView, asked: AskedItem, incision: Moment | None) -> dict[str, Cell]:
    stands = item.answered or asked.first_call
    return {
        "seq": stands.seq if stands else 1,
        "section": item.section,
        "item": item.id,
        "stop": item.stop,
        "due": item.due,
        "status": item.status,
        "role": item.role,
        "role_known_by": item.role_known_by,
        "answered_at": item.answered.at if item.answered else None,
        "call_to_answer_s": item.call_to_answer_s,
        "wait_s": asked.wait_s,
        "held_s": round(asked.held_s, 3) if asked.calls else None,
        "calls": asked.calls,
        "asked_again": item.times_asked_again,
        "prompts": asked.prompts,
        "deferred": asked.deferred,
        "faults": len(item.faults),
        "undone": len(item.undone),
        "mismatches": len(item.mismatches),
        "before_incision": None if incision is None else _stood_before(item, incision),
    }


def _stood_before(item: ItemView, incision: Moment) -> bool:
    """Whether an answer that passes stood when the incision was told."""
    return any(
        one.answer in st.SETTLED
        and one.at.seq < incision.seq
        and (one.ended_at is None or one.ended_at.seq > incision.seq)
        for one in item.answers
    )


def _utterance(one: UtteranceInCase) -> dict[str, Cell]:
    heard = one.heard
    return {
        "seq": one.at.seq,
        "section": one.section,
        "item": one.item,
        "by": heard.by,
        "status": heard.status,
        "rule": heard.rule,
        "words": heard.words,
        "why": heard.why,
        "role": heard.role,
        "role_known_by": heard.role_known_by,
        "channel": heard.channel,
        "asked_again": one.asked_again,
        "talk_before": one.talk_before,
        "length_s": length_s(heard),
        "decided_after_s": _decided_after_s(heard),
    }


def _decided_after_s(heard: rec.Heard) -> float | None:
    if heard.decided_s is None or heard.end_s is None:
        return None
    return round(heard.decided_s - heard.end_s, 3)


def _mismatch(one: Mismatch, section: str) -> dict[str, Cell]:
    ended = one.outcome_at
    return {
        "seq": one.at.seq,
        "section": section,
        "item": one.item,
        "rule": one.rule,
        "severity": one.severity,
        "quantity": one.quantity,
        "heard": _plain(one.heard),
        "expected": _plain(one.expected),
        "unit": one.unit,
        "outcome": one.outcome,
        "outcome_seq": ended.seq if ended else None,
        "to_outcome_s": ended.seconds_since(one.at) if ended else None,
        "times": one.times,
        "role": one.role,
        "reason": one.reason,
    }


def _plain(value: Any) -> str:
    """A value as canonical JSON; plain text as it is, nothing as an empty text."""
    if value is None:
        return ""
    return value if isinstance(value, str) else canonical(value).decode()


def _steps(walked: Walk) -> Iterator[dict[str, Cell]]:
    for one in walked.steps:
        yield {
            "seq": one.at.seq,
            "kind": one.kind,
            "name": one.name,
            "role": one.role,
            "at": one.at.at,
            "run": one.run,
            "t_s": round(one.at.t_s, 3),
            "time_base": one.at.base,
            "late": one.late,
            "lasted_s": one.lasted_s,
        }
