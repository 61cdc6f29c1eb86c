"""Of a word with two spellings documents use the one that the lexicon lists."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import Said, lint, spoil, write

LIST, RULES, SENTENCES = "checklists/small.yaml", "rules/commands.abnf", "sentences.en.yaml"
WORDS = (("anaesthesia", "anesthesia"), ("labeled", "labelled"), ("centimeters", "centimetres"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Good documents, whose lexicon knows words with two spellings."""
    write(tmp_path)
    lexicon = tmp_path / "lexicon.yaml"
    entries = "".join(f"  - written: {one}\n    also: [{other}]\n" for one, other in WORDS)
    lexicon.write_text(lexicon.read_text(encoding="utf-8") + entries, encoding="utf-8")
    return tmp_path


def told(folder: Path) -> list[Said]:
    return [one for one in lint(folder) if one.found.startswith("the spelling")]


def test_documents_with_the_listed_spelling_have_no_problem(folder: Path) -> None:
    spoil(folder, LIST, "Inflow must exceed outflow.", "The bottle is labeled in centimeters.")
    assert told(folder) == []


@pytest.mark.parametrize(("listed", "other"), WORDS)
@pytest.mark.parametrize(
    ("old", "new", "at"),
    [
        ("Inflow must exceed outflow.", "It is {} there.", "It is"),
        ("done: bottle full", "done: bottle full [and {}]", "bottle full"),
        ("id: bottle", "id: bottle\n        name: the {} bottle", "the"),
    ],
)
def test_another_spelling_is_a_problem_where_it_stands(
    folder: Path, listed: str, other: str, old: str, new: str, at: str
) -> None:
    spoil(folder, LIST, old, new.format(other))
    (said,) = told(folder)
    assert said.at == LIST
    assert said.line.startswith(at)
    assert said.found == f'the spelling "{other}"'
    assert said.expected.startswith(f'expected "{listed}", as the lexicon has it')


def test_capitals_make_no_difference(folder: Path) -> None:
    spoil(folder, LIST, "Inflow must exceed outflow.", "Labelled bottles.")
    assert [one.found for one in told(folder)] == ['the spelling "labelled"']


def test_it_is_told_of_rules_and_of_sentences_too(folder: Path) -> None:
    rules = folder / RULES
    more = "public $more = the anesthesia machine;\n"
    rules.write_text(rules.read_text(encoding="utf-8") + more, encoding="utf-8")
    sentences = folder / SENTENCES
    text = sentences.read_text(encoding="utf-8")
    sentences.write_text(text.replace("on-hold:", "on-hold: Anesthesia waits. #"), encoding="utf-8")
    assert {(one.at, one.found) for one in told(folder)} == {
        (RULES, 'the spelling "anesthesia"'),
        (SENTENCES, 'the spelling "anesthesia"'),
    }
