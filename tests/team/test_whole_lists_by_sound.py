"""A case of a day by sound, from sign in to its end: the wristband of another patient, then of the
right one, and a rupture after the incision."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.team.speech import Speech
from tests.team.spoken import SpokenSimulation
from tests.team.spoken_room import Listening
from voicelist.asr.model import ModelPlace
from voicelist.session.flow_records import WentBack
from voicelist.session.records import ReadBack
from voicelist.session.state import replay

PLAN, FIRST = "practice-105", "sign-in"
LINES_AT_MOST = 60


@pytest.fixture(scope="module")
def listening(speech_model: ModelPlace) -> Iterator[Listening]:
    made = Listening(PLAN, FIRST, speech_model, one_channel=False)
    yield made
    made.close()


def test_a_changed_order_and_a_rupture_are_heard_and_the_case_is_completed(
    listening: Listening,
) -> None:
    team = SpokenSimulation(2, PLAN, listening=listening, speech=Speech())
    room = team.room
    for _ in range(2):
        assert team._tell("case number one zero two", set())
        assert room.state.current == "case-number"
    backs = [one for one in room.records if isinstance(one, ReadBack)]
    assert [one.values for one in backs] == [{"case_number": 102}] * 2
    assert any("102 is the plan practice-102." in one.text for one in room.shown)
    while not room.state.closed:
        if room.state.under_way and set(room.state.milestones) == {"incision"} and not _back(team):
            assert team._tell("capsule rupture list please", set())
            assert room.state.section == "capsule-list"
        team._right()
        assert team.count.lines < LINES_AT_MOST
    assert room.state.closed == "completed"
    assert _back(team) == ["capsule-list"]
    assert team.count.wrong_yes == []
    assert room.state.item("case-number").values == {"case_number": 105}
    assert replay(room.records) == room.state


def _back(team: SpokenSimulation) -> list[str]:
    """The short lists that were gone through."""
    return [one.section for one in team.room.records if isinstance(one, WentBack)]
