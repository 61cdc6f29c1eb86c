"""Cases of a day by sound: another patient's wristband, a rupture, and the way to the end."""

from __future__ import annotations

from dataclasses import dataclass

from tests.team.speech import Speech
from tests.team.spoken import SpokenSimulation
from tests.team.spoken_room import Listening
from voicelist.session.flow_records import WentBack

LINES_AT_MOST = 150


@dataclass(frozen=True, slots=True)
class SpokenCase:
    """A case of the day: its plan, the section that it begins with ("" the first), a number that is
    read from another patient's wristband first, and whether the capsule tears."""

    plan: str
    first_section: str = ""
    other_number: str = ""
    rupture: bool = False


# A first case, a later one where another patient came, the third, and a second eye.
DAY = (
    SpokenCase("practice-101"),
    SpokenCase("practice-105", other_number="one zero two", rupture=True),
    SpokenCase("practice-102"),
    SpokenCase("practice-103", other_number="one zero one"),
)


def play(case: SpokenCase, listening: Listening, seed: int = 2) -> SpokenSimulation:
    """The case to its end. Raises Stuck where a line is not taken, however often it is said."""
    team = SpokenSimulation(seed, case.plan, listening=listening, speech=Speech())
    room = team.room
    other = 2 if case.other_number else 0
    torn = not case.rupture
    while not room.state.closed:
        if other and room.state.current == "case-number":
            assert team._tell(f"case number {case.other_number}", set())
            other -= 1
            continue
        if not torn and room.state.under_way and set(room.state.milestones) == {"incision"}:
            assert team._tell("capsule rupture list please", set())
            assert room.state.section == "capsule-list"
            torn = True
        team._right()
        assert team.count.lines < LINES_AT_MOST
    return team


def gone_back(team: SpokenSimulation) -> list[str]:
    """The short lists that were gone through."""
    return [one.section for one in team.room.records if isinstance(one, WentBack)]
