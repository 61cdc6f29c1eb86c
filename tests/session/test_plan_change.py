"""A change of plan: who agrees, what it opens again, what stays of it."""

from __future__ import annotations

import pytest

from tests.session.test_team_items import FULL, at
from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.session.order import heard_here
from voicelist.session.records import Answered
from voicelist.session.state import State, replay
from voicelist.session.team_records import PlanChanged

TO_LEFT = "change of plan eye left from the consent form"
TWO = ("surgeon agrees to the change", "nurse agrees to the change")


def after_the_lens() -> Room:
    return at("time-out", item="lens-match")


def test_a_change_needs_two_roles_and_opens_what_depends_on_it() -> None:
    room = after_the_lens()
    reply = room.says(TO_LEFT)
    assert reply == ["New plan: eye is left, the consent form. Who agrees?"]
    assert room.says(TWO[0]) == ["One more role, please."]
    assert room.state.plan == {}
    reply = room.says(TWO[1])
    assert reply[0].startswith("The plan is changed. Asked again: patient, side and procedure")
    assert room.state.current == "team-check"
    changed = next(one for one in room.records if isinstance(one, PlanChanged))
    assert (changed.field, changed.old, changed.new) == ("eye", "right", "left")
    assert changed.document == "the consent form"
    assert [who["role"] for who in changed.roles] == ["surgeon", "circulating-nurse"]
    assert {"eye", "lens-power", "lens-model", "team-check"} <= set(changed.reopened)
    assert {room.status(one) for one in ("eye", "lens-power", "lens-model")} == {"not-asked"}
    assert room.status("printout") == "said-done"
    assert replay(room.records) == room.state


def test_after_the_change_only_the_new_value_fits() -> None:
    room = after_the_lens()
    room.says(TO_LEFT, *TWO)
    while room.state.current != "eye":
        room.says(right_line(room.case, room.state))
    assert room.says("marked eye right") == ["Please read the mark again."]
    room.says("marked eye left")
    assert room.status("eye") == "value"


@pytest.mark.parametrize(
    "words",
    [
        ("surgeon agrees to the change", "surgeon agrees to the change"),
        ("yes", "yes"),
        ("surgeon agrees to the change", "good morning"),
        ("surgeon agrees to the change", "no keep the plan"),
    ],
)
def test_one_role_or_none_changes_nothing(words: tuple[str, str]) -> None:
    room = after_the_lens()
    room.says(TO_LEFT, *words)
    assert room.state.plan == {}
    assert not any(isinstance(one, PlanChanged) for one in room.records)
    assert room.status("eye") == "value"


def test_a_channel_that_is_known_agrees_for_its_own_role_alone() -> None:
    room = after_the_lens()
    room.says(TO_LEFT)
    room.says("surgeon agrees to the change", role="circulating-nurse")
    assert room.state.agreed == ()


def test_a_new_grade_is_compared_with_its_own_settings() -> None:
    room = at("settings", item="incision-plan")
    reply = room.says("change of plan clinical grade two from the clinic note")
    assert reply == ["New plan: grade is 2 clinical, the clinic note. Who agrees?"]
    room.says(*TWO)
    assert room.state.current == "grade"
    room.says("clinical grade two", "no special aids")
    reply = room.says("power forty vacuum three fifty flow thirty two")
    assert reply == ["Power is 40; the card says 30."]


def test_a_grade_without_settings_is_refused() -> None:
    room = at("settings", item="incision-plan")
    reply = room.says("change of plan clinical grade zero from the clinic note")
    assert reply[0] == "The card has nothing for that grade."
    assert room.state.pending is None


def test_a_power_that_no_lens_has_is_refused_and_a_sign_is_never_supposed() -> None:
    room = after_the_lens()
    reply = room.says("change of plan lens power plus ninety from the new printout")
    assert reply[0] == "No plan can hold that."
    assert room.says("change of plan lens power twenty from the new printout") != []
    assert room.state.pending is None


def test_what_was_answered_before_the_change_stays_in_the_records() -> None:
    room = after_the_lens()
    room.says(TO_LEFT, *TWO)
    eyes = [one for one in room.records if isinstance(one, Answered) and one.item == "eye"]
    assert [dict(one.values) for one in eyes] == [{"eye": "right"}]


def test_the_mismatch_of_an_eye_is_settled_by_a_change_of_plan_only() -> None:
    room = at("time-out", item="eye")
    room.says("marked eye left", "surgeon accepts the grade because of my preference")
    assert room.status("eye") == "called"
    room.says(TO_LEFT, *TWO)
    while room.state.current != "eye":
        room.says(right_line(room.case, room.state))
    room.says("marked eye left")
    assert room.status("eye") == "value"


def test_a_case_with_a_change_still_completes() -> None:
    room = Room(case_of(FULL, "time-out"))
    while room.state.current != "lens-match":
        room.says(right_line(room.case, room.state))
    room.says("change of plan lens power plus twenty two from the new printout", *TWO)
    for _ in range(60):
        if room.state.closed:
            break
        room.says(right_line(room.case, room.state))
    assert room.state.closed == "completed"
    assert room.state.item("lens-power").values == {"power_D": 22.0}


def test_a_change_is_asked_for_first_and_listened_for_only_then() -> None:
    room = after_the_lens()
    assert "command.change_plan" not in heard_here(room.case, room.state)
    reply = room.says("change of plan please")
    assert reply == ["Change of plan: which part, from which document?"]
    assert "command.change_plan" in heard_here(room.case, room.state)
    assert room.says("printout and box alike") == []
    assert room.status("lens-match") == "called"
    room.says(TO_LEFT, *TWO)
    assert room.state.plan == {"eye": "left"}


def test_a_change_that_was_asked_for_may_be_dropped() -> None:
    room = after_the_lens()
    room.says("voice list change of plan")
    assert room.says("no keep the plan") == ["The plan stays.", "Alike or not: printout, box?"]
    assert room.state.pending is None


def test_corrections_are_listened_for_up_to_the_open_section() -> None:
    room = Room(case_of(FULL))
    at_first = heard_here(room.case, room.state)
    assert "command.correct:power" in at_first
    assert "command.correct:counts" not in at_first
    assert "command.correct:power" in heard_here(room.case, State(section="sign-out"))
