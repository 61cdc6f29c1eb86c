"""A reduced number of the simulated team's cases; `tests/soak/simulated_team.py` holds them all."""

from __future__ import annotations

import random

import pytest

from tests.team.chatter import chatter
from tests.team.hours import UNPROMPTED_AN_HOUR_AT_MOST, unprompted_in_an_hour
from tests.team.simulated import PLANS, Simulation

CASES = 12
GROUPS = 6


@pytest.mark.parametrize("group", range(GROUPS))
def test_every_case_ends_in_the_right_state_and_nothing_passes_unsaid(group: int) -> None:
    for seed in range(group * CASES // GROUPS, (group + 1) * CASES // GROUPS):
        simulation = Simulation(seed)
        room = simulation.run()
        assert room.state.closed == simulation.ends_as


def test_the_team_does_all_that_teams_do() -> None:
    done = set()
    for seed in range(CASES, CASES + 8):
        simulation = Simulation(seed, plan="practice-102")
        simulation.run()
        done |= set(simulation.turns)
    assert done == {
        "right",
        "chatter",
        "silence",
        "slip",
        "denial",
        "report",
        "later",
        "command",
        "hold",
        "undo",
        "correction",
        "breath",
        "detail",
        "change",
        "course",
    }


@pytest.mark.parametrize("plan", PLANS)
def test_an_hour_of_chatter_is_answered_at_most_twice(plan: str) -> None:
    assert unprompted_in_an_hour(plan, 0) <= UNPROMPTED_AN_HOUR_AT_MOST


def test_chatter_comes_out_alike_each_time_and_holds_words_of_the_items() -> None:
    lines = [chatter(random.Random(seed)) for seed in range(300)]
    assert lines == [chatter(random.Random(seed)) for seed in range(300)]
    assert any("irrigation line" in line for line in lines)
