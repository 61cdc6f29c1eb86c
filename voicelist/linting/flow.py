"""What must hold of a checklist's course: what a change of equipment opens, and how sections are
announced."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.linting.material import Compiled

# A section announces itself in two or three words.
SECTION_WORDS_AT_MOST = 3
_CHANGED = "equipment_changed"


def lint_flow(compiled: Compiled) -> Iterator[Problem]:
    """Of one checklist, with the commands that it takes."""
    material = compiled.material
    place_of = material.places["checklist"].of
    sections = material.checklist.sections
    for s, section in enumerate(sections):
        count = len(section.name.split())
        if count > SECTION_WORDS_AT_MOST:
            found = f"{count} words in {quoted(section.name)}"
            expected = f"expected at most {SECTION_WORDS_AT_MOST}: a section announces itself"
            yield place_of(("sections", s, "name")).problem(found, expected)
    follows = (
        item.follows_equipment or (item.when or section.when) == "after a change"
        for section, item in material.checklist.all_items()
    )
    if compiled.rules.find(_CHANGED, None) is not None and not any(follows):
        found = "nothing that a change of equipment opens, though it may be told at any time"
        expected = 'expected an item with "depends on: [equipment]" or "when: after a change"'
        yield place_of(("sections",)).problem(found, expected)
