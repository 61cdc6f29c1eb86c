"""Sections that begin when asked, and milestones, as documents: what contradicts itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelist.documents.loading import load_checklist
from voicelist.errors import DocumentError

TEXT = """\
format: 1
language: en-US
id: small
title: A checklist for tests
milestones:
  - id: first-cut
    said: first cut is made
sections:
  - id: lines
    name: the lines
    items:
      - id: bottle
        answered by: [circulating-nurse]
        call: "Full or low: the bottle?"
        done: bottle full
        why: Inflow must exceed outflow.
  - id: sign-out
    name: sign out
    begins: when asked
    after: [first-cut]
    items:
      - id: counts
        answered by: [circulating-nurse]
        call: "Complete or open: counts?"
        done: counts complete
        why: They are counted.
"""
SIGN_OUT = "    begins: when asked\n    after: [first-cut]\n"


def load(folder: Path, old: str = "", new: str = "") -> list[str]:
    """What is said of the text with one change."""
    assert old in TEXT
    path = folder / "small.yaml"
    path.write_text(TEXT.replace(old, new, 1) if old else TEXT, encoding="utf-8")
    try:
        load_checklist(path)
    except DocumentError as error:
        return [f"{one.line}: {one.found}; {one.expected}" for one in error.problems]
    return []


def test_defaults_are_those_of_older_documents(tmp_path: Path) -> None:
    assert load(tmp_path) == []
    first, last = load_checklist(tmp_path / "small.yaml").document.sections
    assert (first.begins, first.waits, first.goes_back, first.after) == (
        "at once",
        False,
        False,
        (),
    )
    assert last.waits
    milestones = load_checklist(tmp_path / "small.yaml").document.milestones
    assert [one.name for one in milestones] == ["first cut"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("    name: the lines\n", "    name: the lines\n    begins: when asked\n", "first section"),
        (SIGN_OUT, "    after: [first-cut]\n", '"after" in a section that begins at once'),
        (SIGN_OUT, "    start: now sign out\n", '"start" in a section that begins at once'),
        (SIGN_OUT, "    goes back: true\n", '"goes back" in a section that begins at once'),
        ("[first-cut]", "[lunch]", "expected a milestone's id"),
        (SIGN_OUT, "    begins: later\n", 'expected one of "at once", "when asked"'),
        (
            "        done: counts complete\n",
            "        done: counts complete\n        stop: true\n",
            "",
        ),
    ],
)
def test_what_no_case_could_get_through_is_refused(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    problems = load(tmp_path, old, new)
    assert len(problems) == (1 if said else 0)
    assert all(said in one for one in problems)


def test_a_list_that_goes_back_has_no_stop_items(tmp_path: Path) -> None:
    new = SIGN_OUT + "    goes back: true\n"
    stop = "        done: counts complete\n"
    text = TEXT.replace(SIGN_OUT, new).replace(stop, stop + "        stop: true\n")
    path = tmp_path / "small.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DocumentError) as refused:
        load_checklist(path)
    (problem,) = refused.value.problems
    assert problem.found == "a stop item in a section that may never be asked for"
