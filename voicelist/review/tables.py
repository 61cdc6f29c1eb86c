"""The data dictionary: which tables a case makes, their columns, types and units.

Types are text, integer, real, boolean and time (UTC, to the millisecond). A column without a value
holds nothing (NULL), never a blank or a zero in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

# A change of a column's meaning, type or name makes a new version; new columns at the end do not.
VERSION: Final = 1

Kind = Literal["text", "integer", "real", "boolean", "time"]
Cell = str | int | float | bool | None
Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """`unit` is "" for what has none."""

    name: str
    kind: Kind
    unit: str
    about: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table; `about` says what one row is."""

    name: str
    about: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The names of its columns, in order."""
        return tuple(one.name for one in self.columns)


def _text(name: str, about: str) -> Column:
    return Column(name, "text", "", about)


def _count(name: str, about: str) -> Column:
    return Column(name, "integer", "", about)


def _yes_no(name: str, about: str) -> Column:
    return Column(name, "boolean", "", about)


def _seconds(name: str, about: str) -> Column:
    return Column(name, "real", "s", about)


def _time(name: str, about: str) -> Column:
    return Column(name, "time", "UTC", about)


# What every row of every table begins with: where a figure comes from.
LEAD: Final = (
    _text("theatre", "the theatre that kept the case; empty where none was named"),
    _text("case", "the case code, unique within its theatre"),
    _text("head", "the hash of the last event of the case: what was projected"),
    _count("seq", "the number of the event in the journal of the case that the row is about"),
    _text("nature", "real, practice, or invented (made by a generator)"),
    _text("month", "year and month in which the case began (UTC)"),
    _text("week", "the Monday of the week in which it began (UTC)"),
    _text("day", "the day on which it began (UTC)"),
    _text("checklist", "the id of the checklist"),
    _text("documents", "first 12 digits of the SHA-256 of the checklist: its version"),
)

CASES: Final = Table(
    "cases",
    "one case; `seq` is the event that opened it",
    (
        *LEAD,
        _text("source", "live, recording, typed or practice, as the case was opened"),
        _text("software", "the version of voicelist that opened it"),
        _text("card", "the id of the surgeon's preference card"),
        _text("state", "open, completed, stopped or abandoned"),
        _time("began_at", "when it was opened"),
        _time("ended_at", "when it was closed; nothing while it is open"),
        _seconds("duration_s", "time in all its runs together, without the breaks between them"),
        _count("runs", "starts of the program, late entries left aside"),
        _count("events", "events in the journal"),
        _count("items_due", "items of the checklist that applied"),
        _count("items_answered", "items that applied and have an answer at the end"),
        _count("items_before_incision", "items that applied and stand before the incision"),
        _count("answered_before_incision", "those of them that were answered before it was told"),
        _count("utterances", "utterances and typed lines that were looked at"),
        _count("not_understood", "those of them that were not understood"),
        _count("not_for_us", "those of them that were talk of the room"),
        _count("asked_again", "times that an item was asked again"),
        _count("prompts", "prompts after a silence"),
        _count("mismatches", "values that did not fit and were read back"),
        _count("stop_faults", "reports that a stop item is not right"),
        _seconds("speech_s", "how long the assistant spoke"),
        _seconds(
            "time_out_s", "from the opening of the section time-out to its closing, in one run"
        ),
    ),
)

ITEMS: Final = Table(
    "items",
    "one item of the checklist in one case; `seq` is the event of the answer that stands, else of "
    "its first call, else that which opened the case",
    (
        *LEAD,
        _text("section", "the id of its section"),
        _text("item", "the id of the item"),
        _yes_no("stop", "whether it is a stop item"),
        _yes_no("due", "whether it applied to the case"),
        _text("status", "the answer that stands, or waiting, called, not-asked"),
        _text("role", "the role that answered; empty where it is not known"),
        _text("role_known_by", "channel, spoken, typed, or empty"),
        _time("answered_at", "when the answer that stands was given"),
        _seconds("call_to_answer_s", "from its last call to the answer that stands, in one run"),
        _seconds("wait_s", "from the end of its first call to the first word for the checklist"),
        _seconds("held_s", "time in which it was the item asked about, over all its calls"),
        _count("calls", "times that it was called"),
        _count("asked_again", "times that it was asked again"),
        _count("prompts", "prompts after a silence while it was asked"),
        _count("deferred", "times that it was left for later"),
        _count("faults", "times that it was reported not right"),
        _count("undone", "answers that were taken back"),
        _count("mismatches", "values that did not fit and were read back"),
        _yes_no(
            "before_incision",
            "whether its answer came before the incision was told; nothing "
            "where no incision was told as it happened, or the item belongs after it",
        ),
    ),
)

UTTERANCES: Final = Table(
    "utterances",
    "one utterance or typed line; `seq` is the event in which it was heard",
    (
        *LEAD,
        _text("section", "the section that was open"),
        _text("item", "the item that was asked about; empty where none was"),
        _text("by", "voice or typed"),
        _text("status", "understood, not-understood, not-for-us or not-taken"),
        _text("rule", "the phrase that it matched, or came near to"),
        _text("words", "the words; empty for talk that was not for the assistant"),
        _text("why", "why it was not understood or not taken"),
        _text("role", "the role that spoke; empty where it is not known"),
        _text("role_known_by", "channel, spoken, typed, or empty"),
        _count("channel", "the channel of sound"),
        _yes_no("asked_again", "whether the item was asked again because of it"),
        _count("talk_before", "utterances of the room's talk in the 30 s before, in the same run"),
        _seconds("length_s", "its length"),
        _seconds("decided_after_s", "from its end to the decision"),
    ),
)

MISMATCHES: Final = Table(
    "mismatches",
    "one value that did not fit and was read back; `seq` is the event of the read-back",
    (
        *LEAD,
        _text("section", "the id of the item's section"),
        _text("item", "the id of the item"),
        _text("rule", "the check that it failed"),
        _text("severity", "ask or stop"),
        _text("quantity", "the quantity, with its unit in the name"),
        _text("heard", "what was said"),
        _text("expected", "what plan, card or limits say"),
        _text("unit", "the unit of both"),
        _text("outcome", "open, accepted, corrected, settled or undone"),
        _count("outcome_seq", "the event that ended it; nothing while it is open"),
        _seconds("to_outcome_s", "from the read-back to that event, in one run"),
        _count("times", "times that it was read back"),
        _text("role", "the role that accepted it"),
        _text("reason", "the reason given"),
    ),
)

MILESTONES: Final = Table(
    "milestones",
    "one step in the course of a case: what was told of the operation, and its sections",
    (
        *LEAD,
        _text(
            "kind",
            "opened, resumed, section-opened, section-closed, section-asked, under-way, "
            "told, or closed",
        ),
        _text("name", "the id of the milestone or section; of the end, its state"),
        _text("role", "the role that told it or asked for it; empty where it is not known"),
        _time("at", "when the event was kept"),
        _count("run", "which start of the program, from 1"),
        _seconds("t_s", "time since the start of that run"),
        _text("time_base", "clock or sound: what counts that time"),
        _yes_no("late", "whether a time was said with it, so that `at` is that of the telling"),
        _seconds("lasted_s", "of section-closed: since that section was opened, in one run"),
    ),
)

TABLES: Final[Mapping[str, Table]] = {
    one.name: one for one in (CASES, ITEMS, UTTERANCES, MISMATCHES, MILESTONES)
}


def dictionary_words() -> str:
    """The data dictionary as plain text."""
    lines = [
        f"Tables of a case, version {VERSION}. Empty is nothing (NULL), never a zero in its place.",
        "Each figure leads back to its event: theatre, case, head and seq.",
    ]
    for table in TABLES.values():
        lines += ["", f"{table.name}: {table.about}"]
        width = max(len(one.name) for one in table.columns)
        for one in table.columns:
            kind = f"{one.kind} ({one.unit})" if one.unit else one.kind
            lines.append(f"  {one.name:<{width}}  {kind:<10}  {one.about}")
    return "\n".join(lines)
