"""What an utterance may amount to, and what an item says of itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from voicelist.grammar.syntax import Node, Void


class Amounts(StrEnum):
    """What an utterance amounts to for the item: that it is so, with the thing named (`FULL`) or
    without, or loosely; that it is not so; that this was denied; that something may be amiss."""

    FULL = "full"
    SHORT = "short"
    LOOSE = "loose"
    FAULT = "fault"
    DENIED = "denied"
    TROUBLE = "trouble"


@dataclass(frozen=True, slots=True)
class About:
    """What an item says of itself: the thing, its good and bad states, what is done to it. `none`
    where the good state is that there is nothing of it."""

    thing: Node
    good: Node
    bad: Node
    deed: Node = field(default_factory=Void)
    none: bool = False
