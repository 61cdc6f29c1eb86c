"""What an answer makes due has to be there, later in the list, and waiting for that."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.documents.wording import quoted
from voicelist.errors import Problem
from voicelist.linting.material import Compiled
from voicelist.session.consequences import KIND_OF

MADE_DUE = "made due"


def lint_consequences(compiled: Compiled) -> Iterator[Problem]:
    """Names that resolve, keys that an answer can have, items that something makes due."""
    material, places = compiled.material, compiled.material.places["checklist"]
    order = [item.id for _, item in material.items()]
    waits = {
        item.id
        for section in material.checklist.sections
        for item in section.items
        if (item.when or section.when) == MADE_DUE
    }
    named: set[str] = set()
    for path, item in material.items():
        place = places.of((*path, "makes due"))
        keys = set(_keys(compiled, item.id))
        for key, items in item.makes_due.items():
            if key not in keys:
                expected = f"expected one of {', '.join(sorted(keys))}"
                yield place.problem(f"{quoted(key)}, which no answer of {item.id} is", expected)
            for one in items:
                named.add(one)
                if one not in order:
                    yield place.problem(f"no item {one}", "expected the id of a later item")
                elif order.index(one) <= order.index(item.id):
                    found = f"{one}, which comes before {item.id}"
                    yield place.problem(found, "expected a later item: it is asked there")
                elif one not in waits:
                    found = f"{one}, which is asked without that"
                    yield place.problem(found, f"expected when: {MADE_DUE} at {one}")
    for path, item in material.items():
        if item.id in waits - named:
            found = f"{item.id}, which no answer makes due"
            yield places.of(path).problem(found, 'expected it in "makes due" of an earlier item')


def _keys(compiled: Compiled, item_id: str) -> Iterator[str]:
    for kind in KIND_OF.values():
        part = compiled.parts.get(f"{item_id}.{kind.replace(' ', '_')}")
        if part is not None:
            yield kind
            for text in part.examples(f"{item_id}.{kind.replace(' ', '_')}"):
                for match in part.parses(text.split()):
                    yield from (tag for one in match.walk() for tag in one.tags)
