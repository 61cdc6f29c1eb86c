"""`voicelist check` on what items say of themselves for plain speech."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import bundle_in, lint, only, spoil, write
from voicelist.errors import DocumentError

LIST = "checklists/small.yaml"
STATES = "done: bottle full\n        thing: bottle | infusion bottle\n        good: full\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path)


def test_things_and_states_are_no_problem(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full\n", STATES)
    assert lint(folder) == []


@pytest.mark.parametrize("key", ["good", "bad", "deed", "thing"])
def test_a_rule_that_there_is_not_is_told_where_it_stands(folder: Path, key: str) -> None:
    phrases = {"thing": "bottle", "good": "full", key: "$no_such_rule"}
    lines = "".join(f"        {name}: {phrase}\n" for name, phrase in phrases.items())
    spoil(folder, LIST, "done: bottle full\n", f"done: bottle full\n{lines}")
    problem = only(folder)
    assert problem.found == "$no_such_rule"
    assert "$no_such_rule" in problem.line


def test_names_that_an_item_binds_are_rules_enough(folder: Path) -> None:
    deed = "        deed: filled $object\n"
    spoil(folder, LIST, "done: bottle full\n", STATES + deed)
    assert lint(folder) == []


def test_a_phrase_that_does_not_compile_is_told(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full\n", STATES.replace("good: full", "good: (full"))
    assert only(folder).at.startswith(LIST)


def test_a_call_that_answers_itself_is_told(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full\n", STATES)
    spoil(folder, LIST, '"Full or low: the bottle?"', '"The bottle is full?"')
    found = [one.found for one in lint(folder)]
    assert "a call that answers itself in plain speech" in found


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("good: full", '"good" without "thing"'),
        ("short value: full", '"short value" without "value"'),
    ],
)
def test_states_belong_to_a_thing_and_short_values_to_a_value(
    folder: Path, line: str, found: str
) -> None:
    spoil(folder, LIST, "done: bottle full\n", f"done: bottle full\n        {line}\n")
    with pytest.raises(DocumentError) as caught:
        bundle_in(folder)
    assert found in [one.found for one in caught.value.problems]
