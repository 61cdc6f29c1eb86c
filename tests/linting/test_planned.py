"""What a plan asks for and no item of its list: a slip of the pen, told before the case."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import bundle_in, lint, spoil, write
from voicelist.errors import DocumentError
from voicelist.session.case import compile_case
from voicelist.session.order import is_due
from voicelist.session.state import State

LIST, PLAN, CARD = "checklists/small.yaml", "plans/small-1.yaml", "cards/small.yaml"
# Beside the list's lens-model, whose words serve as an example.
PLANNED = """\
      - id: spare
        when: planned
        answered by: [surgeon]
        call: "Which spare: the shelf?"
        value: spare is $lens_model
        compare: planned
        planned: spare
        read from: the shelf
        why: A spare one may be needed.
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write(tmp_path)
    path = tmp_path / LIST
    path.write_text(path.read_text(encoding="utf-8") + PLANNED, encoding="utf-8")
    return tmp_path


def due(folder: Path) -> bool:
    case = compile_case(bundle_in(folder))
    return is_due(case, State(), case.section_of["spare"], case.items["spare"])


def test_an_item_is_due_where_plan_or_card_has_something_to_compare(folder: Path) -> None:
    assert not lint(folder)
    assert not due(folder)
    spoil(folder, CARD, "id: small\n", "id: small\nalso: {spare: toric alpha}\n")
    assert due(folder)
    assert not lint(folder)


def test_a_key_that_no_item_compares_is_a_problem(folder: Path) -> None:
    spoil(folder, PLAN, "card: small\n", "card: small\nalso: {spear: toric alpha}\n")
    (problem,) = lint(folder)
    assert problem.found == '"spear", which no item of the checklist small compares'
    assert problem.expected == "expected one of spare"


def test_a_phase_that_no_item_asks_for_is_a_problem(folder: Path) -> None:
    spoil(folder, PLAN, "card: small\n", "card: small\nphases: [quadrant]\n")
    (problem,) = lint(folder)
    assert problem.found == "quadrant, for which checklist or card has nothing at this grade"


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("        when: planned\n", "", "a plan without also: spare"),
        ("compare: planned\n        planned: spare", "compare: lens-model", '"when: planned"'),
        (
            "        compare: planned\n",
            "        by name: one $lens_model\n        compare: planned\n",
            '"by name" in a comparison without phases',
        ),
    ],
)
def test_what_cannot_be_planned_is_refused(folder: Path, old: str, new: str, found: str) -> None:
    spoil(folder, LIST, old, new)
    with pytest.raises(DocumentError) as raised:
        compile_case(bundle_in(folder))
    assert any(found in one.found for one in raised.value.problems)
