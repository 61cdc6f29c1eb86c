"""What a journal keeps: one frozen dataclass a kind of event.

Records state decisions (passed, asked again, read back), not only what was heard, so that a case
is a fold over them (`state.evolve`) whatever a later version would decide. Bodies are plain JSON.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, ClassVar

from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay, WentBack
from voicelist.session.record_base import Record, fitting
from voicelist.session.team_records import (
    Adjusted,
    Agreed,
    Amended,
    EquipmentChanged,
    HandedOver,
    PlanChanged,
    PresenceChanged,
    SecondEye,
)


@dataclass(frozen=True, slots=True)
class Opened(Record):
    """The first event: everything that the case runs on."""

    kind: ClassVar[str] = "opened"
    source: str  # live, recording, typed or practice
    software: str
    documents: Mapping[str, Any]
    model: Mapping[str, Any] | None  # fingerprint, note, witness; None if typed
    roles: tuple[str, ...] = ()  # by channel; empty where one channel serves everybody
    first_section: str = ""  # where the case was started, "" at the top
    quiet: bool = False  # read-backs on the display alone, once the patient is settled
    # The day's set-up, if looked for: case, at and head of its record, the stop items that it
    # `passed`, and `why` they are asked again.
    set_up: Mapping[str, Any] | None = None
    sound_kept: bool = False  # of utterances, encrypted, beside the store
    utc_offset_min: int | None = None  # of the clock on the wall; None where it was not kept
    theatre: str = ""  # the theatre that keeps the case, by the settings of its computer


@dataclass(frozen=True, slots=True)
class Resumed(Record):
    """The program was started again on an open case."""

    kind: ClassVar[str] = "resumed"
    source: str
    software: str
    model: Mapping[str, Any] | None
    roles: tuple[str, ...] = ()
    sound_kept: bool = False
    utc_offset_min: int | None = None


@dataclass(frozen=True, slots=True)
class SectionOpened(Record):
    kind: ClassVar[str] = "section-opened"
    section: str


@dataclass(frozen=True, slots=True)
class SectionClosed(Record):
    kind: ClassVar[str] = "section-closed"
    section: str


@dataclass(frozen=True, slots=True)
class Called(Record):
    """An item's call is about to be spoken."""

    kind: ClassVar[str] = "called"
    item: str
    text: str


@dataclass(frozen=True, slots=True)
class Heard(Record):
    """One utterance or typed line and what it was understood as.

    `status` is understood, not-understood, not-for-us or not-taken (heard at the same time as
    another utterance, which counts instead); the words of talk that was not for us are not kept.
    `why` says why it was not understood or not taken. What was doubtful was heard `again`, and by
    another speech model, the `witness`. Times are seconds of the channel's sound.
    """

    kind: ClassVar[str] = "heard"
    by: str  # voice or typed
    status: str
    words: str = ""
    rule: str = ""
    why: str = ""
    offers: tuple[str, ...] = ()
    alternatives: tuple[str, ...] = ()
    second_look: str = ""
    again: tuple[str, ...] = ()
    witness: str = ""
    channel: int | None = None
    role: str = ""
    role_known_by: str = ""  # channel, spoken, typed or "" (not known)
    start_s: float | None = None
    end_s: float | None = None
    decided_s: float | None = None


@dataclass(frozen=True, slots=True)
class Answered(Record):
    """An item has an answer: said-done, said-fault, value, stated, deferred or not-applicable.

    `values` are what was said (settings by quantity, `eye`, `grade`, `power_D` ...); `expected` is
    what plan or card say; `grade` is the one that stood, for what depends on it; `makes_due` are
    the items that are asked because of the answer.
    """

    kind: ClassVar[str] = "answered"
    item: str
    answer: str
    words: str
    role: str = ""
    role_known_by: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    expected: Mapping[str, Any] = field(default_factory=dict)
    grade: Mapping[str, Any] | None = None
    makes_due: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Noted(Record):
    """Values taken from an utterance while the item stays open (a profile in several breaths)."""

    kind: ClassVar[str] = "noted"
    item: str
    values: Mapping[str, Any]
    words: str


@dataclass(frozen=True, slots=True)
class ReadBack(Record):
    """The assistant repeats what it heard and waits.

    `about` is mismatch, echo, details, digits, choice, sign, missing, negation, plan, plan-part,
    begin, presence or abandon. Each finding has rule, severity, quantity, heard, expected,
    unit, sentence; where it is a clinical rule's also with remedy and source.
    """

    kind: ClassVar[str] = "read-back"
    item: str
    about: str
    text: str
    findings: tuple[Mapping[str, Any], ...] = ()
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Corrected(Record):
    """A later word replaced an earlier one; both stay in the journal."""

    kind: ClassVar[str] = "corrected"
    item: str
    quantity: str
    old: Any
    new: Any


