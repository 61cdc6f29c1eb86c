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
    assert any(one.endswith("which answers bottle in plain speech") for one in found)


LINE = "        stop: true\n        why: A loose line"
LINE_STATES = "        thing: irrigation line\n        good: firm\n        bad: loose\n"


def with_states(folder: Path, line: str = LINE_STATES, bottle: str = STATES) -> None:
    """Both items say what they are about."""
    spoil(folder, LIST, LINE, line + LINE)
    spoil(folder, LIST, "done: bottle full\n", bottle)


def test_a_reason_that_answers_its_item_is_told(folder: Path) -> None:
    with_states(folder)
    assert lint(folder) == []
    spoil(folder, LIST, "Inflow must exceed outflow.", "The infusion bottle is full.")
    problem = only(folder)
    assert problem.at == LIST
    assert problem.found == '"The infusion bottle is full.", which answers bottle in plain speech'


def test_a_reason_that_answers_another_item_of_the_section_is_told(folder: Path) -> None:
    with_states(folder)
    spoil(folder, LIST, "Inflow must exceed outflow.", "The irrigation line is firm.")
    found = [one.found for one in lint(folder)]
    assert '"The irrigation line is firm.", which answers irrigation-line in plain speech' in found


def test_a_state_that_is_good_and_bad_is_told(folder: Path) -> None:
    with_states(folder, bottle=STATES + "        bad: low | full\n")
    found = [one.found for one in lint(folder)]
    assert '"full" among the good and the bad states' in found


def test_a_state_that_is_another_items_thing_is_told(folder: Path) -> None:
    with_states(folder, bottle=STATES.replace("good: full", "good: full | irrigation line"))
    assert only(folder).found == '"irrigation line", which is the thing of irrigation-line'


@pytest.mark.parametrize(("order", "count"), [("any", 1), ("fixed", 0)])
def test_one_sentence_good_here_and_bad_there_is_told_in_any_order(
    folder: Path, order: str, count: int
) -> None:
    bottle = "done: bottle full\n        thing: bottle | irrigation line\n        good: loose\n"
    with_states(folder, bottle=bottle)
    spoil(folder, LIST, "order: fixed", f"order: {order}")
    found = [one.found for one in lint(folder)]
    told = [one for one in found if "bad for irrigation-line" in one]
    assert told == ['"irrigation line loose", which is bad for irrigation-line'] * count


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
