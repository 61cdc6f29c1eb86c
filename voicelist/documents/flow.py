"""How a case goes on after its first sections: milestones, and sections that begin when asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import Field

from voicelist.documents.base import Phrase, Slug, StrictModel, Text
from voicelist.documents.faults import Fault
from voicelist.documents.raw_parts import entries, repeated
from voicelist.documents.wording import described, quoted

WHEN_ASKED = "when asked"
_ONLY_WHEN_ASKED = ("start", "goes back", "after")
_BEGINS_SO = 'expected "begins: when asked" beside it'


class Milestone(StrictModel):
    """A step of the operation that the team tells and whose time is kept, such as the incision."""

    id: Slug = Field(description="lower-case letters, digits and dashes")
    name: Text = Field(
        default="", description="the short spoken name; without it, the id with spaces for dashes"
    )
    said: Phrase = Field(description="a phrase that says it is so now")

    @classmethod
    def filled(cls, raw: dict[str, Any]) -> dict[str, Any]:
        if "name" in raw or not isinstance(raw.get("id"), str):
            return raw
        return {**raw, "name": raw["id"].replace("-", " ")}


def section_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """What contradicts itself in one section."""
    if raw.get("begins") != WHEN_ASKED:
        for key in _ONLY_WHEN_ASKED:
            if raw.get(key):
                found = f"{quoted(key)} in a section that begins at once"
                yield Fault((key,), found, _BEGINS_SO, at_key=True)
        return
    if raw.get("goes back") is True:
        for path, item in entries(raw, "items"):
            if item.get("stop") is True:
                found = "a stop item in a section that may never be asked for"
                expected = "expected no stop items in a section that goes back: take it out"
                yield Fault((*path, "stop"), found, expected, at_key=True)


def flow_faults(raw: Mapping[str, Any]) -> Iterator[Fault]:
    """What no case could get through, among the sections of a checklist."""
    sections = list(entries(raw, "sections"))
    milestones = list(entries(raw, "milestones"))
    yield from repeated(milestones, "id", "another id: each milestone needs its own")
    known = [one.get("id") for _, one in milestones]
    if sections and sections[0][1].get("begins") == WHEN_ASKED:
        expected = "expected a first section that begins at once: nothing comes before it"
        yield Fault((*sections[0][0], "begins"), "a first section that waits", expected)
    for path, section in sections:
        after = section.get("after")
        for index, name in enumerate(after if isinstance(after, list | tuple) else ()):
            if name not in known:
                yield Fault((*path, "after", index), described(name), "expected a milestone's id")
