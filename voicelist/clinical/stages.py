"""How long the stages of a case took, from four times of day."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Stages:
    """Minutes on one clock: into the room, procedure begins, procedure ends, out of the room.

    Source: the four-stamp model of F1000Research 2014;3:197, table 4; which stamp is which is our
    reading of its formulas.
    """

    into_room_min: float
    begin_min: float
    end_min: float
    out_of_room_min: float

    @property
    def procedure_min(self) -> float:
        return self.end_min - self.begin_min

    @property
    def anaesthetic_min(self) -> float:
        return (self.begin_min - self.into_room_min) + (self.out_of_room_min - self.end_min)

    def changeover_min(self, following: Stages) -> float:
        """From this patient leaving the room to the next one entering it."""
        return following.into_room_min - self.out_of_room_min

    @property
    def in_order(self) -> bool:
        stamps = (self.into_room_min, self.begin_min, self.end_min, self.out_of_room_min)
        return all(one <= other for one, other in pairwise(stamps))
