"""The settings of each phase that the card names, voiced by the phase's name in any order, and what
the plan asks for: each compared with its own, none with another's."""

from __future__ import annotations

import pytest

from tests.team.right import profile_line, right_line
from tests.team.room import Room, case_of
from voicelist.documents.names import PHASES
from voicelist.session.grades import grade_that_stands
from voicelist.session.order import due_items
from voicelist.session.state import replay

FULL, DENSE, SMALL_PUPIL = "practice-101", "practice-106", "practice-109"
SAID = {
    "sculpt": "sculpting",
    "chop": "chop",
    "quadrant": "quadrants",
    "epinucleus": "epinucleus",
    "cortex": "cortex",
    "polish": "polishing",
    "viscoelastic": "viscoelastic",
}


def at(item: str, plan: str = DENSE, section: str = "settings") -> Room:
    room = Room(case_of(plan, section))
    for _ in range(200):
        if room.state.current == item and room.state.pending is None:
            return room
        room.says(right_line(room.case, room.state))
    raise AssertionError(f"{item} was not asked for")


def line_for(room: Room, phase: str) -> str:
    item = room.case.items[f"{phase}-profile"]
    return profile_line(room.case, item, grade=grade_that_stands(room.case, room.state))


def due_in(room: Room, section: str) -> list[str]:
    found = room.case.section(section)
    return [item.id for item in due_items(room.case, room.state, found)]


def test_every_phase_of_the_card_is_asked_for() -> None:
    room = Room(case_of(DENSE, "settings"))
    profiles = [one for one in due_in(room, "settings") if one.endswith("-profile")]
    assert profiles == [f"{phase}-profile" for phase in PHASES]


def test_the_plan_may_choose_some_of_them() -> None:
    for plan, phases in ((FULL, ["quadrant"]), (SMALL_PUPIL, ["sculpt", "quadrant"])):
        room = Room(case_of(plan, "settings"))
        profiles = [one for one in due_in(room, "settings") if one.endswith("-profile")]
        assert profiles == [f"{phase}-profile" for phase in phases]


@pytest.mark.parametrize("order", [tuple(reversed(PHASES)), (*PHASES[3:], *PHASES[:3])])
def test_phases_are_voiced_in_any_order(order: tuple[str, ...]) -> None:
    room = at("sculpt-profile")
    for phase in order:
        reply = room.says(f"{SAID[phase]} {line_for(room, phase)}")
        assert reply[-1].endswith("Surgeon, please confirm.")
        assert room.state.pending is not None
        assert room.state.pending.item == f"{phase}-profile"
        room.says("surgeon confirms the profile")
        assert room.status(f"{phase}-profile") == "value"
    assert room.state.current == "incision-plan"
    assert replay(room.records) == room.state


def test_settings_of_a_named_phase_are_judged_by_that_phase_alone() -> None:
    room = at("sculpt-profile")
    room.says(f"chop {line_for(room, 'sculpt')}")
    pending = room.state.pending
    assert pending is not None
    assert (pending.item, pending.about) == ("chop-profile", "mismatch")
    assert room.state.item("sculpt-profile").values == {}
    assert room.status("chop-profile") != "value"


def test_without_a_name_they_are_of_the_phase_that_is_called() -> None:
    room = at("sculpt-profile")
    room.says(line_for(room, "sculpt"))
    assert room.state.pending is not None
    assert room.state.pending.item == "sculpt-profile"


def test_another_phase_may_be_named_while_one_is_read_back() -> None:
    room = at("sculpt-profile")
    room.says(line_for(room, "sculpt"))
    room.says(f"quadrants {line_for(room, 'quadrant')}")
    assert room.state.pending is not None
    assert room.state.pending.item == "quadrant-profile"
    reply = room.says("surgeon confirms the profile")
    assert room.status("quadrant-profile") == "value"
    assert room.status("sculpt-profile") == "called"
    assert room.state.pending is not None
    assert room.state.pending.item == "sculpt-profile", "what was said is read back again"
    assert reply[-1].endswith("Surgeon, please confirm.")
    room.says("surgeon confirms the profile")
    assert room.status("sculpt-profile") == "value"


