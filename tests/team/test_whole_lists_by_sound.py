"""Cases of a day by sound, from sign in to their end: the wristband of another patient, then of the
right one; a rupture after the incision; a second eye. A whole day, set-up included, is played by
`tests/soak/day_by_sound.py`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.team.spoken_day import DAY, SpokenCase, gone_back, play
from tests.team.spoken_room import Listening
from voicelist.asr.model import ModelPlace
from voicelist.session.records import ReadBack
from voicelist.session.state import replay

LATER, SECOND_EYE = DAY[1], DAY[3]


@pytest.mark.parametrize(("case", "other", "number"), [(LATER, 102, 105), (SECOND_EYE, 101, 103)])
def test_another_patients_wristband_is_heard_and_the_case_is_completed(
    speech_model: ModelPlace, case: SpokenCase, other: int, number: int
) -> None:
    signing_in = replace(case, first_section="sign-in")
    listening = Listening(case.plan, signing_in.first_section, speech_model, one_channel=False)
    try:
        team = play(signing_in, listening)
    finally:
        listening.close()
    room = team.room
    backs = [one for one in room.records if isinstance(one, ReadBack)]
    assert [one.values for one in backs[:2]] == [{"case_number": other}] * 2
    assert any(f"{other} is the plan practice-{other}." in one.text for one in room.shown)
    assert room.state.closed == "completed"
    assert gone_back(team) == (["capsule-list"] if case.rupture else [])
    assert team.count.wrong_yes == []
    assert room.state.item("case-number").values == {"case_number": number}
    assert replay(room.records) == room.state
