"""Kinds of events in which the team changes what the case is about, or who speaks for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from voicelist.session.record_base import Record


@dataclass(frozen=True, slots=True)
class Agreed(Record):
    """One role has said its part: of an item that several answer, or (`item` "") of a change of
    plan that was read back."""

    kind: ClassVar[str] = "agreed"
    item: str
    role: str
    role_known_by: str
    words: str


@dataclass(frozen=True, slots=True)
class PlanChanged(Record):
    """The plan itself changed. `field` is eye, grade, lens-power, lens-model, axis, target or
    cylinder; `document` says where the new value was read; each of `roles` is a mapping with role
    and role_known_by; `reopened` are the items that depend on it and had been asked."""

    kind: ClassVar[str] = "plan-changed"
    field: str
    old: Any
    new: Any
    document: str
    roles: tuple[Mapping[str, Any], ...]
    reopened: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EquipmentChanged(Record):
    """Somebody said that equipment was changed: what applies after a change is due."""

    kind: ClassVar[str] = "equipment-changed"
    words: str
    reopened: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PresenceChanged(Record):
    """A role is in the room from now on, or is not; by whom it was said. `left_out` are the items
    that nobody else answers, so that they are not asked."""

    kind: ClassVar[str] = "presence-changed"
    role: str
    present: bool
    words: str
    by: str = ""
    by_known_by: str = ""
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HandedOver(Record):
    """A role was handed over: items left for later, items that were asked and are open, and how
    many were not asked yet."""

    kind: ClassVar[str] = "handed-over"
    role: str
    deferred: tuple[str, ...]
    open: tuple[str, ...]
    not_asked: int


@dataclass(frozen=True, slots=True)
class SecondEye(Record):
    """The case is that of a patient's second eye; nothing of `first_case` carries over."""

    kind: ClassVar[str] = "second-eye"
    first_case: str


@dataclass(frozen=True, slots=True)
class Adjusted(Record):
    """How the assistant speaks from now on, in steps from its usual pace and level."""

    kind: ClassVar[str] = "adjusted"
    pace: int
    level: int


@dataclass(frozen=True, slots=True)
class Amended(Record):
    """A late entry: written after the case had ended, never spoken, and no answer. `paper_time` is
    the time of day written on paper, where it was taken from there ("" where it was not)."""

    kind: ClassVar[str] = "amended"
    text: str
    reason: str
    role: str
    item: str = ""
    paper_time: str = ""
    utc_offset_min: int | None = None
