"""`voicelist check` refuses phrases that a session would refuse as it begins to listen."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import bundle_in, lint, spoil, write
from voicelist.errors import DocumentError
from voicelist.session.case import compile_case, is_harmless
from voicelist.understanding.phrase_lists import hearing_grammar

LIST = "checklists/small.yaml"


def words(count: int) -> str:
    letters = "abcdefghij"
    return " ".join("w" + "".join(letters[int(one)] for one in str(n)) for n in range(count))


def test_an_answer_with_too_many_denials_is_told_where_it_stands(tmp_path: Path) -> None:
    folder = write(tmp_path)
    spoil(folder, LIST, "done: bottle full", f"done: bottle full {words(900)}")
    case = compile_case(bundle_in(folder))
    with pytest.raises(DocumentError):
        hearing_grammar(case.grammar, case.room, None, case.grammar.names, is_harmless)
    told = [one for one in lint(folder) if "too large together" in one.found]
    assert len(told) == 1
    assert "words of answers, denials and doubts" in told[0].found
    assert "bottle full" in told[0].line


def test_long_answers_within_the_budget_are_not_refused(tmp_path: Path) -> None:
    folder = write(tmp_path)
    spoil(folder, LIST, "done: bottle full", f"done: bottle full {words(20)}")
    assert not [one for one in lint(folder) if "too large together" in one.found]
