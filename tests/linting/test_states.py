"""`voicelist check` on the words for states: opposites, one meaning in a list, reasons."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import lint, only, spoil, write

LIST = "checklists/small.yaml"
STOP_ITEM = "fault: irrigation line loose"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path)


@pytest.mark.parametrize(
    ("good", "bad", "found"),
    [
        ("complete", "incomplete", '"complete" and "incomplete"'),
        ("unclear", "clear", '"clear" and "unclear"'),
        ("vented", "not vented", '"vented" and "not vented"'),
    ],
)
def test_opposite_states_of_a_stop_item_differ_by_more_than_a_denial(
    folder: Path, good: str, bad: str, found: str
) -> None:
    spoil(folder, LIST, "irrigation line (firm | on and firm)", f"irrigation line {good}")
    spoil(folder, LIST, STOP_ITEM, f"fault: irrigation line {bad}")
    told = [one.found for one in lint(folder)]
    assert f"{found} for opposite states of a stop item" in told


def test_words_that_only_begin_alike_are_no_denials(folder: Path) -> None:
    spoil(folder, LIST, "irrigation line (firm | on and firm)", "irrigation line inside")
    spoil(folder, LIST, STOP_ITEM, "fault: irrigation line understood")
    assert lint(folder) == []


def test_a_word_is_not_good_here_and_bad_there(folder: Path) -> None:
    spoil(folder, LIST, "irrigation line (firm | on and firm)", "irrigation line open")
    spoil(folder, LIST, "bottle low", "bottle open")
    problem = only(folder)
    assert problem.found == '"open" is good for irrigation-line and not for bottle'
    assert problem.expected == "expected one meaning of a word in a whole list"


def test_a_stop_item_does_not_apply_without_a_reason_nowhere(folder: Path) -> None:
    spoil(folder, LIST, "stop: true", "stop: true\n        not applicable: true")
    problem = only(folder)
    assert "irrigation-line may be said not to apply without a reason" in problem.found
    assert '"does not apply"' in problem.expected


def test_a_phrase_with_the_reason_has_it_as_a_tag(folder: Path) -> None:
    phrase = "line does not apply because of the plan"
    spoil(folder, LIST, "stop: true", f"stop: true\n        does not apply: {phrase}")
    assert "a reason as a tag" in only(folder).expected
