"""The foot pedal: what each of its positions 0 to 3 does, by phase, and the walk that shows it.

Position 0 nothing, 1 irrigation (on or off, never linear), 2 aspiration as well, 3 ultrasound as
well (an academy's primer on the platform; teaching slides on phacodynamics). In vitrectomy the
order differs between surgeons (Foot pedal nuance, April 2014), so a map belongs to a phase.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Action = Literal["irrigation", "aspiration", "ultrasound", "cutting"]
POSITIONS = (0, 1, 2, 3)
REST = 0
# Project choice: down once and back shows what comes on and what goes off at every position.
WALK = (1, 2, 3, 2, 1, 0)


@dataclass(frozen=True, slots=True)
class PedalMap:
    """The actions at each position, from 0 upwards; the last position is the deepest in use."""

    positions: tuple[frozenset[Action], ...]

    @property
    def deepest(self) -> int:
        return len(self.positions) - 1

    def at(self, position: int) -> frozenset[Action]:
        """The actions at a position. A position that the map does not use does what the deepest
        one does: the pedal cannot add an action there."""
        return self.positions[max(0, min(position, self.deepest))]

    def linear_positions(self) -> tuple[int, ...]:
        """Where pedal travel can vary a value: from position 2 on. Irrigation is on or off."""
        return tuple(range(2, self.deepest + 1))


_NOTHING: frozenset[Action] = frozenset()
_IRRIGATION: frozenset[Action] = frozenset({"irrigation"})
_ASPIRATION: frozenset[Action] = _IRRIGATION | {"aspiration"}
_ULTRASOUND: frozenset[Action] = _ASPIRATION | {"ultrasound"}

ULTRASOUND_MAP = PedalMap((_NOTHING, _IRRIGATION, _ASPIRATION, _ULTRASOUND))
ASPIRATION_MAP = PedalMap((_NOTHING, _IRRIGATION, _ASPIRATION))
# One author: cutting at 2, vacuum at 3 (Foot pedal nuance, April 2014).
CUTTING_FIRST_MAP = PedalMap(
    (_NOTHING, _IRRIGATION, _IRRIGATION | {"cutting"}, _ASPIRATION | {"cutting"})
)
# From memory: the other order.
ASPIRATION_FIRST_MAP = PedalMap((_NOTHING, _IRRIGATION, _ASPIRATION, _ASPIRATION | {"cutting"}))

# Derived: position 3 is ultrasound, which irrigation and aspiration alone do not use.
PHASE_MAPS: Mapping[str, PedalMap] = MappingProxyType(
    {
        "sculpt": ULTRASOUND_MAP,
        "chop": ULTRASOUND_MAP,
        "quadrant": ULTRASOUND_MAP,
        "epinucleus": ULTRASOUND_MAP,
        "cortex": ASPIRATION_MAP,
        "polish": ASPIRATION_MAP,
        "viscoelastic": ASPIRATION_MAP,
    }
)


def pedal_map(phase: str) -> PedalMap:
    """The map of a phase; for a phase without one, ultrasound at position 3."""
    return PHASE_MAPS.get(phase, ULTRASOUND_MAP)


def actions(position: int, phase: str) -> frozenset[Action]:
    """What the pedal does at a position (0 to 3) in a phase."""
    return pedal_map(phase).at(position)


@dataclass(frozen=True, slots=True)
class PedalStep:
    """One step of the walk: the position, and what comes on and goes off on the way to it."""

    position: int
    on: frozenset[Action]
    starts: frozenset[Action]
    ends: frozenset[Action]


def walk(phase: str, positions: Sequence[int] = WALK) -> tuple[PedalStep, ...]:
    """The walk from rest through `positions`, as it should be seen and heard."""
    steps: list[PedalStep] = []
    before: frozenset[Action] = actions(0, phase)
    for position in positions:
        now = actions(position, phase)
        steps.append(PedalStep(position, now, now - before, before - now))
        before = now
    return tuple(steps)


def first_missing(said: Sequence[int]) -> int | None:
    """The first position that a walk does not show; None where all are shown. Rest need not be said
    at the beginning, only somewhere."""
    return next((one for one in POSITIONS if one not in said), None)


def value_at(
    travel_share: float, value: float, control: str = "linear", minimum: float = 0.0
) -> float:
    """What is given at a share (0 to 1) of the travel within one position, in the value's unit.

    Linear goes from `minimum` to `value` with the travel (a power modulation article, November
    2005); fixed gives `value` whatever the travel (from memory).
    """
    if control == "fixed":
        return value
    return minimum + (value - minimum) * max(0.0, min(travel_share, 1.0))
