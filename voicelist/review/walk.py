"""One pass over a case: who was asked what, how long, and what was heard meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from voicelist.record.times import SOUND, Moment
from voicelist.session import records as rec
from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay
from voicelist.session.record_base import Record
from voicelist.session.state import DEFERRED

# Talk of the room counts as near to an utterance for so long. Project choice, no source.
TALK_WITHIN_S = 30.0
_FOR_US = ("understood", "not-understood")
_RESTS = (rec.SectionClosed, UnderWay, rec.Closed, rec.Held)

Timed = Sequence[tuple[Record, Moment]]


@dataclass(slots=True)
class AskedItem:
    """What happened around one item. `first_call` is its event, None where it was not called."""

    calls: int = 0
    first_call: Moment | None = None
    held_s: float = 0.0
    wait_s: float | None = None
    prompts: int = 0
    deferred: int = 0


@dataclass(frozen=True, slots=True)
class UtteranceInCase:
    """One thing heard, the section and the item that were asked then, and what came of it."""

    heard: rec.Heard
    at: Moment
    section: str
    item: str
    asked_again: bool
    talk_before: int


@dataclass(frozen=True, slots=True)
class CourseStep:
    """One step in the course of a case, as a row of the table `milestones` has it."""

    kind: str
    name: str
    at: Moment
    run: int
    role: str = ""
    late: bool | None = None
    lasted_s: float | None = None


@dataclass(slots=True)
class Walk:
    """What was collected. `asked` is by item."""

    asked: dict[str, AskedItem] = field(default_factory=dict)
    utterances: list[UtteranceInCase] = field(default_factory=list)
    steps: list[CourseStep] = field(default_factory=list)
    _section: str = ""
    _item: str = ""
    _held_from: Moment | None = None
    _call_over: Moment | None = None
    _talk: list[Moment] = field(default_factory=list)

    def take(self, record: Record, at: Moment, answered_again: bool) -> None:
        """One more event; `answered_again` says that an item was asked again because of it."""
        match record:
            case rec.SectionOpened():
                self._section = record.section
            case rec.Called():
                self._rest(at)
                asked = self._of(record.item)
                asked.calls += 1
                self._item, self._held_from = record.item, at
                if asked.first_call is None:
                    asked.first_call = self._call_over = at
                else:
                    self._call_over = None
            case rec.Said() if self._call_over is not None and at.base != SOUND:
                # The first thing said after a call is the call itself.
                self._call_over = at if self._waits() else None
            case rec.Heard():
                self._heard(record, at, answered_again)
            case rec.Prompted():
                self._of(record.item).prompts += 1
            case rec.Answered(answer=answer) if answer == DEFERRED:
                self._of(record.item).deferred += 1
        if isinstance(record, _RESTS):
            self._rest(at)
            self._item = ""

    def _of(self, item: str) -> AskedItem:
        return self.asked.setdefault(item, AskedItem())

    def _waits(self) -> bool:
        return bool(self._item) and self._of(self._item).wait_s is None

    def _rest(self, at: Moment) -> None:
        """The item asked about until now is so no longer."""
        if self._held_from is not None and self._item:
            held_s = at.seconds_since(self._held_from)
            self._of(self._item).held_s += max(held_s or 0.0, 0.0)
        self._held_from = self._call_over = None

    def _heard(self, heard: rec.Heard, at: Moment, asked_again: bool) -> None:
        near = [
            one for one in self._talk if (at.seconds_since(one) or TALK_WITHIN_S) < TALK_WITHIN_S
        ]
        about = self._item if heard.status in _FOR_US else ""
        self.utterances.append(
            UtteranceInCase(heard, at, self._section, about, asked_again, len(near))
        )
        self._talk = [*near, at] if heard.status == "not-for-us" else near
        if heard.status in _FOR_US and self._call_over is not None and self._waits():
            since_s = at.seconds_since(self._call_over)
            if since_s is not None:
                began_s = since_s - (length_s(heard) or 0.0)
                self._of(self._item).wait_s = round(max(began_s, 0.0), 3)
            self._call_over = None


def length_s(heard: rec.Heard) -> float | None:
    """How long an utterance was; None where its sound has no times."""
    if heard.start_s is None or heard.end_s is None:
        return None
    return round(heard.end_s - heard.start_s, 3)


def walk(timed: Timed) -> Walk:
    """The pass over all events of a case."""
    walked = Walk()
    again = _led_to_asking_again(timed)
    for place, (record, at) in enumerate(timed):
        walked.take(record, at, place in again)
    walked.steps.extend(_steps(timed))
    return walked


def _led_to_asking_again(timed: Timed) -> frozenset[int]:
    """The places of what was heard last before each time that an item was asked again."""
    found: set[int] = set()
    last: int | None = None
    for place, (record, _) in enumerate(timed):
        if isinstance(record, rec.Heard) and record.status in _FOR_US:
            last = place
        elif isinstance(record, rec.AskedAgain) and last is not None:
            found.add(last)
            last = None
    return frozenset(found)


def _steps(timed: Iterable[tuple[Record, Moment]]) -> Iterator[CourseStep]:
    run = 0
    opened: dict[str, Moment] = {}
    for record, at in timed:
        run += isinstance(record, rec.Opened | rec.Resumed)
        match record:
            case rec.Opened():
                yield CourseStep("opened", record.source, at, run)
            case rec.Resumed():
                yield CourseStep("resumed", record.source, at, run)
            case rec.SectionOpened():
                opened[record.section] = at
                yield CourseStep("section-opened", record.section, at, run)
            case rec.SectionClosed():
                since = opened.pop(record.section, None)
                lasted_s = at.seconds_since(since) if since is not None else None
                yield CourseStep("section-closed", record.section, at, run, lasted_s=lasted_s)
            case SectionAsked():
                yield CourseStep("section-asked", record.section, at, run, record.role)
            case UnderWay():
                yield CourseStep("under-way", "", at, run)
            case MilestoneTold():
                yield CourseStep("told", record.milestone, at, run, record.role, record.is_late)
            case rec.Closed():
                yield CourseStep("closed", record.state, at, run, record.role)
