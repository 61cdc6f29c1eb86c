"""What happened to the equipment of a case, and to the computer's clock."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from voicelist.record.times import Moment
from voicelist.session.record_base import Record
from voicelist.session.records import ClockChanged, Noticed
from voicelist.session.spans import span_words

_WORDS = {
    "forward": "the time of day was set forward by {span}; times before and after do not compare",
    "back": "the time of day was set back by {span}; times before and after do not compare",
    "slept": "the computer slept for {span}; durations leave that out",
    "stood-still": "the program stood still for {span}; nothing was heard meanwhile",
}
CLOCK_CHANGES = tuple(_WORDS)


@dataclass(frozen=True, slots=True)
class Notice:
    """Something that happened to a `part` of the equipment."""

    at: Moment
    part: str
    what: str


@dataclass(frozen=True, slots=True)
class ClockChange:
    """The time of day went `forward` or `back`, the computer `slept` or the program `stood-still`;
    by or for `seconds`."""

    at: Moment
    what: str
    seconds: float

    @property
    def words(self) -> str:
        """The change in one line."""
        return clock_change_words(self.what, self.seconds)


def clock_change_words(what: str, seconds: float) -> str:
    """What happened to the clock, in one line."""
    return _WORDS.get(what, "{span}").format(span=span_words(seconds))


def clock_changes(timed: Iterable[tuple[Record, Moment]]) -> tuple[ClockChange, ...]:
    """Every change of the clock, in order."""
    return tuple(
        ClockChange(at, one.what, one.seconds) for one, at in timed if isinstance(one, ClockChanged)
    )


def notices(timed: Iterable[tuple[Record, Moment]]) -> tuple[Notice, ...]:
    """Every notice about a part, in order."""
    return tuple(Notice(at, one.part, one.what) for one, at in timed if isinstance(one, Noticed))
