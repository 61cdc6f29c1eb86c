"""A later case of the day: what it leaves out, and what it asks because no record shows it."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import create_engine
from sqlalchemy import text as sql

from tests.command import GRAMMARS, Command, voicelist
from tests.test_cli_conversation import lines_of, plan_of, typed
from voicelist.documents.loading import load_checklist
from voicelist.record.store import Reader
from voicelist.record.view import CaseView, case_view
from voicelist.session.day import facts_of_the_day, is_left_out, passed_today

__all__ = ["voicelist"]

STOP_ITEMS = ("irrigation-line", "aspiration-line", "pump-tubing", "priming")
CHANGE = "equipment was changed now\n"


def view_of(url: str, case: str) -> CaseView:
    return case_view(Reader(url).entries(case))


def asked_in(url: str, case: str) -> set[str]:
    """The items of a case that were called."""
    return {item.id for item in view_of(url, case).items if item.first_called}


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'day.sqlite3'}"


def test_a_later_case_without_a_record_of_today_asks_the_stop_items_of_the_set_up(
    voicelist: Command, url: str
) -> None:
    told = typed(voicelist, "practice-103", lines_of("practice-103"), "--store", url)
    assert "practice-103: completed" in told
    assert set(STOP_ITEMS) <= asked_in(url, "practice-103")
    shown = voicelist("record", "show", "practice-103", "--store", url).out
    assert "Day's set-up: no record of it was found" in shown


def test_a_later_case_leaves_the_set_up_out_if_a_record_of_today_passed_it(
    voicelist: Command, url: str
) -> None:
    typed(voicelist, "practice-101", lines_of("practice-101"), "--store", url)
    told = typed(voicelist, "practice-103", "", "--store", url)
    assert "record practice-101" in told
    assert "Firm or loose: handpiece lines?" in told
    machine = {item.id: item.due for item in view_of(url, "practice-103").items}
    assert not any(machine[one] for one in STOP_ITEMS)
    resumed = voicelist("resume", "practice-103", "--typed", "--store", url, typed="")
    assert "handpiece lines" in resumed.out
    assert not asked_in(url, "practice-103").intersection(STOP_ITEMS)


@pytest.mark.parametrize(
    ("said_before", "words"),
    [
        ("counts complete", "asked again: equipment was changed since"),
        ("aspiration line firm", "no record of it was found"),
    ],
)
def test_what_speaks_against_the_record_of_today_has_the_set_up_asked(
    voicelist: Command, url: str, said_before: str, words: str
) -> None:
    """A change said after the set-up was taken; a record that ends before it was."""
    lines = lines_of("practice-101").partition(f"{said_before}\n")[0] + CHANGE
    typed(voicelist, "practice-101", lines, "--store", url)
    told = typed(voicelist, "practice-103", "", "--store", url)
    assert "On or off: machine?" in told
    assert words in voicelist("record", "show", "practice-103", "--store", url).out


def test_a_stop_item_reported_later_today_has_the_set_up_asked(
    voicelist: Command, url: str
) -> None:
    typed(voicelist, "practice-101", lines_of("practice-101"), "--store", url)
    turnover = lines_of("practice-102").splitlines()
    at = turnover.index("irrigation line firm")
    lines = "\n".join([*turnover[:at], "irrigation line leaking"]) + "\n"
    typed(voicelist, "practice-102", lines, "--store", url)
    told = typed(voicelist, "practice-103", "", "--store", url)
    assert "asked again: irrigation line was reported since" in told
    assert "On or off: machine?" in told


def test_a_changed_plan_and_a_record_that_does_not_verify_have_the_set_up_asked(
    voicelist: Command, tmp_path: Path, url: str
) -> None:
    typed(voicelist, "practice-101", lines_of("practice-101"), "--store", url)
    plans = tmp_path / "plans"
    plans.mkdir()
    text = plan_of("practice-103").read_text(encoding="utf-8").replace("second eye of", "#")
    changed = plans / "changed.yaml"
    changed.write_text(text.replace("practice-103", "changed-1") + "changed: true\n")
    told = voicelist("run", changed, "--typed", "--voice", "none", "--store", url, typed="")
    assert "asked again: equipment was changed since" in told.out
    assert "On or off: machine?" in told.out
    engine = create_engine(url)  # the record is damaged from outside
    with engine.begin() as connection:
        done = connection.execute(
            sql("UPDATE journal SET body = replace(body, 'firm', 'form') WHERE kind = 'answered'")
        )
        assert done.rowcount
    told = typed(voicelist, "practice-103", "", "--store", url)
    assert "does not verify" in told
    assert "On or off: machine?" in told


def test_the_facts_alone_decide() -> None:
    found = {"case": "a", "at": "t", "head": "h", "passed": ["priming", "line"]}
    assert facts_of_the_day(found, changed=False) == found
    assert facts_of_the_day(found, changed=True)["passed"] == []
    assert is_left_out(["priming"], passed_today(found))
    assert not is_left_out(["priming", "tubing"], passed_today(found))
    # An older record has no such facts: there the plan alone decided.
    assert is_left_out(["priming"], passed_today({"case": "a", "at": "t", "head": "h"}))
    assert not is_left_out(["priming"], passed_today({"passed": [], "why": ""}))


def test_no_title_claims_a_place_in_the_day() -> None:
    for path in (GRAMMARS / "checklists").glob("*.yaml"):
        title = load_checklist(path).document.title
        assert " of the day" not in title, path.name
