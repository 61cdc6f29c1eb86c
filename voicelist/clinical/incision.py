"""Where incisions lie: ISO 8429 positions, axes, clock hours, names, separation, seat.

ISO 8429:1986: seen facing the patient, 0 at the observer's right, rising counter-clockwise, the
same for both eyes; positions run to 360, axes to 180. So 10 and 190 are one axis and two places: a
position is what is kept, the axis is derived.
"""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.clinical.sources import Source

FULL_CIRCLE_DEG = 360.0
HOUR_DEG = 30.0
# Usually 60 to 90 degrees, surgeons differ (The paracentesis incision, chapter 13).
USUAL_SEPARATION_DEG = (60.0, 90.0)
SEPARATION_SOURCE = Source("published", "usually 60 to 90 degrees (The paracentesis incision)")

# Derived from ISO 8429: facing the patient, the right eye's temporal side is the observer's left.
_TEMPORAL_DEG = {"right": 180.0, "left": 0.0}
EYES = ("right", "left")
_SAME_DEG = 1e-9
_NAMES = ("temporal", "superior", "nasal", "inferior")


def position_deg(degrees: float) -> float:
    """Any finite angle as a position: from 0, below 360."""
    position = degrees % FULL_CIRCLE_DEG
    return 0.0 if position == FULL_CIRCLE_DEG else position  # a tiny angle below 0 rounds up


def axis_deg(position: float) -> float:
    """The axis of a position: above 0, at most 180; the horizontal one is 180 (from memory)."""
    axis = position_deg(position) % 180.0
    return 180.0 if axis == 0 else axis


def same_axis(one_deg: float, other_deg: float) -> bool:
    return axis_deg(one_deg) == axis_deg(other_deg)


def separation_deg(one_deg: float, other_deg: float) -> float:
    """The smaller angle between two positions, 0 to 180. Source: derived."""
    apart = abs(position_deg(one_deg) - position_deg(other_deg))
    return min(apart, FULL_CIRCLE_DEG - apart)


def axis_difference_deg(one_deg: float, other_deg: float) -> float:
    """The smaller angle between two axes, 0 to 90: 175 and 5 are 10 apart. Source: derived."""
    apart = abs(axis_deg(one_deg) - axis_deg(other_deg))
    return min(apart, 180.0 - apart)


def position_of_hour(hour: float) -> float:
    """The position of a clock hour, seen facing the patient: 12 is 90 degrees. Source: derived."""
    return position_deg(90.0 - HOUR_DEG * hour)


def hour_of_position(position: float) -> float:
    """The clock hour of a position, above 0 and at most 12, facing the patient. Source: derived."""
    hour = (90.0 - position_deg(position)) / HOUR_DEG % 12.0
    return 12.0 if hour == 0 else hour


def hour_from_the_head(hour: float) -> float:
    """The same hour as it looks from a seat at the patient's head, where the clock is upside down.
    Records always hold the clock as seen facing the patient."""
    turned = (hour + 6.0) % 12.0
    return 12.0 if turned == 0 else turned


def position_of(name: str, eye: str) -> float:
    """The position of temporal, superior, nasal or inferior in the right or left eye.

    Source: derived from ISO 8429. Raises ValueError for other names.
    """
    if name not in _NAMES or eye not in _TEMPORAL_DEG:
        raise ValueError(f"{name} in the {eye} eye is no place that is known here")
    turns = _NAMES.index(name)
    towards = -1.0 if eye == "right" else 1.0  # from temporal over superior to nasal
    return position_deg(_TEMPORAL_DEG[eye] + towards * turns * 90.0)


def side_of(position: float, eye: str) -> str:
    """The nearest of temporal, superior, nasal and inferior; of two at the same distance the one
    named first. Raises ValueError for an eye that is neither right nor left."""
    return sides_of(position, eye)[0]


def sides_of(position: float, eye: str) -> tuple[str, ...]:
    """The nearest of temporal, superior, nasal and inferior: two where they are as near."""
    apart = {name: separation_deg(position, position_of(name, eye)) for name in _NAMES}
    nearest = min(apart.values())
    return tuple(name for name in _NAMES if apart[name] - nearest < _SAME_DEG)


@dataclass(frozen=True, slots=True)
class Seat:
    """Where the surgeon sits: `side` as `side_of`; `hand_rest` whether the wrists need a rest
    because the patient's brow is not there to lean on (common practice, no source)."""

    side: str
    hand_rest: bool


def seat_for(main_deg: float, eye: str) -> Seat:
    """The seat that faces the main incision. Source: common practice, no source: from the head
    for a superior incision, from the side of the temple for a temporal one."""
    side = side_of(main_deg, eye)
    return Seat(side, hand_rest=side != "superior")


def hand_of_side_port(main_deg: float, side_port_deg: float) -> str:
    """The surgeon's hand at the side port, seated at the main incision: left, right, or "" where
    the two lie on one line. Source: derived, facing the eye over the main incision."""
    turn = position_deg(side_port_deg - main_deg)
    if turn in (0.0, 180.0):
        return ""
    return "left" if turn > 180.0 else "right"
