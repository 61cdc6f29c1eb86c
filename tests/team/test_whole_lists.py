"""Whole days as a team meets them, typed: a list of three patients whose order changes, a case in
which the capsule ruptures, and a second eye. Each is one command after the other on one store."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import GRAMMARS, Answer, Command, voicelist
from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.record.store import Reader
from voicelist.record.view import CaseView, case_view
from voicelist.session.records import from_body
from voicelist.session.state import replay

__all__ = ["voicelist"]

FIRST, SECOND, THIRD, OTHER_EYE = "practice-101", "practice-102", "practice-105", "practice-103"
ABANDON = ("abandon this case because of a change of plan", "yes abandon this case")
RUPTURE = "capsule rupture list please"
BACK = "That list ends here. Quiet, until sign out is asked for."


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'day.sqlite3'}"


def lines_of(plan: str, *, rupture: bool = False) -> list[str]:
    """What a team without a slip says in the whole case; with a list for a rupture after the
    incision."""
    room = Room(case_of(plan))
    lines: list[str] = []

    def say(line: str) -> None:
        lines.append(line)
        room.says(line)

    while not room.state.closed:
        if rupture and "incision" in room.state.milestones and RUPTURE not in lines:
            say(RUPTURE)
        say(right_line(room.case, room.state))
    return lines


def run(voicelist: Command, url: str, plan: str, lines: list[str]) -> Answer:
    path = GRAMMARS / "plans" / f"{plan}.yaml"
    typed = "\n".join(lines) + "\n"
    answer = voicelist("run", path, "--typed", "--voice", "none", "--store", url, typed=typed)
    assert answer.code == 0, answer.text
    return answer


def view_of(voicelist: Command, url: str, case: str) -> CaseView:
    """The record of a case, which verifies and replays."""
    verified = voicelist("record", "verify", case, "--store", url)
    assert verified.code == 0, verified.text
    entries = Reader(url).entries(case)
    view = case_view(entries)
    assert replay([from_body(one.kind, one.body) for one in entries]).closed == view.state
    return view


def answered(view: CaseView) -> set[str]:
    return {item.id for item in view.items if item.answers}


def stop_items_of(plan: str) -> set[str]:
    """The stop items that are asked in every case of the plan's checklist."""
    room = Room(case_of(plan))
    while not room.state.closed:
        room.says(right_line(room.case, room.state))
    stops = (one for one, item in room.case.items.items() if item.stop)
    return {one for one in stops if room.state.item(one).answer}


def test_a_list_of_three_whose_order_changes_binds_each_plan_to_its_patient(
    voicelist: Command, url: str
) -> None:
    """The second plan is open when the third patient comes: the wristband says so, the case is
    ended, the right plan is started, and the plan that was left is begun anew for its patient."""
    run(voicelist, url, FIRST, lines_of(FIRST))
    second = lines_of(SECOND)
    number = second.index("case number one hundred and two")
    wristband = "case number one zero five"
    told = run(voicelist, url, SECOND, [*second[:number], wristband, wristband, *ABANDON]).out
    assert told.count("Please read the case number again.") == 2
    assert "105 is the plan practice-105. The order of the list may have changed" in told
    left = view_of(voicelist, url, SECOND)
    assert left.state == "abandoned"
    assert "case-number" not in answered(left)
    assert "identity" not in answered(left)
    (mismatch,) = left.mismatches
    assert (mismatch.heard, mismatch.times, mismatch.elsewhere) == (105, 2, THIRD)

    told = run(voicelist, url, THIRD, lines_of(THIRD)).out
    assert "The day's set-up: taken at" in told
    assert f"record {FIRST}" in told
    assert view_of(voicelist, url, THIRD).state == "completed"

    run(voicelist, url, SECOND, second)
    anew = view_of(voicelist, url, f"{SECOND}-2")
    assert anew.state == "completed"
    assert stop_items_of(SECOND) <= answered(anew), "nothing of the case that was left carries over"
    assert view_of(voicelist, url, SECOND).head == left.head

    listed = voicelist("record", "list", "--store", url).out
    assert all(case in listed for case in (FIRST, SECOND, f"{SECOND}-2", THIRD))


def test_an_open_or_completed_case_is_not_begun_anew(voicelist: Command, url: str) -> None:
    run(voicelist, url, SECOND, lines_of(SECOND)[:2])
    path = GRAMMARS / "plans" / f"{SECOND}.yaml"
    again = voicelist("run", path, "--typed", "--voice", "none", "--store", url, typed="")
    assert again.code == 1
    assert f"There is a case {SECOND} already" in again.err


@pytest.mark.parametrize("plan", [FIRST, THIRD])
def test_a_rupture_in_the_middle_has_its_list_and_the_case_goes_on_where_it_was(
    voicelist: Command, url: str, plan: str
) -> None:
    lines = lines_of(plan, rupture=True)
    assert RUPTURE in lines
    told = run(voicelist, url, plan, lines).out
    quiet = told.index("Quiet until sign out.")
    assert quiet < told.index("Capsule list.") < told.index(BACK) < told.index("  Sign out.")
    view = view_of(voicelist, url, plan)
    assert view.state == "completed"
    (capsule,) = [one for one in view.sections if one.id == "capsule-list"]
    assert all(item.answers for item in capsule.items)
    assert view.course.milestones[0].id == "incision"
    records = [from_body(one.kind, one.body) for one in Reader(url).entries(plan)]
    kinds = [one.kind for one in records]
    assert kinds.index("went-back") > kinds.index("section-asked")
    assert "counts" in answered(view)


def test_a_second_eye_is_a_case_of_its_own(voicelist: Command, url: str) -> None:
    run(voicelist, url, FIRST, lines_of(FIRST))
    told = run(voicelist, url, OTHER_EYE, lines_of_later(OTHER_EYE)).out
    assert "Second eye: nothing about eye, lens or axis carries over." in told
    view = view_of(voicelist, url, OTHER_EYE)
    assert view.state == "completed"
    own = {"case-number", "identity", "mark", "eye", "lens-power", "lens-model", "lens-match"}
    assert own <= answered(view)
    assert {item.id: item for item in view.items}["case-number"].values == {"case_number": 103}
    first = view_of(voicelist, url, FIRST)
    eyes = [{i.id: i for i in one.items}["eye"].values["eye"] for one in (first, view)]
    assert eyes == ["right", "left"]


def test_the_first_eyes_number_is_found_at_the_second_eye(voicelist: Command, url: str) -> None:
    lines = lines_of(OTHER_EYE)
    before = lines[: lines.index("case number one hundred and three")]
    told = run(voicelist, url, OTHER_EYE, [*before, "case number one hundred and one"]).out
    assert "101 is the plan practice-101." in told
    assert "case-number" not in answered(view_of(voicelist, url, OTHER_EYE))


def lines_of_later(plan: str) -> list[str]:
    """The lines of a later case, without the set-up of the day, which a record of today passed."""
    lines = lines_of(plan)
    return lines[lines.index("handpiece lines firm") :]
