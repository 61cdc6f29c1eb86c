"""Axis, cylinder and target: compared with the plan wherever it has them, and never a dead end."""

from __future__ import annotations

import pytest

from tests.session.test_details import at as at_plain
from tests.session.test_team_items import at
from tests.team.right import right_line
from tests.team.room import Room
from voicelist.session.order import heard_here
from voicelist.session.records import Accepted, ReadBack, Undone
from voicelist.session.state import replay

TORIC = "practice-104"  # right eye, +20.5 D, axis 75, cylinder +2.25 D, target -0.25 D


def asked(item: str) -> Room:
    return at("time-out", item=item, plan=TORIC)


def test_the_axis_of_a_toric_lens_is_asked_for_and_compared() -> None:
    room = asked("lens-axis")
    assert room.case.items["lens-axis"].stop
    assert room.says("marked axis at one sixty five") == ["Please read the axis again."]
    assert room.status("lens-axis") == "called"
    room.says("surgeon accepts the target because of my preference")
    room.says("come back to this later")
    assert room.status("lens-axis") == "called"
    room.says("marked axis seventy five")
    assert room.status("lens-axis") == "value"
    assert room.state.item("lens-axis").values == {"axis_deg": 75}


def test_an_axis_with_a_sound_alike_is_read_back_even_when_it_fits() -> None:
    room = asked("lens-axis")
    room.says(
        "change of plan axis fifteen from the clinic note",
        "surgeon agrees to the change",
        "nurse agrees to the change",
    )
    while room.state.current != "lens-axis":
        room.says(next_line(room))
    assert room.says("marked axis at fifteen") == ["Was that 15?"]


def next_line(room: Room) -> str:
    return right_line(room.case, room.state)


def test_0_and_180_are_one_axis() -> None:
    room = asked("lens-axis")
    room.says(
        "change of plan axis one eighty from the clinic note",
        "surgeon agrees to the change",
        "nurse agrees to the change",
    )
    while room.state.current != "lens-axis":
        room.says(next_line(room))
    room.says("marked axis at zero")
    assert room.status("lens-axis") == "value"


def test_without_a_toric_lens_no_axis_is_asked_or_listened_for() -> None:
    room = at("time-out", item="lens-model")
    room.says(next_line(room))
    assert room.state.current == "lens-match"
    assert "lens-axis.value" not in heard_here(room.case, room.state)
    assert "lens-axis.value" in heard_here(asked("lens-axis").case, room.state)


def test_an_axis_that_the_plan_got_by_a_change_is_asked_for() -> None:
    room = at("time-out", item="lens-match")
    room.says(
        "change of plan axis ten from the clinic note",
        "surgeon agrees to the change",
        "nurse agrees to the change",
    )
    assert room.state.current == "lens-axis"


def test_an_axis_where_the_plan_has_none_is_freed_by_undo() -> None:
    talk = at_plain("target")
    talk.says("lens axis at ten", "target and type said")
    assert talk.status("target") == "called"
    found = [one for one in talk.records if isinstance(one, ReadBack) and one.findings][-1]
    assert found.findings[0]["expected"] == "none"
    assert talk.says("undo that answer please") == [
        "Withdrawn: target and type.",
        "Said or not: target?",
    ]
    assert talk.state.item("target").values == {}
    assert [(one.item, one.answer) for one in talk.records if isinstance(one, Undone)] == [
        ("target", "")
    ]
    talk.says("target and type said")
    assert talk.status("target") == "said-done"
    assert replay(talk.records) == talk.state


def test_undo_without_details_takes_back_the_last_answer_as_before() -> None:
    talk = at_plain("target")
    assert talk.says("undo that answer please")[0] == "Withdrawn: printout and box."


@pytest.mark.parametrize(
    ("words", "reply"),
    [
        ("target minus zero point five", "I heard -0.5. The plan differs. Please check again."),
        ("cylinder plus two point five", "I heard +2.5. The plan differs. Please check again."),
        ("lens axis at seventy", "Axis is 70, 75 elsewhere. Please check."),
        ("target plus zero point two five", "I heard +0.25. The plan differs. Please check again."),
        ("target minus zero point two five", "Target is -0.25."),
        (
            "target minus zero point two five cylinder plus two point two five "
            "lens axis seventy five",
            "Target is -0.25, cylinder is +2.25, axis is 75.",
        ),
    ],
)
def test_target_and_cylinder_are_compared_where_they_are_said(words: str, reply: str) -> None:
    assert asked("target").says(words) == [reply]


def test_another_target_may_be_accepted_and_another_cylinder_may_not() -> None:
    room = asked("target")
    room.says("target minus zero point five")
    reply = room.says("surgeon accepts the target because of my preference")
    assert reply[0] == "Accepted by the surgeon: target is -0.5."
    room.says("cylinder plus three", "surgeon accepts the target because of my preference")
    assert len([one for one in room.records if isinstance(one, Accepted)]) == 1
    assert room.says("target and type said")[0] == "This one has to be answered."


def test_a_cylinder_where_no_toric_lens_is_planned_does_not_fit() -> None:
    room = at("time-out", item="target")
    assert room.says("cylinder plus two") == ["I heard +2. The plan differs. Please check again."]


@pytest.mark.parametrize(
    ("change", "field", "new"),
    [("target minus one", "target", -1.0), ("cylinder plus three", "cylinder", 3.0)],
)
def test_target_and_cylinder_change_with_the_plan(change: str, field: str, new: float) -> None:
    room = asked("target")
    room.says(
        f"change of plan {change} from the new printout",
        "surgeon agrees to the change",
        "nurse agrees to the change",
    )
    assert room.state.plan == {field: new}
