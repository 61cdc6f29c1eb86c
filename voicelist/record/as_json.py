"""A case as one JSON object: the view of the case as it is, and what every page says above it.

A part that reads in one line has that line beside its fields, as `words`. The schema of it is
`record.schema.json`, made of the same types by `record/schema.py`.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping, Sequence
from typing import Any

from voicelist.record.about import about
from voicelist.record.attention import Point, first_to_be_read
from voicelist.record.journal import Entry
from voicelist.record.view import CaseView, case_view
from voicelist.record.words import CAUTION

FORMAT = 1


@dataclasses.dataclass(frozen=True, slots=True)
class Fact:
    """One line of the head of a record."""

    name: str
    text: str


@dataclasses.dataclass(frozen=True, slots=True)
class Above:
    """What stands above the view of the case. `items` counts those that were answered, `items_due`
    those that applied or were answered all the same."""

    format: int
    caution: str
    verifies: bool
    about: tuple[Fact, ...]
    first_to_be_read: tuple[Point, ...]
    items: int
    items_due: int


def as_json(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """The view of the case as one JSON object."""
    view = case_view(entries, amiss)
    document = {**_told(_above(view)), **_told(view)}
    text = json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)
    return f"{text}\n".encode()


def _above(view: CaseView) -> Above:
    return Above(
        FORMAT,
        CAUTION,
        not view.problems,
        tuple(Fact(name, text) for name, text in about(view)),
        first_to_be_read(view),
        view.answered,
        view.due,
    )


def reads_in_one_line(kind: type) -> bool:
    """Whether a part of the view puts itself in words, beside its fields."""
    return isinstance(getattr(kind, "words", None), property)


def _told(value: Any) -> Any:
    """Fields by their names, all the way down."""
    if isinstance(value, Mapping):
        return {name: _told(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_told(one) for one in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _fields_of(value)
    return value


def _fields_of(part: Any) -> dict[str, Any]:
    told = {one.name: _told(getattr(part, one.name)) for one in dataclasses.fields(part)}
    if reads_in_one_line(type(part)):
        told["words"] = part.words
    return told
