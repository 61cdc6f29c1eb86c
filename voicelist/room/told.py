"""What the display remembers of a case beside its state: what was heard and what became of it,
mismatches until they are settled, when things were told. A fold over records that are on disk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from voicelist.session import state as st
from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay
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
    Heard,
    Held,
    Noted,
    Opened,
    ReadBack,
    Said,
    Undone,
    Waiting,
)
from voicelist.session.team_records import Adjusted, Agreed, PlanChanged

HEARD_KEPT = 6


@dataclass(frozen=True, slots=True)
class HeardLine:
    """One utterance: `words` ("" for talk), who said it, what `became` of it (a key of
    `labels.BECAME`), the item of the answer, and the call that it followed."""

    words: str
    role: str
    became: str
    item: str
    after_call: int


@dataclass(frozen=True, slots=True)
class Differs:
    """One thing that does not fit, as it was read back or shown."""

    quantity: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Told:
    """Times are seconds of the monotonic clock; `calls` counts the calls so far."""

    opened_s: float | None = None
    practice: bool = False
    calls: int = 0
    called_s: float | None = None
    quiet_s: float | None = None
    heard: tuple[HeardLine, ...] = ()
    mismatches: Mapping[str, tuple[Differs, ...]] = field(default_factory=dict)
    milestones: Mapping[str, float] = field(default_factory=dict)


def after(told: Told, record: Record, at_s: float) -> Told:
    """What is remembered after one more record, kept at `at_s`."""
    match record:
        case Opened():
            return replace(told, opened_s=at_s, practice=record.source == "practice")
        case Called():
            return replace(told, calls=told.calls + 1, called_s=at_s, quiet_s=None)
        case UnderWay():
            return replace(told, quiet_s=at_s)
        case SectionAsked():
            return replace(_became(told, "kept"), quiet_s=None)
        case MilestoneTold():
            first = told.milestones.get(record.milestone)
            ago_s = 60.0 * (record.minutes_ago or 0.0)
            stands_s = at_s - ago_s if first is None or record.is_late else first
            milestones = {**told.milestones, record.milestone: stands_s}
            return replace(_became(told, "kept"), milestones=milestones)
        case Heard():
            return _hears(told, record)
        case _:
            return _mismatched(_became(told, _outcome(record)), record)


def _hears(told: Told, record: Heard) -> Told:
    became = record.status if record.status in ("not-for-us", "not-taken") else "heard"
    rule = record.rule.split(" ")[0]
    item = "" if rule.startswith("command.") else rule.partition(".")[0]
    line = HeardLine(record.words, record.role, became, item, told.calls)
    # Talk is one line, however long it goes on.
    before = told.heard[:-1] if told.heard and _is_talk(told.heard[-1], line) else told.heard
    return replace(told, heard=(*before, line)[-HEARD_KEPT:])


def _is_talk(*lines: HeardLine) -> bool:
    return all(one.became == "not-for-us" for one in lines)


def _outcome(record: Record) -> str:
    """What a record makes of the utterance before it; "" where it says nothing of it."""
    match record:
        case Answered():
            named = {
                st.SAID_FAULT: "reported",
                st.DEFERRED: "later",
                st.NOT_APPLICABLE: "not-applicable",
            }
            return named.get(record.answer, "recorded")
        case Noted():
            return "noted"
        case ReadBack():
            return "read-back"
        case AskedAgain():
            return "asked-again"
        case Waiting():
            return "waits"
        case Undone():
            return "taken-back"
        case Held():
            return "paused"
        case CarriedOn():
            return "goes-on"
        case Agreed() | PlanChanged() | Adjusted() | Accepted() | Closed():
            return "kept"
        case Asked() | Said():
            return "replied"
        case _:
            return ""


def _became(told: Told, outcome: str) -> Told:
    """The last utterance led to this. An answer that is on disk stays one, whatever follows."""
    if not outcome or not told.heard:
        return told
    last = told.heard[-1]
    if last.became in ("not-for-us", "not-taken", "recorded", "reported", "not-applicable"):
        return told
    if outcome == "replied" and last.became != "heard":
        return told
    if outcome == "read-back" and last.became not in ("heard", "noted"):
        return told
    return replace(told, heard=(*told.heard[:-1], replace(last, became=outcome)))


def _mismatched(told: Told, record: Record) -> Told:
    """A mismatch stands until its item is answered or asked anew, or it is accepted or corrected;
    an item that is only left for later keeps it."""
    match record:
        case ReadBack() if record.item:
            found = tuple(
                Differs(str(one["quantity"]), str(one["sentence"]))
                for one in record.findings
                if one["severity"] != "note"
            )
            return _with(told, record.item, found if record.about == "mismatch" else ())
        case Answered() if record.answer != st.DEFERRED:
            return _with(told, record.item, ())
        case Undone():
            return _with(told, record.item, ())
        case Accepted() | Corrected():
            left = told.mismatches.get(record.item, ())
            rest = tuple(one for one in left if one.quantity != record.quantity)
            return _with(told, record.item, rest)
        case PlanChanged():
            kept = {k: one for k, one in told.mismatches.items() if k not in record.reopened}
            return replace(told, mismatches=kept)
        case _:
            return told


def _with(told: Told, item: str, found: tuple[Differs, ...]) -> Told:
    rest = {key: one for key, one in told.mismatches.items() if key != item}
    return replace(told, mismatches={**rest, item: found} if found else rest)
