"""The surgeon's body: seat, knees, and the foot on the pedal."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.incision import EYES, sides_of
from voicelist.clinical.limits import Limits
from voicelist.clinical.pedal import REST, first_missing
from voicelist.clinical.profile import Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_SEAT = Source("common practice, no source", "the seat faces the main incision")
_KNEE = Source("common practice, no source", "knees above 90 degrees, thighs supported")
_WALK = Source("project choice", "a walk shows every position, in any order, and ends at rest")


@rule("seat-side", "ask", "seat-side", _SEAT, "Check seat, hand rest and main incision.")
def seat_side(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A seat that does not face the main incision; between two sides either one does."""
    if it.incision is None or it.incision.main_deg is None or it.incision.eye not in EYES:
        return
    facing = sides_of(it.incision.main_deg, it.incision.eye)
    if facing and it.incision.seat and it.incision.seat not in facing:
        yield Seen("seat", it.incision.seat, facing[0])


@rule("knee-angle", "ask", "knee-angle", _KNEE, "Raise the seat or move the pedals.")
def knee_angle(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Knees at the limit or below: the foot then lifts the pedal from the hip. Or nearly straight:
    the pedal is then out of reach, or another angle was meant."""
    if it.knee_deg is None:
        return
    if it.knee_deg <= limits.least_knee_deg:
        yield Seen("knee_deg", it.knee_deg, limits.least_knee_deg)
    elif it.knee_deg > limits.most_knee_deg:
        yield Seen("knee_deg", it.knee_deg, limits.most_knee_deg, "unusual")


@rule("pedal-walk", "ask", "pedal-walk", _WALK, "Walk the pedal through all of its positions.")
def pedal_walk(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A position that was not shown, or a walk that does not end at rest."""
    if not it.walk:
        return
    missing = first_missing(it.walk)
    if missing is not None:
        yield Seen("pedal", "not shown", missing)
    elif it.walk[-1] != REST:
        yield Seen("pedal", it.walk[-1], REST, "pedal-end")
