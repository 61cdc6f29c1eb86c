"""The course of a case: when it was under way, its milestones, what was asked for, how it ended."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from voicelist.record.journal import Entry
from voicelist.record.times import SOUND, Moment
from voicelist.record.words import clock_words, role_words
from voicelist.session import records as rec
from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay, WentBack
from voicelist.session.record_base import Record

OPEN_CASE = "open"
Timed = Sequence[tuple[Record, Moment]]


@dataclass(frozen=True, slots=True)
class CourseMilestone:
    """A step of the operation as it was told, at `at`. `happened` is the time that it is about: a
    time of day as it was said ("8:40"), one that was reckoned from "five minutes ago", or that of
    the telling. `stands` is false where it was told anew with a time, or was told before."""

    at: Moment
    id: str
    name: str
    said: str
    role: str
    clock: str
    minutes_ago: float | None
    happened: str
    stands: bool

    @property
    def words(self) -> str:
        """The milestone in one line."""
        when = f"{self.happened} by what was said" if self.clock else self.happened
        told = f', told at {self.at.shown}: "{self.said}", {self.role}'
        return f"{self.name}: {when}{told}" + ("" if self.stands else "; another time stands")


@dataclass(frozen=True, slots=True)
class Request:
    """A section that was asked for. `missing` are milestones that had not been told, `went_back`
    when a short list ended, `left` whether somebody ended it before its last item."""

    at: Moment
    section: str
    name: str
    said: str
    role: str
    short_list: bool
    missing: tuple[str, ...]
    went_back: Moment | None = None
    left: bool = False

    @property
    def words(self) -> str:
        """The request in one line."""
        text = f'{self.name} begun at {self.at.shown}: "{self.said}", {self.role}'
        if self.missing:
            text += f"; not told before: {', '.join(self.missing)}"
        if self.went_back is not None:
            text += f"; {'left' if self.left else 'through'} at {self.went_back.shown}"
        return text


@dataclass(frozen=True, slots=True)
class CourseView:
    """`quiet_since` is when nothing was left to ask before a section that waits; `not_started` are
    names of short lists that nobody asked for."""

    quiet_since: Moment | None
    milestones: tuple[CourseMilestone, ...]
    requests: tuple[Request, ...]
    not_started: tuple[str, ...]


def course_view(timed: Timed, documents: Mapping[str, Any]) -> CourseView:
    """The course of a case by its records and the documents that it embeds."""
    checklist = documents["checklist"]
    sections = {str(one["id"]): one for one in checklist["sections"]}
    started = asked_for(record for record, _ in timed)
    return CourseView(
        next((at for one, at in timed if isinstance(one, UnderWay)), None),
        tuple(_milestones(timed)),
        tuple(_requests(timed, sections, _milestone_names(checklist))),
        tuple(_name(one) for key, one in sections.items() if is_left_out(one, started)),
    )


def asked_for(records: Iterable[Record]) -> frozenset[str]:
    """The sections that were asked for."""
    return frozenset(one.section for one in records if isinstance(one, SectionAsked))


def is_left_out(section: Mapping[str, Any], started: frozenset[str]) -> bool:
    """Whether a section is a short list that nobody started: its items were never due."""
    return bool(section.get("goes back")) and str(section["id"]) not in started


def ending(pairs: Iterable[tuple[Record, Entry]]) -> tuple[str, str, str | None]:
    """State, reason and time of the end; open again after a case was resumed."""
    found: tuple[str, str, str | None] = (OPEN_CASE, "", None)
    for record, entry in pairs:
        if isinstance(record, rec.Closed):
            found = (record.state, record.reason, entry.at)
        elif isinstance(record, rec.Resumed):
            found = (OPEN_CASE, "", None)
    return found


def _milestones(timed: Timed) -> Iterator[CourseMilestone]:
    told = [(one, at) for one, at in timed if isinstance(one, MilestoneTold)]
    standing: dict[str, int] = {}
    for place, (one, _) in enumerate(told):
        if one.milestone not in standing or one.is_late:
            standing[one.milestone] = place
    for place, (one, at) in enumerate(told):
        yield CourseMilestone(
            at,
            one.milestone,
            one.name,
            one.words,
            role_words(one.role, one.role_known_by),
            one.clock,
            one.minutes_ago,
            _happened(one, at),
            standing[one.milestone] == place,
        )


def _happened(told: MilestoneTold, at: Moment) -> str:
    if told.clock:
        return told.clock
    ago_s = 60.0 * (told.minutes_ago or 0.0)
    if at.base == SOUND:
        return clock_words(max(at.t_s - ago_s, 0.0))
    return (datetime.fromisoformat(at.local or at.at) - timedelta(seconds=ago_s)).strftime(
        "%H:%M:%S"
    )


def _requests(
    timed: Timed, sections: Mapping[str, Mapping[str, Any]], milestones: Mapping[str, str]
) -> Iterator[Request]:
    for place, (one, at) in enumerate(timed):
        if not isinstance(one, SectionAsked):
            continue
        ended = _end_of(one, timed[place + 1 :])
        yield Request(
            at,
            one.section,
            _name(sections.get(one.section, {"id": one.section})),
            one.words,
            role_words(one.role, one.role_known_by),
            one.goes_back,
            tuple(milestones.get(name, name) for name in one.missing),
            ended[1] if ended else None,
            ended[0].left if ended else False,
        )


def _end_of(request: SectionAsked, later: Timed) -> tuple[WentBack, Moment] | None:
    for one, at in later:
        if isinstance(one, WentBack) and one.section == request.section:
            return one, at
    return None


def _milestone_names(checklist: Mapping[str, Any]) -> dict[str, str]:
    return {str(one["id"]): _name(one) for one in checklist.get("milestones") or ()}


def _name(entry: Mapping[str, Any]) -> str:
    return str(entry.get("name") or str(entry["id"]).replace("-", " "))
