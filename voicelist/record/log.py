"""One line of words for each event of a journal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from voicelist.record.view import CaseView
from voicelist.record.words import STATUS, named, quantities_words, role_words, value_words
from voicelist.session import flow_records as flow
from voicelist.session import records as rec
from voicelist.session import team_records as team
from voicelist.session.record_base import Record

_NOT = {"not-understood": "not understood", "not-taken": "not taken"}


@dataclass(frozen=True, slots=True)
class Names:
    """Short names of items and sections by id."""

    items: Mapping[str, str]
    sections: Mapping[str, str]

    @classmethod
    def of(cls, view: CaseView) -> Names:
        return cls(
            {item.id: item.name for item in view.items},
            {section.id: section.name for section in view.sections},
        )


def event_words(record: Record, names: Names) -> str:
    """What an event says, in one line."""
    item = names.items.get(getattr(record, "item", ""), "")
    match record:
        case rec.Opened() | rec.Resumed():
            return f"source {record.source}; voicelist {record.software}"
        case rec.SectionOpened() | rec.SectionClosed():
            return names.sections.get(record.section, record.section)
        case rec.Heard():
            return _heard(record)
        case rec.Said():
            return _joined(f'"{record.text}" ({record.seconds:.1f} s)', record.problem)
        case rec.Noticed():
            return f"{record.part}: {record.what}"
        case rec.Asked():
            return _joined(record.what.removeprefix("command.").replace("_", " "), record.text)
        case rec.Held():
            return record.by.replace("_", " ")
        case rec.Closed():
            return _joined(record.state, record.reason, record.role.replace("-", " "))
        case (
            team.PlanChanged()
            | team.EquipmentChanged()
            | team.HandedOver()
            | team.SecondEye()
            | team.Adjusted()
        ):
            return _of_the_team(record, names)
        case flow.UnderWay() | flow.SectionAsked() | flow.WentBack() | flow.MilestoneTold():
            return _of_the_course(record, names)
        case rec.Called() | rec.AskedAgain() | rec.Prompted() | rec.ReadBack():
            return _joined(item, f'"{record.text}"')
        case _:
            return _joined(item, _about_item(record))


def _of_the_team(
    record: team.PlanChanged
    | team.EquipmentChanged
    | team.HandedOver
    | team.SecondEye
    | team.Adjusted,
    names: Names,
) -> str:
    match record:
        case team.PlanChanged():
            return _joined(record.field, f"read from {record.document}")
        case team.EquipmentChanged():
            return f'"{record.words}"'
        case team.HandedOver():
            names_of = ", ".join(
                names.items.get(one, one) for one in (*record.deferred, *record.open)
            )
            return _joined(role_words(record.role, ""), names_of)
        case team.SecondEye():
            return f"second eye of {record.first_case}; nothing carries over"
        case team.Adjusted():
            return f"pace {record.pace:+d}, level {record.level:+d}"


def _of_the_course(
    record: flow.UnderWay | flow.SectionAsked | flow.WentBack | flow.MilestoneTold, names: Names
) -> str:
    match record:
        case flow.UnderWay():
            return _joined("quiet", record.text and f'"{record.text}"')
        case flow.SectionAsked():
            who = role_words(record.role, record.role_known_by) if record.words else ""
            missing = ", ".join(record.missing)
            return _joined(
                names.sections.get(record.section, record.section),
                record.words and f'"{record.words}"',
                who,
                missing and f"not told before: {missing}",
            )
        case flow.WentBack():
            name = names.sections.get(record.section, record.section)
            return _joined(name, "left before its last item" if record.left else "")
        case flow.MilestoneTold():
            ago = "" if record.minutes_ago is None else f"{record.minutes_ago:g} minutes ago"
            who = role_words(record.role, record.role_known_by)
            return _joined(record.name, record.clock or ago, f'"{record.words}"', who)


def _heard(record: rec.Heard) -> str:
    if record.status == "not-for-us":
        return "talk that was not for the assistant; its words are not kept"
    taken = (
        ""
        if record.status == "understood"
        else f"{_NOT.get(record.status, record.status)}: {record.why}"
    )
    when = "" if record.start_s is None else f"sample time {record.start_s:.2f} s"
    who = role_words(record.role, record.role_known_by) if record.role else ""
    words = f'"{record.words}"' if record.words else ""
    return _joined(words, taken, who, record.by, when)


def _about_item(record: Record) -> str:
    match record:
        case rec.Answered():
            who = role_words(record.role, record.role_known_by)
            values = quantities_words(record.values)
            return _joined(
                STATUS.get(record.answer, record.answer), values, f'"{record.words}"', who
            )
        case rec.Noted():
            return _joined(quantities_words(record.values), f'"{record.words}"')
        case rec.Corrected():
            return (
                f"{named(record.quantity)[0]}: {_change(record.quantity, record.old, record.new)}"
            )
        case rec.Accepted():
            heard = value_words(record.quantity, record.heard)
            expected = value_words(record.quantity, record.expected)
            what = f"{named(record.quantity)[0]} {heard} where {expected} was expected"
            who = role_words(record.role, record.role_known_by)
            return _joined(what, record.reason and f"reason: {record.reason}", who)
        case rec.Waiting():
            return record.why
        case team.Agreed():
            return _joined(f'"{record.words}"', role_words(record.role, record.role_known_by))
        case team.Amended():
            return _joined(f'"{record.text}"', record.role.replace("-", " "), record.reason)
        case rec.Undone():
            return _joined(STATUS.get(record.answer, record.answer), record.why)
        case rec.Settled():
            return f"the read-back about {record.about} was dropped"
        case _:
            return ""


def _change(quantity: str, old: Any, new: Any) -> str:
    return f"{value_words(quantity, old)} \N{RIGHTWARDS ARROW} {value_words(quantity, new)}"


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)