def test_a_phase_that_is_not_due_takes_nothing() -> None:
    room = at("quadrant-profile", FULL)
    before = room.state
    room.says("chop power forty vacuum three sixty flow thirty two")
    assert room.state.items == {
        **before.items,
        "quadrant-profile": room.state.item("quadrant-profile"),
    }
    assert room.state.item("chop-profile").values == {}
    assert room.state.item("quadrant-profile").values == {}
    assert room.state.pending is None


def test_bare_settings_answer_nothing_before_a_phase_is_called() -> None:
    room = at("grade")
    room.says("power forty vacuum three sixty flow thirty two")
    assert room.state.current == "grade"
    assert not any(room.state.item(f"{phase}-profile").values for phase in PHASES)


@pytest.mark.parametrize(
    ("plan", "section", "item", "other", "planned"),
    [
        (FULL, "sign-out", "eye-antibiotic", "agent charlie one milligram", "agent bravo"),
        (FULL, "sign-out", "eye-antibiotic", "agent bravo two milligrams", "one milligram"),
        (DENSE, "settings", "capsule-dye", "green dye", "blue dye"),
        (DENSE, "handpiece", "second-instrument", "sharp chopper", "blunt chopper"),
        (SMALL_PUPIL, "settings", "pupil-aid", "iris hooks", "pupil ring"),
        ("practice-108", "time-out", "second-procedure", "membrane removal", "drainage stent"),
    ],
)
def test_what_is_planned_is_compared_and_not_told(
    plan: str, section: str, item: str, other: str, planned: str
) -> None:
    room = at(item, plan, section)
    right = right_line(room.case, room.state)
    value = room.case.bundle.plan.also | room.case.bundle.card.also
    said = right.removesuffix(value[str(room.case.items[item].planned)]) + other
    reply = room.says(said)
    assert reply == [f"I heard {other}. The plan differs. Please check again."]
    assert planned not in " ".join(reply)
    assert room.status(item) == "called"
    room.says(right)
    assert room.status(item) == "value"


@pytest.mark.parametrize(
    ("item", "other"),
    [
        ("implant-eye", "implanted eye is left"),
        ("implant-power", "implanted power plus twenty two point five"),
        ("implant-model", "implanted model is monofocal alpha"),
    ],
)
def test_another_implant_than_planned_never_passes(item: str, other: str) -> None:
    room = at(item, FULL, "sign-out")
    right = right_line(room.case, room.state)
    reply = room.says(other)
    assert len(reply) == 1
    assert room.state.pending is not None
    assert room.state.pending.about == "mismatch"
    room.says("surgeon accepts the grade because of my preference")
    assert room.status(item) == "called"
    room.says(right)
    assert room.status(item) == "value"


def test_the_last_figures_and_the_month_are_kept_as_they_were_said() -> None:
    room = at("implant-label", FULL, "sign-out")
    room.says("lens sticker seven zero four")
    assert room.status("implant-label") == "called"
    room.says("lens sticker seven zero four june")
    assert room.state.item("implant-label").words == "lens sticker seven zero four june"


def test_a_second_eye_asks_for_new_instruments() -> None:
    for plan, asked in (("practice-107", True), (FULL, False)):
        room = Room(case_of(plan))
        assert ("new-instruments" in due_in(room, "handpiece")) is asked


def test_a_whole_full_case_with_one_fault() -> None:
    room = Room(case_of(FULL))
    told = False
    for _ in range(400):
        if room.state.closed:
            break
        if room.state.current == "closed-eye" and not told:
            told = True
            assert room.says("wound leaking")[0] == "Reported."
            continue
        room.says(right_line(room.case, room.state))
    assert room.state.closed == "completed"
    assert room.status("closed-eye") == "said-fault"
    assert room.status("chop-profile") == "not-asked"
    assert replay(room.records) == room.state
