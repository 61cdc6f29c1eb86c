"""A few cases of the simulated team by sound; `tests/soak/simulated_team.py --sound` holds 30."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.team.by_sound import OF, SETTINGS, Setting, hold_cases
from tests.team.right import right_line
from tests.team.simulated import PLANS
from tests.team.speech import Speech
from tests.team.spoken import SpokenSimulation
from tests.team.spoken_room import Listening
from voicelist.asr.model import ModelPlace

PLAN, FIRST = "practice-102", "sign-out"


@pytest.fixture(scope="module")
def listening(speech_model: ModelPlace) -> Iterator[Listening]:
    made = Listening(PLAN, FIRST, speech_model, one_channel=False)
    yield made
    made.close()


def simulation(listening: Listening, seed: int = 2) -> SpokenSimulation:
    return SpokenSimulation(seed, PLAN, listening=listening, speech=Speech())


def test_a_spoken_case_ends_in_the_right_state_and_nothing_passes_unsaid(
    speech_model: ModelPlace,
) -> None:
    setting = Setting("practice-102", "time-out", 1)
    (outcome,) = hold_cases((setting,), speech_model, first_seed=6)
    assert outcome.right_ends == 1, (outcome.stuck, outcome.failures)
    assert outcome.count.wrong_yes == []
    assert outcome.count.lines >= 5
    assert outcome.count.sound_s > 10.0


def test_an_answer_is_taken_from_its_sound(listening: Listening) -> None:
    team = simulation(listening)
    asked = team.room.state.current
    team._right()
    assert team.count.answers == 1
    assert team.room.state.item(asked).words
    assert team.count.wrong_yes == []


def test_what_passes_though_nobody_should_have_said_it_is_counted(listening: Listening) -> None:
    team = simulation(listening)
    line = right_line(team.room.case, team.room.state)
    assert team._tell(line, set())
    (wrong,) = team.count.wrong_yes
    assert wrong["said"] == line
    assert wrong["passed"]


def test_a_line_taken_for_another_is_counted(listening: Listening) -> None:
    team = simulation(listening)
    samples = team.speech.samples("heart", "come back to this later", None, slowly=False)
    steps = team._spoken_room.hears(samples, 0)
    team._look_at(steps, "please speak more slowly", set(), ("something", "else"))
    (otherwise,) = team.count.taken_otherwise
    assert otherwise["heard"] == "come back to this later"
    assert team.count.wrong_yes == []


def test_thirty_cases_are_held_and_every_plan_is_among_them() -> None:
    assert OF == 30
    assert {one.plan for one in SETTINGS} == set(PLANS)
