"""Short lists, started by voice after time out, which go back to where the case was; and what a
change of equipment opens."""

from __future__ import annotations

import pytest

from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.documents.bundle import load_bundle
from voicelist.places import shipped
from voicelist.record.course import course_view
from voicelist.session.flow_records import SectionAsked, WentBack
from voicelist.session.state import replay

FULL, TURNOVER = "practice-101", "practice-102"
BACK = "That list ends here. Quiet, until sign out is asked for."
STARTS = (
    ("capsule rupture list please", "capsule-list"),
    ("zonule list please", "support-list"),
    ("wound heat list please", "wound-list"),
    ("machine error list please", "machine-list"),
    ("priming list please", "machine-list"),
    ("chamber pressure list please", "chamber-list"),
    ("posterior pressure list please", "pressure-list"),
)


def to_under_way(plan: str = TURNOVER) -> Room:
    room = Room(case_of(plan, "time-out"))
    while not room.state.under_way:
        room.says(right_line(room.case, room.state))
    return room


def to_sign_out(plan: str = TURNOVER) -> Room:
    room = to_under_way(plan)
    while room.state.under_way or room.state.pending is not None:
        room.says(right_line(room.case, room.state))
    return room


@pytest.mark.parametrize("plan", [FULL, TURNOVER])
@pytest.mark.parametrize(("line", "section"), STARTS)
def test_a_list_is_taken_and_it_is_quiet_again(plan: str, line: str, section: str) -> None:
    room = to_under_way(plan)
    reply = room.says("incision is made", line)
    assert reply[0].lower() == f"{room.case.section(section).name}."
    assert room.state.section == section
    while room.state.current:
        reply = room.says(right_line(room.case, room.state))
    assert reply == [BACK]
    assert room.state.under_way
    assert room.state.section == "time-out"
    assert all(room.status(one.id) == "said-done" for one in room.case.section(section).items)
    assert [one.section for one in room.records if isinstance(one, WentBack)] == [section]
    assert replay(room.records) == room.state


def test_it_may_start_in_the_middle_of_sign_out_and_loses_no_place() -> None:
    room = to_sign_out()
    asked = room.state.current
    room.says("capsule list please")
    assert room.state.current == "chamber-kept"
    reply: list[str] = []
    while room.state.short_lists:
        reply = room.says(right_line(room.case, room.state))
    assert reply[0] == "Back to sign out."
    assert room.state.current == asked
    assert room.case.items[asked].call == reply[-1]


def test_before_the_end_of_time_out_none_starts() -> None:
    room = Room(case_of(TURNOVER, "time-out"))
    for line, _ in STARTS:
        room.says(line)
    assert room.state.short_lists == ()
    assert room.state.current == "eye"


def test_one_over_another_goes_back_to_the_first() -> None:
    room = to_under_way()
    room.says("capsule list please", "chamber is kept up", "posterior pressure list please")
    assert room.state.short_lists == ("capsule-list", "pressure-list")
    reply: list[str] = []
    while room.state.section == "pressure-list":
        reply = room.says(right_line(room.case, room.state))
    assert reply[0] == "Back to capsule list."
    assert room.state.current == "dispersive"


def test_it_may_be_left_and_its_rest_stays_unasked() -> None:
    room = to_under_way()
    room.says("capsule list please", "chamber is kept up")
    assert room.says("leave this list please") == [BACK]
    assert room.status("cutter") == "not-asked"
    assert room.says("what is still open") == ["Nothing is open before sign out."]
    (back,) = [one for one in room.records if isinstance(one, WentBack)]
    assert back.left


def test_started_again_it_asks_anew() -> None:
    room = to_under_way()
    room.says("capsule list please", "chamber is kept up", "leave this list please")
    room.says("capsule list please")
    assert room.state.current == "chamber-kept"
    assert room.status("chamber-kept") == "called"
    requests = [one for one in room.records if isinstance(one, SectionAsked)]
    assert requests[-1].reopened == ("chamber-kept",)


def test_asking_for_sign_out_leaves_it() -> None:
    room = to_under_way()
    room.says("incision is made", "end of surgery now", "capsule list please")
    assert room.says("ready for sign out")[0] == "Sign out."
    assert room.state.short_lists == ()


def test_an_answer_that_is_taken_back_opens_it_again() -> None:
    room = to_under_way()
    room.says("zonule list please")
    while room.state.short_lists:
        room.says(right_line(room.case, room.state))
    room.says("undo the last answer")
    assert room.state.current == "other-lens"
    assert room.says("other lens is here") == [BACK]


def test_silence_prompts_in_a_list_and_no_more_when_it_is_left() -> None:
    room = to_under_way()
    room.says("capsule list please")
    assert room.waits(8.0) == ["Kept up or not: chamber?"]
    room.says("leave this list please")
    assert room.waits(3600.0) == []


def test_a_case_may_be_begun_with_one() -> None:
    room = Room(case_of(TURNOVER, "capsule-list"))
    assert room.state.current == "chamber-kept"
    while room.state.short_lists:
        room.says(right_line(room.case, room.state))
    assert room.state.under_way


def test_no_list_is_part_of_a_case_that_did_not_need_it() -> None:
    room = to_sign_out()
    while not room.state.closed:
        room.says(right_line(room.case, room.state))
    assert room.state.closed == "completed"
    lists = [one for one in room.case.bundle.checklist.sections if one.goes_back]
    assert len(lists) == 6
    assert not {item.id for one in lists for item in one.items} & room.state.items.keys()
    documents = load_bundle(shipped("grammars") / "plans" / f"{TURNOVER}.yaml").to_json()
    assert len(course_view((), documents).not_started) == 6


@pytest.mark.parametrize(
    ("plan", "opens"),
    [
        ("practice-007", "irrigation-line"),
        (FULL, "changed-line"),
        (TURNOVER, "irrigation-line"),
        ("practice-201", "expiry"),
    ],
)
def test_a_change_of_equipment_under_way_opens_what_it_makes_due(plan: str, opens: str) -> None:
    room = Room(case_of(plan))
    while not room.state.under_way:
        room.says(right_line(room.case, room.state))
    reply = room.says("equipment was changed now")
    assert reply[0] == "The change is noted."
    assert reply[-1] == room.case.items[opens].call
    assert room.state.current == opens
    while not room.state.under_way:
        room.says(right_line(room.case, room.state))
    assert room.status(opens) in ("said-done", "value")
