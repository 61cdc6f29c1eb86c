"""A role that is not in the room: never a dead end, never spoken for, shown as absent."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.command import Command, voicelist
from tests.session.test_team_items import at
from tests.team.room import Room
from tests.test_cli_conversation import lines_of, plan_of
from voicelist.session.state import replay
from voicelist.session.team_records import PresenceChanged

__all__ = ["voicelist"]

PRESENT = "present: [circulating-nurse, scrub-nurse, surgeon]\n"
OF_ANAESTHESIA = ("anaesthesia check", "no anaesthesia concerns", "anaesthesia has confirmed")


def plan_with(tmp_path: Path, present: str) -> Path:
    folder = tmp_path / "plans"
    folder.mkdir()
    plan = folder / "local.yaml"
    text = plan_of("practice-101").read_text(encoding="utf-8")
    plan.write_text(text.replace("practice-101", "local-101") + present, encoding="utf-8")
    return plan


def test_a_case_without_anaesthesia_is_completed_and_shows_it_absent(
    voicelist: Command, tmp_path: Path
) -> None:
    plan = plan_with(tmp_path, PRESENT)
    lines = [
        line
        for line in lines_of("practice-101").splitlines()
        if not line.startswith(OF_ANAESTHESIA)
    ]
    told = voicelist("run", plan, "--typed", "--voice", "none", typed="\n".join(lines) + "\n")
    assert "local-101: completed" in told.out, told.out
    assert "Anaesthesia is not here today." in told.out
    shown = voicelist("record", "show", "local-101").out
    assert "Not in the room: team lead, anaesthesia, by the plan" in shown
    assert "absent anaesthesia" in shown
    assert "anaesthesia (as spoken" not in shown
    assert voicelist("record", "verify", "local-101").code == 0


@pytest.mark.parametrize("present", ["present: [circulating-nurse, scrub-nurse]\n"])
def test_a_plan_that_lacks_a_needed_role_is_refused(
    voicelist: Command, tmp_path: Path, present: str
) -> None:
    plan = plan_with(tmp_path, present)
    checked = voicelist("check", plan)
    assert checked.code == 1
    assert "answered by nobody else" in checked.text
    refused = voicelist("run", plan, "--typed", "--voice", "none", typed="")
    assert refused.code == 1
    assert "local-101" not in voicelist("record", "list", "--json").out


def waiting_for_anaesthesia() -> Room:
    room = at("time-out", item="team-check")
    room.says("surgeon has confirmed side and procedure")
    assert room.says("nurse has confirmed side and procedure") == ["Anaesthesia, please."]
    return room


def test_an_absent_role_is_said_read_back_and_recorded() -> None:
    room = waiting_for_anaesthesia()
    assert room.says("anaesthesia is away today") == ["Anaesthesia is not here: is that so?"]
    assert room.status("team-check") == "called"
    room.says("yes that is correct")
    assert room.status("team-check") == "said-done"
    (changed,) = [one for one in room.records if isinstance(one, PresenceChanged)]
    assert (changed.role, changed.present) == ("anaesthesia", False)
    assert room.state.item("team-check").values["absent"] == ["anaesthesia"]
    assert replay(room.records) == room.state


def test_it_stays_as_it_was_where_the_absence_is_denied() -> None:
    room = waiting_for_anaesthesia()
    room.says("anaesthesia is away today", "no keep the plan")
    assert room.status("team-check") == "called"
    assert not [one for one in room.records if isinstance(one, PresenceChanged)]
    assert room.state.presence == {}


def test_nobody_speaks_for_an_absent_role_until_it_is_there() -> None:
    room = at("time-out", item="team-check")
    room.says("anaesthesia is away today", "yes that is correct")
    assert room.says("anaesthesia confirmed side and procedure") == [
        "Anaesthesia is not here today."
    ]
    room.says("surgeon has confirmed side and procedure", "anaesthesia is here now")
    room.says("nurse has confirmed side and procedure")
    assert room.status("team-check") == "called"
    room.says("anaesthesia confirmed side and procedure")
    assert room.status("team-check") == "said-done"


def test_an_item_of_the_absent_role_alone_is_left_out_and_comes_back_with_it() -> None:
    room = at("sign-in", item="anaesthesia-check")
    room.says("anaesthesia is away today", "yes that is correct")
    assert room.state.current == "oximeter"
    assert room.status("anaesthesia-check") == "called"
    room.says("anaesthesia is here now", "pulse oximeter on")
    assert room.state.current == "anaesthesia-check"


def test_a_role_that_an_open_item_needs_is_not_taken_to_be_away() -> None:
    room = at("time-out", item="team-check")
    room.state = replace(room.state, presence={"circulating-nurse": False})
    reply = room.says("anaesthesia is away today")
    assert reply[0].startswith("Anaesthesia is needed for ")
    assert room.state.pending is None
    assert room.state.presence == {"circulating-nurse": False}
