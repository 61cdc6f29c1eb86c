"""Where the parts of an eye stand in the picture of its incisions. Pure.

Positions are those of ISO 8429 (`voicelist.clinical.incision`). The picture is turned so that
whoever looks sits at its lower edge; turning is all that is done, so the order of the positions,
counter-clockwise, stays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from voicelist.clinical.incision import (
    hand_of_side_port,
    position_deg,
    position_of,
    seat_for,
    separation_deg,
)

Point = tuple[float, float]
LOWER_EDGE_DEG = 270.0
SEEN_FROM = ("seat", "front")
_SIDES = ("temporal", "superior", "nasal", "inferior")
_ARC_STEPS = 48


@dataclass(frozen=True, slots=True)
class EyePicture:
    """`turned_deg` is how far the positions are turned, counter-clockwise. `arc` joins main
    incision and side port the shorter way, at radius 1."""

    eye: str
    main_deg: float
    side_port_deg: float
    turned_deg: float
    separation_deg: float
    side: str
    hand: str
    arc: tuple[Point, ...]

    def at(self, position: float, radius: float = 1.0) -> Point:
        """The point of an ISO position at a distance from the middle."""
        angle = math.radians(position + self.turned_deg)
        return radius * math.cos(angle), radius * math.sin(angle)

    def sides(self) -> tuple[tuple[str, float], ...]:
        """temporal, superior, nasal and inferior, each with its ISO position."""
        return tuple((name, position_of(name, self.eye)) for name in _SIDES)


def eye_picture(eye: str, main_deg: float, side_port_deg: float, seen_from: str) -> EyePicture:
    """The eye as it looks from the surgeon's seat at the main incision ("seat"), or facing the
    patient ("front"). Raises ValueError for another place or another eye than left and right."""
    if seen_from not in SEEN_FROM:
        raise ValueError(f"{seen_from} is no place to look from")
    turned = position_deg(LOWER_EDGE_DEG - main_deg) if seen_from == "seat" else 0.0
    apart = separation_deg(main_deg, side_port_deg)
    onwards = position_deg(side_port_deg - main_deg) <= 180.0
    step = (apart if onwards else -apart) / _ARC_STEPS
    angles = [math.radians(main_deg + turned + number * step) for number in range(_ARC_STEPS + 1)]
    return EyePicture(
        eye,
        main_deg,
        side_port_deg,
        turned,
        apart,
        seat_for(main_deg, eye).side,
        hand_of_side_port(main_deg, side_port_deg),
        tuple((math.cos(angle), math.sin(angle)) for angle in angles),
    )
