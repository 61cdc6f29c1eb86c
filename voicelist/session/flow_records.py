"""Kinds of events about a case's course: waiting under way, milestones, sections on request."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from voicelist.session.record_base import Record


@dataclass(frozen=True, slots=True)
class UnderWay(Record):
    """Nothing is left to ask before the section that waits: the assistant is quiet from here on.
    `text` is what it says, "" where it had said so before."""

    kind: ClassVar[str] = "under-way"
    text: str


@dataclass(frozen=True, slots=True)
class SectionAsked(Record):
    """Somebody asked for a section that begins when asked. `goes_back` is true of a short list;
    `reopened` are its items that had been answered when it was asked for earlier; `missing` the
    milestones that had not been told."""

    kind: ClassVar[str] = "section-asked"
    section: str
    words: str
    role: str = ""
    role_known_by: str = ""
    goes_back: bool = False
    reopened: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WentBack(Record):
    """A short list ended, and the case is where it was. `left` is true where somebody ended it."""

    kind: ClassVar[str] = "went-back"
    section: str
    left: bool = False


@dataclass(frozen=True, slots=True)
class MilestoneTold(Record):
    """A step of the operation was told: when it was told is the time of the event. `clock` is the
    time of day that was said ("8:40"), `minutes_ago` how long ago it was said to be; neither where
    it was told as it happened. `text` is what the assistant said to it, if anything."""

    kind: ClassVar[str] = "milestone"
    milestone: str
    name: str
    words: str
    role: str = ""
    role_known_by: str = ""
    clock: str = ""
    minutes_ago: float | None = None
    text: str = ""

    @property
    def is_late(self) -> bool:
        """Whether a time was said with it."""
        return bool(self.clock) or self.minutes_ago is not None
