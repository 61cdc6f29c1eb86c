"""What `check` says of a checklist's course: sections that wait, milestones, changed equipment."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import lint, only, spoil, write

FILE = "checklists/small.yaml"
TIME_OUT = "    name: time out\n"
FIRST = "    name: the lines\n"
SIGN_OUT = """\
  - id: sign-out
    name: sign out
    begins: when asked
    items:
      - id: counts
        answered by: [circulating-nurse]
        call: "Complete or open: counts?"
        done: counts complete
        why: They are counted before leaving.
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write(tmp_path)
    path = tmp_path / FILE
    path.write_text(path.read_text(encoding="utf-8") + SIGN_OUT, encoding="utf-8")
    return tmp_path


def test_a_section_that_waits_has_its_phrase_by_its_name(folder: Path) -> None:
    assert lint(folder) == []


def test_a_list_in_which_a_change_of_equipment_opens_nothing_is_refused(folder: Path) -> None:
    spoil(folder, FILE, "        depends on: [equipment]\n", "")
    said = only(folder)
    assert said.found.startswith("nothing that a change of equipment opens")
    assert "depends on: [equipment]" in said.expected


@pytest.mark.parametrize("when", ["section", "item"])
def test_items_after_a_change_will_do(folder: Path, when: str) -> None:
    old = "        depends on: [equipment]\n"
    if when == "item":
        spoil(folder, FILE, old, "        when: after a change\n")
    else:
        spoil(folder, FILE, old, "")
        spoil(folder, FILE, FIRST, FIRST + "    when: after a change\n")
    assert lint(folder) == []


def test_a_section_announces_itself_in_three_words(folder: Path) -> None:
    spoil(folder, FILE, FIRST, "    name: the lines of the machine\n")
    assert only(folder).found == '5 words in "the lines of the machine"'


@pytest.mark.parametrize(
    ("phrase", "found"),
    [("sign out", '"sign out", 2 words in command.begin:sign-out'), ("where are we", "sentence")],
)
def test_its_own_phrase_is_held_to_the_rules_of_commands(
    folder: Path, phrase: str, found: str
) -> None:
    spoil(
        folder, FILE, "    begins: when asked\n", f"    begins: when asked\n    start: {phrase}\n"
    )
    assert any(found in one.found for one in lint(folder))


def test_two_sections_of_one_phrase_are_refused(folder: Path) -> None:
    path = folder / FILE
    other = SIGN_OUT.replace("id: sign-out", "id: debrief").replace("counts", "trays")
    path.write_text(path.read_text(encoding="utf-8") + other, encoding="utf-8")
    assert any("which command.begin:debrief also permits" in one.found for one in lint(folder))
