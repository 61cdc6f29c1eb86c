"""The surgeon's body: seat, knees, and the foot on the pedal."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.incision import seat_for
from voicelist.clinical.limits import Limits
from voicelist.clinical.pedal import WALK, first_departure
from voicelist.clinical.profile import Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_SEAT = Source("common practice, no source", "the seat faces the main incision")
_KNEE = Source("common practice, no source", "knees above 90 degrees, thighs supported")
_WALK = Source("common practice, no source", "3-2-3-2-1-0 shows each position down and back")
_EYES = ("right", "left")
_NOWHERE = "none"


@rule("seat-side", "ask", "seat-side", _SEAT, "Check seat, hand rest and main incision.")
def seat_side(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A seat that does not face the main incision."""
    if it.incision is None or it.incision.main_deg is None or it.incision.eye not in _EYES:
        return
    expected = seat_for(it.incision.main_deg, it.incision.eye).side
    if it.incision.seat and it.incision.seat != expected:
        yield Seen("seat", it.incision.seat, expected)


@rule("knee-angle", "ask", "knee-angle", _KNEE, "Raise the seat or move the pedals.")
def knee_angle(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Knees at the limit or below: the foot then lifts the pedal from the hip."""
    if it.knee_deg is not None and it.knee_deg <= limits.least_knee_deg:
        yield Seen("knee_deg", it.knee_deg, limits.least_knee_deg)


@rule("pedal-walk", "ask", "pedal-walk", _WALK, "Walk the pedal again from the top.")
def pedal_walk(it: Situation, limits: Limits) -> Iterator[Seen]:
    """The first step of the walk that is another position than expected."""
    if it.walk is None:
        return
    step = first_departure(it.walk)
    if step is not None:
        heard = it.walk[step] if step < len(it.walk) else _NOWHERE
        yield Seen("pedal", heard, WALK[step] if step < len(WALK) else _NOWHERE)
