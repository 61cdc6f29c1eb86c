"""A case by typed lines, its interruption and its record, as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

from tests.command import GRAMMARS, PLAN, Command, voicelist
from tests.session.talk import WHOLE_CASE

__all__ = ["voicelist"]

WHOLE = "\n".join(WHOLE_CASE) + "\n"


def run_typed(voicelist: Command, lines: str, *more: object) -> str:
    answer = voicelist("run", PLAN, "--typed", "--voice", "none", *more, typed=lines)
    assert answer.code == 0, answer.text
    return answer.out


def test_a_whole_case_typed_is_completed_and_its_record_verifies(voicelist: Command) -> None:
    assert "practice-007: completed" in run_typed(voicelist, WHOLE)
    verified = voicelist("record", "verify", "practice-007")
    assert verified.code == 0
    assert "verifies" in verified.out
    (line,) = json.loads(voicelist("record", "list", "--json").out)
    assert set(line) == {
        "case",
        "checklist",
        "source",
        "started_at",
        "state",
        "items",
        "mismatches",
        "head",
    }
    assert (line["case"], line["source"], line["state"]) == ("practice-007", "typed", "completed")


def test_every_screen_of_a_case_carries_the_caution(voicelist: Command) -> None:
    assert "not a medical device" in run_typed(voicelist, WHOLE)
    shown = voicelist("record", "show", "practice-007")
    assert "not a medical" in shown.out


def test_figures_and_roles_may_be_typed(voicelist: Command) -> None:
    lines = "\n".join(WHOLE_CASE[:13]) + (
        "\nsurgeon: clinical grade 3\nSurgeon: power 40% linear, vacuum 350, flow 32, pulses 30\n"
        "surgeon: surgeon confirms the profile\n"
    )
    told = run_typed(voicelist, lines)
    assert "Left or right: the marked eye?" in told


def test_a_case_that_was_interrupted_goes_on_where_it_ended(voicelist: Command) -> None:
    first = run_typed(voicelist, "\n".join(WHOLE_CASE[:5]) + "\n")
    assert "practice-007: stopped" in first
    rest = "\n".join(WHOLE_CASE[5:]) + "\n"
    resumed = voicelist("resume", "practice-007", "--typed", "--voice", "none", typed=rest)
    assert "resume practice-007" in first
    first_words = next(line for line in resumed.out.splitlines() if "  voicelist  " in line)
    assert first_words.endswith("Straight or twisted: the sleeve?")
    assert "practice-007: completed" in resumed.out
    assert voicelist("record", "verify", "practice-007").code == 0


def test_a_case_goes_on_with_the_documents_it_began_with(
    voicelist: Command, tmp_path: Path
) -> None:
    plan = tmp_path / "plans" / "mine.yaml"
    plan.parent.mkdir()
    text = PLAN.read_text(encoding="utf-8").replace("case: practice-007", "case: mine-7")
    plan.write_text(text, encoding="utf-8")
    lines = "\n".join(WHOLE_CASE[:16]) + "\n"
    voicelist("run", plan, "--typed", "--voice", "none", typed=lines)
    plan.write_text(text.replace("eye: left", "eye: right"), encoding="utf-8")
    resumed = voicelist("resume", "mine-7", "--typed", "--voice", "none", typed="marked eye left\n")
    assert "Sign and power: the boxed lens?" in resumed.out


def test_a_completed_case_cannot_be_run_or_resumed_again(voicelist: Command) -> None:
    run_typed(voicelist, WHOLE)
    before = voicelist("record", "list", "--json").out
    again = voicelist("run", PLAN, "--typed", "--voice", "none", typed=WHOLE)
    assert again.code == 1
    assert "practice-007-2" in again.err
    resumed = voicelist("resume", "practice-007", "--typed", typed="")
    assert resumed.code == 1
    assert "completed" in resumed.err
    assert voicelist("record", "list", "--json").out == before


def test_a_case_may_start_at_a_section(voicelist: Command) -> None:
    told = run_typed(voicelist, "", "--from", "time-out")
    shown = [line.strip() for line in told.splitlines()]
    assert "help lists it" in shown[0]
    assert shown[1:4] == [
        "— time out —",
        "voicelist  Time out.",
        "(read it from: the mark on the patient)",
    ]
    unknown = voicelist("run", PLAN, "--typed", "--from", "lunch", typed="")
    assert unknown.code == 2
    assert "time-out" in unknown.err


def test_all_exports_are_written_and_the_journal_verifies_as_a_file(
    voicelist: Command, tmp_path: Path
) -> None:
    run_typed(voicelist, WHOLE)
    for form in ("journal", "csv", "json", "html", "text"):
        target = tmp_path / f"case.{form}"
        answer = voicelist("record", "export", "practice-007", "--format", form, "-o", target)
        assert answer.code == 0
        assert target.stat().st_size > 500
    journal = tmp_path / "case.journal"
    head = json.loads(voicelist("record", "list", "--json").out)[0]["head"]
    assert voicelist("record", "verify", journal, "--head", head).code == 0
    text = journal.read_text(encoding="utf-8").replace("marked eye left", "marked eye rift")
    journal.write_text(text, encoding="utf-8")
    forged = voicelist("record", "verify", journal, "--head", head)
    assert forged.code == 1
    assert "DOES NOT VERIFY" in forged.out


def test_an_unknown_format_is_refused_in_a_sentence(voicelist: Command, tmp_path: Path) -> None:
    run_typed(voicelist, WHOLE)
    target = tmp_path / "case.scroll"
    answer = voicelist("record", "export", "practice-007", "--format", "scroll", "-o", target)
    assert answer.code == 2
    assert "html" in answer.err
    assert not target.exists()


def test_an_unknown_case_is_one_sentence(voicelist: Command) -> None:
    for arguments in (("record", "show", "nobody"), ("resume", "nobody", "--typed")):
        answer = voicelist(*arguments)
        assert answer.code == 1
        assert "no case nobody" in answer.err
        assert len(answer.err.strip().splitlines()) == 1


def test_a_plan_naming_a_missing_card_is_placed(voicelist: Command, tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    text = PLAN.read_text(encoding="utf-8").replace("card: demo-surgeon", "card: nobody")
    plan.write_text(text, encoding="utf-8")
    answer = voicelist("run", plan, "--typed", typed="")
    line = 1 + text.splitlines().index("card: nobody")
    assert answer.code == 1
    assert f"plan.yaml:{line}:" in answer.err
    assert "demo-surgeon" in answer.err
    assert voicelist("record", "list", "--json").out.strip() == "[]"


def test_options_that_exclude_each_other_are_a_usage_error(voicelist: Command) -> None:
    answer = voicelist("run", PLAN, "--typed", "--audio", "room.flac")
    assert answer.code == 2
    assert "Choose one" in answer.err


def test_shipped_documents_pass_the_check(voicelist: Command) -> None:
    """Some of them; all are looked at in tests/session/test_shipped_phrases.py."""
    answer = voicelist("check", PLAN, GRAMMARS / "cards")
    *notes, last = answer.out.strip().splitlines()
    assert last == f"No problems. {len(notes)} note(s)."
    assert notes
    assert all(": note: found" in note for note in notes)
    assert answer.code == 0


def test_a_note_passes_the_check_and_a_problem_does_not(voicelist: Command, tmp_path: Path) -> None:
    checklist = tmp_path / "checklists" / "phaco.yaml"
    checklist.parent.mkdir()
    text = (GRAMMARS / "checklists" / "phaco.yaml").read_text(encoding="utf-8")
    assert "fault: sleeve (twisted | torn)" in text
    changed = text.replace("fault: sleeve (twisted | torn)", "fault: sleeve (twisted | street)")
    checklist.write_text(changed, encoding="utf-8")
    answer = voicelist("check", checklist)
    assert answer.code == 1
    *told, last = answer.out.strip().splitlines()
    assert last == f"1 problem(s). {len(told) - 1} note(s)."
    assert len(told) > 1
    assert '"sleeve street", which sounds much like "sleeve straight"' in answer.out
