"""The open plan belongs to the patient who is here: the number of the case is read from the list or
the wristband, before anything else of sign in, and compared."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import GRAMMARS, Command, voicelist
from tests.session.test_team_items import at
from tests.team.room import Room
from tests.test_cli_conversation import exported, lines_of, typed
from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.documents.loading import load_checklist
from voicelist.errors import DocumentError
from voicelist.linting.check import lint_case
from voicelist.session.case import compile_case
from voicelist.session.records import Accepted, ReadBack
from voicelist.session.state import replay

__all__ = ["voicelist"]

TURNOVER = "practice-102"
ASKED = "Which case number?"
AGAIN = "Please read the case number again."
ELSEWHERE = "101 is the plan practice-101. The order of the list may have changed"


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """A folder of two plans, to be spoiled."""
    (tmp_path / "plans").mkdir()
    for plan in ("practice-101", TURNOVER):
        text = (GRAMMARS / "plans" / f"{plan}.yaml").read_text(encoding="utf-8")
        (tmp_path / "plans" / f"{plan}.yaml").write_text(text, encoding="utf-8")
    return tmp_path / "plans"


def rewritten(plan: Path, old: str, new: str) -> Path:
    text = plan.read_text(encoding="utf-8")
    assert old in text
    plan.write_text(text.replace(old, new), encoding="utf-8")
    return plan


@pytest.mark.parametrize("name", ["phaco", "phaco-full", "phaco-turnover", "injection"])
def test_it_is_asked_first_in_sign_in_and_cannot_be_passed_over(name: str) -> None:
    checklist = load_checklist(GRAMMARS / "checklists" / f"{name}.yaml").document
    (sign_in,) = (one for one in checklist.sections if one.id == "sign-in")
    first = sign_in.items[0]
    assert (first.id, first.compare, first.stop) == ("case-number", "case-number", True)
    assert first.read_from == "the list or the wristband"
    assert sign_in.order == "fixed"


@pytest.mark.parametrize(
    "said",
    [
        "one zero two",
        "one oh two",
        "one hundred and two",
        "one hundred two",
        "a hundred and two",
        "zero one zero two",
        "double zero one zero two",
        "is one zero two",
    ],
)
def test_the_planned_number_passes_in_every_reading(said: str) -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    assert room.says(f"case number {said}") == ["Clear or not: identity, consent, mark?"]
    assert room.state.item("case-number").values == {"case_number": 102}


@pytest.mark.parametrize("typed_as", ["102", "0102", "1 0 2"])
def test_it_may_be_typed_in_figures(typed_as: str) -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    room.says(f"case number {typed_as}")
    assert room.status("case-number") == "value"


@pytest.mark.parametrize(
    "said", ["one zero two", "case one zero two", "case number", "not case number one zero two"]
)
def test_less_or_other_than_the_sentence_passes_nothing(said: str) -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    room.says(said)
    assert room.status("case-number") == "called"


def test_nothing_before_the_answer_gives_the_number_away() -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    told = [text for _, text in room.said] + [one.text for one in room.shown]
    assert ASKED in told
    assert not [one for one in told if "102" in one]


def test_the_display_of_a_case_that_begins_does_not_name_its_code(voicelist: Command) -> None:
    told = typed(voicelist, TURNOVER, "set up of today taken\n")
    before_the_end = told.partition("\nCase practice-102")[0]
    assert "Cataract surgery by phacoemulsification, turnover." in before_the_end
    assert "102" not in before_the_end


def test_another_number_is_spoken_as_a_request_alone_and_the_display_names_its_plan() -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    assert room.says("case number one oh one") == [AGAIN]
    (told,) = [one.text for one in room.shown if one.kind == "read-back"]
    assert told.startswith("I heard 101. The plan differs.")
    assert ELSEWHERE in told
    assert "102" not in told
    assert room.status("case-number") == "called"


def test_a_number_of_no_plan_names_none() -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    assert room.says("case number five hundred") == [AGAIN]
    (told,) = [one.text for one in room.shown if one.kind == "read-back"]
    assert told == "I heard 500. The plan differs. Please check again."


def test_the_same_number_twice_an_acceptance_or_a_yes_does_not_pass_it() -> None:
    room = at("sign-in", item="case-number", plan=TURNOVER)
    for line in (
        "case number one oh one",
        "case number one oh one",
        "surgeon accepts the grade because of my preference",
        "yes that is correct",
        "come back to this later",
        "this does not apply",
    ):
        room.says(line)
        assert room.state.current == "case-number"
    assert room.status("case-number") == "called"
    assert not [one for one in room.records if isinstance(one, Accepted)]
    backs = [one for one in room.records if isinstance(one, ReadBack)]
    assert [one.values for one in backs] == [{"case_number": 101}] * 2
    assert {one.findings[0]["severity"] for one in backs} == {"stop"}
    assert replay(room.records) == room.state


def test_a_number_with_a_sound_alike_is_read_back_even_when_it_fits(day: Path) -> None:
    plan = rewritten(day / f"{TURNOVER}.yaml", "case: practice-102", "case: practice-113")
    bundle = load_bundle(plan)
    assert bundle.plan.number == 113
    room = Room(compile_case(bundle, "sign-in"))
    assert room.says("case number one thirteen") == ["Was that 113?"]
    assert room.status("case-number") == "called"
    room.says("yes that is correct")
    assert room.status("case-number") == "value"


def test_a_changed_order_is_in_the_record_and_the_report(
    voicelist: Command, tmp_path: Path
) -> None:
    before = lines_of(TURNOVER).partition("case number")[0]
    typed(voicelist, TURNOVER, before + "case number one oh one\n" * 2)
    told = "heard 101, expected 102: not settled; read back 2 times; it is the plan practice-101"
    shown = " ".join(voicelist("record", "show", TURNOVER).out.split())
    assert told in shown
    assert told in exported(voicelist, TURNOVER, "csv", tmp_path)
    page = exported(voicelist, TURNOVER, "html", tmp_path)
    assert told in page


def test_the_record_keeps_the_other_plans_numbers_for_whoever_goes_on(voicelist: Command) -> None:
    before = lines_of(TURNOVER).partition("case number")[0]
    typed(voicelist, TURNOVER, before)
    resumed = voicelist("resume", TURNOVER, "--typed", typed="case number one oh one\n")
    assert ELSEWHERE in resumed.out
    assert AGAIN in resumed.out


def test_the_other_numbers_come_back_from_json_and_older_documents_have_none(day: Path) -> None:
    bundle = load_bundle(day / f"{TURNOVER}.yaml")
    assert bundle.others == {"practice-101": 101}
    data = bundle.to_json()
    assert Bundle.from_json(data) == bundle
    del data["others"]
    assert Bundle.from_json(data).others == {}
    data["others"] = {"practice-101": "101"}
    with pytest.raises(DocumentError, match="unreadable others"):
        Bundle.from_json(data)


def test_a_plan_beside_it_that_cannot_be_read_keeps_no_case_from_its_plan(day: Path) -> None:
    (day / "practice-101.yaml").write_text("case: [", encoding="utf-8")
    assert load_bundle(day / f"{TURNOVER}.yaml").others == {}


def test_a_plan_without_a_number_is_refused_and_may_carry_one(day: Path) -> None:
    plan = rewritten(day / f"{TURNOVER}.yaml", "case: practice-102", "case: morning-b")
    with pytest.raises(DocumentError, match="nothing binds the plan to the patient"):
        compile_case(load_bundle(plan))
    rewritten(plan, "case: morning-b", "case: morning-b\ncase number: 12")
    assert compile_case(load_bundle(plan)).bundle.plan.number == 12


@pytest.mark.parametrize(
    ("code", "number"), [("practice-104", 104), ("2026-11-27-03", 3), ("b007", 7), ("x-0", 0)]
)
def test_the_number_is_the_digits_that_end_the_code(day: Path, code: str, number: int) -> None:
    plan = rewritten(day / f"{TURNOVER}.yaml", "case: practice-102", f"case: {code}")
    assert load_bundle(plan).plan.number == number


def test_two_plans_of_one_folder_with_one_number_are_told(day: Path) -> None:
    plan = rewritten(day / f"{TURNOVER}.yaml", "case: practice-102", "case: other-101")
    (told,) = [one for one in lint_case(load_bundle(plan), None) if "case number" in one.found]
    assert told.found == "the case number 101, which practice-101 has too"


def test_a_number_of_more_digits_than_can_be_said_is_told(day: Path) -> None:
    plan = rewritten(day / f"{TURNOVER}.yaml", "case: practice-102", "case: a-123456789")
    (told,) = [one for one in lint_case(load_bundle(plan), None) if "case number" in one.found]
    assert "at most 8 digits" in told.expected
