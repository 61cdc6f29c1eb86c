"""Around the settings: the incisions, the end of the case."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.energy import EFFECTIVE_TIME_SOURCE, odd_ones
from voicelist.clinical.incision import (
    EYES,
    FULL_CIRCLE_DEG,
    SEPARATION_SOURCE,
    separation_deg,
    sides_of,
)
from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import Situation
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.rules.usual import outside
from voicelist.clinical.sources import Source

_CARD = Source("project choice", "a card is the surgeon's own decision")
_PLAN = Source("project choice", "half an hour of the clock; 10 and 190 are one axis, two places")
_NASAL = Source("derived", "the nose is at 180 of the left eye, at 0 of the right (ISO 8429:1986)")
_TIME = Source(
    "project choice",
    "5 minutes; whole operations took 13.9 on average (BMJ Open, PMC3651974)",
)
_BY_THE_OTHERS = ("effective-not-product", "time-not-share")
_PLACES = ("main_deg", "side_port_deg")


@rule("card-separation", "ask", "card-separation", _CARD, "Check both places on the eye.")
def card_separation(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Main incision and side port nearer or further apart than the card allows."""
    apart = it.incision.apart_deg() if it.incision is not None else None
    if apart is None or it.incision is None or it.incision.separation_deg is None:
        return
    if abs(apart - it.incision.separation_deg) > it.incision.tolerance_deg:
        yield Seen("separation_deg", apart, it.incision.separation_deg)


@rule("usual-separation", "ask", "unusual-separation", SEPARATION_SOURCE, "Check both places.")
def usual_separation(it: Situation, limits: Limits) -> Iterator[Seen]:
    """An unusual separation where the card says nothing; surgeons differ."""
    apart = it.incision.apart_deg() if it.incision is not None else None
    if apart is None or it.incision is None or it.incision.separation_deg is not None:
        return
    nearest = outside(apart, limits.usual_separation_deg)
    if nearest is not None:
        yield Seen("separation_deg", apart, nearest)


@rule("nasal-incision", "ask", "nasal-incision", _NASAL, "Check the eye and the place on it.")
def nasal_incision(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A main incision on the side of the nose: in the other eye the same place is temporal."""
    if it.incision is None or it.incision.eye not in EYES or it.incision.main_deg is None:
        return
    main = it.incision.main_deg
    if 0 <= main <= FULL_CIRCLE_DEG and sides_of(main, it.incision.eye) == ("nasal",):
        yield Seen("main_deg", main, "nasal")


@rule("planned-place", "ask", "planned-place", _PLAN, "Check the place on the eye and the plan.")
def planned_place(it: Situation, limits: Limits) -> Iterator[Seen]:
    """An incision elsewhere than planned. Places are compared, not axes."""
    if it.incision is None:
        return
    for quantity in _PLACES:
        said = getattr(it.incision, quantity)
        planned = getattr(it.incision, f"planned_{quantity}")
        if said is None or planned is None or not 0 <= said <= FULL_CIRCLE_DEG:
            continue
        if separation_deg(said, planned) > limits.planned_place_tolerance_deg:
            yield Seen(quantity, said, planned)


@rule("ultrasound-time", "ask", "unusual", _TIME, "Read the screen again.")
def ultrasound_time(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A time at the end of the case that is longer than usual."""
    if it.end is None:
        return
    for quantity, heard in (
        ("ultrasound_s", it.end.ultrasound_s),
        ("total_s", it.end.pedal_3_s),
        ("effective_s", it.end.effective_s),
    ):
        if heard is not None and heard > limits.longest_ultrasound_s:
            yield Seen(quantity, heard, limits.longest_ultrasound_s)


@rule("end-of-case", "ask", "figures-differ", EFFECTIVE_TIME_SOURCE, "Read the screen again.")
def end_of_case(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Numbers at the end that contradict each other or the highest power that was set."""
    if it.end is None:
        return
    every = (it.heard, *it.others.values())
    powers = [power for one in every if (power := one.value("power_percent")) is not None]
    for odd in odd_ones(it.end, max(powers, default=None)):
        key = "" if odd.why in _BY_THE_OTHERS else "at-most"
        yield Seen(odd.quantity, odd.heard, round(odd.expected, 2), key)
