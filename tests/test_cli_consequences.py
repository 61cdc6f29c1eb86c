"""Answers with consequences: what they make due is asked there, and the report shows the thread."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from tests.command import Command, voicelist
from tests.linting.lint_documents import lint, spoil, write
from tests.session.test_team_items import at
from tests.team.right import right_line
from tests.test_cli_conversation import exported, lines_of, typed
from voicelist.session.state import replay

__all__ = ["voicelist"]

LIST = "checklists/small.yaml"


@pytest.mark.parametrize(
    ("item", "lines", "asked"),
    [
        ("alpha-blockers", ["alpha blockers known"], {"iris-aids", "iris-plan"}),
        ("alpha-blockers", ["alpha blockers never"], set()),
        ("ordered-lens", ["ordered lens missing"], {"backup-lens"}),
        ("bleeding", ["bleeding risk by blood thinners", "yes that is correct"], {"bleeding-plan"}),
        ("bleeding", ["bleeding risk and fluids ready"], {"bleeding-plan"}),
        ("bleeding", ["no bleeding risk"], set()),
        ("pupil", ["pupil small"], {"iris-aids", "iris-plan"}),
    ],
)
def test_an_answer_makes_its_consequences_due(item: str, lines: list[str], asked: set[str]) -> None:
    room = at("sign-in", item=item)
    room.says(*lines)
    called = set()
    while not room.state.closed:
        called.add(room.state.current)
        room.says(right_line(room.case, room.state))
    due = {"iris-aids", "iris-plan", "backup-lens", "bleeding-plan"}
    assert called & due == asked
    assert room.state.closed == "completed"
    assert replay(room.records) == room.state


def test_an_answer_that_is_taken_back_takes_its_consequences_along() -> None:
    room = at("sign-in", item="pupil")
    room.says("pupil small", "correction for the pupil", "pupil wide")
    while room.state.section != "sign-out":
        assert room.state.current != "iris-plan"
        room.says(right_line(room.case, room.state))


def test_the_report_shows_the_thread(voicelist: Command, tmp_path: Path) -> None:
    lines = lines_of("practice-101").replace("alpha blockers never", "alpha blockers known")
    lines = lines.replace("no special aids\n", "no special aids\nhooks and ring ready\n")
    lines = lines.replace("printout and box alike\n", "printout and box alike\niris plan said\n")
    assert "practice-101: completed" in typed(voicelist, "practice-101", lines)
    (table, page) = (exported(voicelist, "practice-101", one, tmp_path) for one in ("csv", "html"))
    made_due = {row["item"]: row["made_due_by"] for row in csv.DictReader(io.StringIO(table))}
    thread = 'alpha blockers: "alpha blockers known"'
    assert {one for one, why in made_due.items() if why} == {"iris-aids", "iris-plan"}
    assert made_due["iris-plan"] == thread
    assert "and not answered." not in page
    shown = voicelist("record", "show", "practice-101").out
    assert shown.count('made due by alpha blockers: "alpha blockers known"') == 2
    page = tmp_path / "case.html"
    voicelist("record", "export", "practice-101", "--format", "html", "-o", page)
    assert "made due by alpha blockers" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("named", "found"),
    [
        ("{fault: [nothing]}", "no item nothing"),
        ("{fault: [eye]}", "eye, which is asked without that"),
        ("{fault: [irrigation-line]}", "irrigation-line, which comes before bottle"),
        ("{perhaps: [eye]}", '"perhaps", which no answer of bottle is'),
    ],
)
def test_check_resolves_what_is_made_due(tmp_path: Path, named: str, found: str) -> None:
    folder = write(tmp_path)
    spoil(folder, LIST, "fault: bottle low", f"fault: bottle low\n        makes due: {named}")
    assert found in [one.found for one in lint(folder)]


def test_check_finds_an_item_that_nothing_makes_due(tmp_path: Path) -> None:
    folder = write(tmp_path)
    spoil(folder, LIST, "fault: bottle low", "fault: bottle low\n        when: made due")
    (problem,) = lint(folder)
    assert problem.found == "bottle, which no answer makes due"


def test_what_was_made_due_and_not_answered_heads_the_report(
    voicelist: Command, tmp_path: Path
) -> None:
    lines = lines_of("practice-101").partition("alpha blockers never\n")[0]
    typed(voicelist, "practice-101", lines + "alpha blockers known\n")
    told = 'made due by alpha blockers: "alpha blockers known", not answered'
    shown = " ".join(voicelist("record", "show", "practice-101").out.split())
    assert shown.count(told) == 2
    page = exported(voicelist, "practice-101", "html", tmp_path)
    attention = page.partition('id="attention"')[2].partition("</ul>")[0]
    assert attention.count("alpha blockers known&#34;, not answered") == 2
    assert page.count("made due by alpha blockers") == 4, "each above and at its place"
