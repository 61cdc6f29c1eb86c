"""Hours of talk that is not for the checklist, while one item waits for its answer."""

from __future__ import annotations

import random

from tests.team.chatter import chatter
from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.session.records import Answered

UNPROMPTED_AN_HOUR_AT_MOST = 2
# Ten sentences a minute; project choice.
_SENTENCES_AN_HOUR = 600


def unprompted_in_an_hour(plan: str, seed: int) -> int:
    """How often the assistant speaks in an hour of chatter, at some item of the plan's case. Raises
    AssertionError if any of it is taken as an answer."""
    chance = random.Random(seed)
    room = Room(case_of(plan))
    for _ in range(chance.randrange(len(room.case.items))):
        if not room.state.closed:
            room.says(right_line(room.case, room.state))
    if room.state.closed:
        return 0
    spoken, count = 0, len(room.records)
    for _ in range(_SENTENCES_AN_HOUR):
        spoken += len(room.says(chatter(chance)))
    taken = [one for one in room.records[count:] if isinstance(one, Answered)]
    assert not taken, taken
    return spoken