@dataclass(frozen=True, slots=True)
class Accepted(Record):
    """A mismatch that the surgeon knowingly accepts."""

    kind: ClassVar[str] = "accepted"
    item: str
    quantity: str
    heard: Any
    expected: Any
    unit: str
    reason: str
    role: str
    role_known_by: str


@dataclass(frozen=True, slots=True)
class AskedAgain(Record):
    """An answer was not understood; the item is called again (`times` of at most two). `part` are
    the words of a value that lacks something."""

    kind: ClassVar[str] = "asked-again"
    item: str
    times: int
    why: str
    text: str
    part: str = ""


@dataclass(frozen=True, slots=True)
class Waiting(Record):
    """An item waits on the display; nothing more is said about it unasked."""

    kind: ClassVar[str] = "waiting"
    item: str
    why: str


@dataclass(frozen=True, slots=True)
class Prompted(Record):
    """Nobody spoke for `after_s` seconds and the assistant prompted."""

    kind: ClassVar[str] = "prompted"
    item: str
    after_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Undone(Record):
    """An item's answer was taken back; the item (and its section) is open again. `why` is "" where
    somebody took it back."""

    kind: ClassVar[str] = "undone"
    item: str
    answer: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Settled(Record):
    """A read-back was dropped without an answer (for example a report not wanted)."""

    kind: ClassVar[str] = "settled"
    item: str
    about: str


@dataclass(frozen=True, slots=True)
class Asked(Record):
    """A member of the team asked the assistant something (`what` names the phrase)."""

    kind: ClassVar[str] = "asked"
    what: str
    text: str


@dataclass(frozen=True, slots=True)
class Held(Record):
    """Talk is on hold: by `hold_on`, `emergency` or a key."""

    kind: ClassVar[str] = "held"
    by: str


@dataclass(frozen=True, slots=True)
class CarriedOn(Record):
    kind: ClassVar[str] = "carried-on"


@dataclass(frozen=True, slots=True)
class Noticed(Record):
    """Something about the equipment: a microphone, recogniser or voice lost or back."""

    kind: ClassVar[str] = "noticed"
    part: str
    what: str


@dataclass(frozen=True, slots=True)
class ClockChanged(Record):
    """The time of day went `forward` or `back` by `seconds`, the computer `slept`, or the program
    `stood-still`. Times of day before and after do not belong together; durations do, without the
    time that the computer slept."""

    kind: ClassVar[str] = "clock-changed"
    what: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Said(Record):
    """The assistant spoke; `problem` is empty unless the voice failed."""

    kind: ClassVar[str] = "said"
    text: str
    seconds: float
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Closed(Record):
    """The case ended as completed, stopped or abandoned."""

    kind: ClassVar[str] = "closed"
    state: str
    reason: str = ""
    role: str = ""


KINDS: Mapping[str, type[Record]] = {
    one.kind: one
    for one in (
        Opened,
        Resumed,
        SectionOpened,
        SectionClosed,
        Called,
        Heard,
        Answered,
        Noted,
        ReadBack,
        Corrected,
        Accepted,
        AskedAgain,
        Waiting,
        Prompted,
        Undone,
        Settled,
        Asked,
        Held,
        CarriedOn,
        Noticed,
        ClockChanged,
        Said,
        Closed,
        Agreed,
        PlanChanged,
        EquipmentChanged,
        PresenceChanged,
        HandedOver,
        SecondEye,
        Adjusted,
        Amended,
        UnderWay,
        SectionAsked,
        WentBack,
        MilestoneTold,
    )
}


def from_body(kind: str, body: Mapping[str, Any]) -> Record:
    """The record of a journal row. Fields that this version does not know are left aside.

    Raises KeyError for an unknown kind, TypeError for a body without its fields, or with others of
    their names.
    """
    known = KINDS[kind]
    names = {one.name for one in dataclasses.fields(known)}
    fields = {key: _frozen(value) for key, value in body.items() if key in names}
    for name, fits in _types_of(kind).items():
        if name in fields and not fits(fields[name]):
            raise TypeError(f"the field {name} of {kind!r} holds something else")
    return known(**fields)


@cache
def _types_of(kind: str) -> Mapping[str, Callable[[Any], bool]]:
    return fitting(KINDS[kind])


def _frozen(value: Any) -> Any:
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value
