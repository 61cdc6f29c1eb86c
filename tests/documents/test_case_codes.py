"""Case codes that look like something that names a patient."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from tests.command import GRAMMARS, PLAN, Command, voicelist
from tests.linting.lint_documents import bundle_in, knows, lint, spoil, write
from voicelist.documents.case_codes import looks_identifying
from voicelist.linting.check import lint_case

__all__ = ["voicelist"]

TODAY = date(2031, 3, 4)


@pytest.mark.parametrize(
    ("code", "likeness"),
    [
        ("practice-007", ""),
        ("OR2-0417", ""),
        ("left eye 3", ""),
        ("case-1234567", ""),
        ("2031-03-04-02", ""),
        ("20310304-2", ""),
        ("040331-2", ""),
        ("1948-02-11", "a date of birth"),
        ("eye-11.02.1948", "a date of birth"),
        ("2/11/1948", "a date of birth"),
        ("11-02-48", "a date of birth"),
        ("110248", "a date of birth"),
        ("19480211-L", "a date of birth"),
        ("2019-12-30", "a date of birth"),
        ("12345678", "a person's number"),
        ("943 476 5919", "a person's number"),
        ("123-45-6789", "a person's number"),
        ("20310304-12345678", "a person's number"),
        ("anna musterfrau", "a name"),
        ("Musterfrau, Anna", "a name"),
        ("Musterfrau-Anna-007", "a name"),
        ("musterfrau-anna", "a name"),
        ("first-case-02", ""),
        ("list-b-3", ""),
        ("OP-LEFT-12", ""),
        ("musterfrau_anna 3", "a name"),
        ("Müller Ögmundur", "a name"),
    ],
)
def test_what_a_code_looks_like(code: str, likeness: str) -> None:
    assert looks_identifying(code, TODAY) == likeness


def test_check_notes_such_a_code_and_it_stays_a_note(tmp_path: Path) -> None:
    write(tmp_path)
    assert not lint(tmp_path)
    spoil(tmp_path, "plans/small-1.yaml", "case: small-1", "case: 11-02-1948")
    (problem,) = (one for one in lint_case(bundle_in(tmp_path), knows) if "case code" in one.found)
    assert problem.note
    assert problem.found == "a case code that looks like a date of birth"
    assert problem.file.endswith("small-1.yaml")


def test_a_case_with_such_a_code_begins_with_a_notice(voicelist: Command, tmp_path: Path) -> None:
    documents = tmp_path / "documents"
    shutil.copytree(GRAMMARS, documents)
    plan = documents / "plans" / "practice-007.yaml"
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace("case: practice-007", "case: Musterfrau-Anna-007"), "utf-8")
    run = ("run", plan, "--typed", "--voice", "none")
    told = voicelist(*run).out.replace("\n", " ")
    assert "The case code looks like a name." in " ".join(told.split())
    assert "looks like" not in voicelist("run", PLAN, *run[2:]).out
