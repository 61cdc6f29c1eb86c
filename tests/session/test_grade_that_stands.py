"""Settings are compared with the grade that stands: declared, accepted, changed or corrected."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.record.cases import keep, opened, stepped_store
from tests.session.talk import Talk
from tests.session.test_team_items import at
from voicelist.figures.inline import report_figures
from voicelist.record.exports import export
from voicelist.record.store import Store
from voicelist.record.view import case_view
from voicelist.session.records import Accepted, Answered, Undone
from voicelist.session.state import replay

GRADE_1 = "power twenty vacuum two fifty flow twenty six"
GRADE_3 = "power forty vacuum three fifty flow thirty two pulses thirty"
GRADE_4 = "power fifty vacuum four hundred flow thirty six pulses forty"
ACCEPTED = "surgeon accepts the grade because of a dense lens"
CONFIRMED = "surgeon confirms the profile"


def declared(grade: str) -> Talk:
    """A case planned at grade 3 in which another grade was declared and accepted."""
    talk = Talk("settings")
    talk.says(f"clinical grade {grade}", ACCEPTED)
    assert talk.state.current == "quadrant-profile"
    return talk


def test_settings_of_the_planned_grade_are_asked_about_when_another_one_stands() -> None:
    talk = declared("one")
    assert talk.says(GRADE_3) == ["Power is 40; the card says 20."]
    talk.says(CONFIRMED)
    assert talk.status("quadrant-profile") == "called"


@pytest.mark.parametrize(("grade", "settings"), [("one", GRADE_1), ("four", GRADE_4)])
def test_settings_of_the_accepted_grade_pass_without_a_question(grade: str, settings: str) -> None:
    talk = declared(grade)
    (reply,) = talk.says(settings)
    assert reply.endswith("Surgeon, please confirm.")
    talk.says(CONFIRMED)
    assert talk.status("quadrant-profile") == "value"
    (answer,) = [one for one in talk.records if isinstance(one, Answered) and one.grade]
    assert answer.grade == {"scale": "clinical", "value": {"one": 1, "four": 4}[grade]}
    assert answer.expected["power_percent"] == {
        "value": {"one": 20, "four": 50}[grade],
        "control": "linear",
        "tolerance": 5,
    }


def confirmed() -> Talk:
    talk = Talk("settings")
    talk.says("clinical grade three", GRADE_3, CONFIRMED)
    assert talk.status("quadrant-profile") == "value"
    return talk


def test_a_grade_corrected_after_the_profile_opens_the_profile_again_and_says_so() -> None:
    talk = confirmed()
    talk.says("correction for the nuclear grade")
    assert talk.status("quadrant-profile") == "value"
    talk.says("clinical grade one")
    reply = talk.says(ACCEPTED)
    assert reply[0] == "Grade is 1 clinical now. Asked again: the quadrant settings."
    assert talk.status("quadrant-profile") == "called"
    assert talk.state.current == "quadrant-profile"
    undone = [one for one in talk.records if isinstance(one, Undone)]
    assert (undone[-1].item, undone[-1].answer) == ("quadrant-profile", "value")
    assert undone[-1].why == "the grade is 1 clinical, it was 3 clinical"
    assert talk.says(GRADE_3) == ["Power is 40; the card says 20."]
    assert replay(talk.records) == talk.state


def test_the_same_grade_said_again_opens_nothing() -> None:
    talk = confirmed()
    reply = talk.says("correction for the nuclear grade", "clinical grade three")
    assert not any("Open again" in text for text in reply)
    assert talk.status("quadrant-profile") == "value"


def test_an_accepted_grade_that_is_taken_back_to_the_plan_opens_the_profile_again() -> None:
    talk = declared("four")
    talk.says(GRADE_4, CONFIRMED)
    reply = talk.says("correction for the nuclear grade", "clinical grade three")
    assert "Grade is 3 clinical now. Asked again: the quadrant settings." in reply
    assert talk.says(GRADE_4)[0].endswith("the card says 40.")


def test_a_change_of_plan_outdates_what_was_declared() -> None:
    room = at("settings", item="incision-plan")
    room.says("change of plan clinical grade two from the clinic note")
    room.says("surgeon agrees to the change", "nurse agrees to the change")
    room.says("clinical grade two", "no special aids")
    assert room.says("power forty vacuum three fifty flow thirty two") == [
        "Power is 40; the card says 30."
    ]


def test_what_depends_on_the_grade_opens_with_a_corrected_one() -> None:
    room = at("settings", item="incision-plan")
    assert room.status("aids") == "said-done"
    room.says("correction for the nuclear grade", "clinical grade two", ACCEPTED)
    assert room.status("aids") == "called"
    assert room.status("quadrant-profile") == "not-asked"


def test_a_grade_without_an_entry_on_the_card_is_said_and_nothing_stands_in() -> None:
    talk = Talk("settings")
    talk.says("clinical grade zero")
    reply = talk.says(ACCEPTED)
    assert reply[:2] == [
        "The card has nothing for that grade.",
        "Surgeon, please: settings for the quadrants?",
    ]
    assert talk.says("power forty") == ["The card has nothing for grade 0. Please confirm."]
    talk.says(CONFIRMED)
    assert talk.status("quadrant-profile") == "called"
    reply = talk.says(ACCEPTED)
    assert reply[-1] == "Still needed: vacuum, flow."
    talk.says("vacuum three fifty flow thirty two")
    talk.says(CONFIRMED)
    assert talk.status("quadrant-profile") == "value"
    silent = [one for one in talk.records if isinstance(one, Accepted)][-1]
    assert (silent.item, silent.quantity, silent.expected) == (
        "quadrant-profile",
        "grade",
        "nothing",
    )
    assert talk.state.item("quadrant-profile").expected == {}


def test_another_scale_has_no_entry_either() -> None:
    talk = Talk("settings")
    talk.says("hardness grade three")
    assert talk.says(ACCEPTED)[0] == "The card has nothing for that grade."
    assert talk.says(GRADE_3) == ["The card has nothing for grade 3. Please confirm."]


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return stepped_store(tmp_path / "records.sqlite3")


def test_report_and_pictures_have_the_grade_that_stands(store: Store) -> None:
    talk = declared("four")
    talk.says(GRADE_4, CONFIRMED)
    first = opened("typed", talk.case.bundle.to_json())
    entries = keep(store, "case-1", (first, *talk.records))
    assert ("grade that stands", "clinical 4") in list(case_view(entries).team.facts())
    page = export(entries, "html", report_figures).decode()
    assert "grade clinical 4, quadrant" in page
    assert "grade clinical 3, quadrant" not in page
