"""What is left of a document in which something is wrong, so that the rest is looked at as well.

Each part at which a problem points is left out, alone if the document can do without it, else with
the entry of a list that it belongs to. What comes of it is for looking at, never for running.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pydantic import ValidationError

from voicelist.documents.base import Headed
from voicelist.documents.marks import Places, YamlPath
from voicelist.documents.yaml_reader import YamlDocument

DocumentT_co = TypeVar("DocumentT_co", bound=Headed, covariant=True)
DocumentT = TypeVar("DocumentT", bound=Headed)

_KEY = "[key]"  # pydantic's sign that a key, not its value, is meant
# A part may be missed only once another one is left out. More rounds than a document has levels
# help nothing.
_ROUNDS_AT_MOST = 8
# Texts for people: without them an item's phrases can be looked at all the same.
_STAND_INS: Mapping[str, str] = {
    "call": "So or not so?",
    "why": "A reason.",
    "title": "A title",
    "name": "a name",
}


@dataclass(frozen=True, slots=True)
class Left(Generic[DocumentT_co]):
    """`whole` is false where entries of a list are left out: others may refer to them."""

    document: DocumentT_co
    places: Places
    whole: bool


def what_is_left(model: type[DocumentT], yaml: YamlDocument) -> Left[DocumentT] | None:
    """The document without what is wrong in it; None where that is none."""
    left_out: set[YamlPath] = set(yaml.unusable)
    stand_ins: dict[YamlPath, str] = {}
    for _ in range(_ROUNDS_AT_MOST):
        if () in left_out:
            return None
        moved: dict[YamlPath, YamlPath] = {(): ()}
        data = _rebuilt(yaml.data, (), (), left_out, stand_ins, moved)
        try:
            document = model.model_validate(data)
        except ValidationError as error:
            before = (len(left_out), len(stand_ins))
            for path in _paths_of(error):
                _leave_out(path, moved, left_out, stand_ins)
            if (len(left_out), len(stand_ins)) == before:
                return None
        else:
            whole = not any(isinstance(path[-1], int) for path in left_out)
            return Left(document, _moved_places(yaml.places, moved), whole)
    return None


def _paths_of(error: ValidationError) -> Iterator[YamlPath]:
    for line in error.errors(include_url=False):
        path = line["loc"]
        yield path[:-1] if path[-1:] == (_KEY,) else path


def _leave_out(
    path: YamlPath,
    moved: Mapping[YamlPath, YamlPath],
    left_out: set[YamlPath],
    stand_ins: dict[YamlPath, str],
) -> None:
    """Marks the part at `path`, or what it is missing from, by where that is in the file."""
    if path in moved:
        left_out.add(moved[path])
        return
    around = moved.get(path[:-1])
    if around is None:
        return
    missing = (*around, path[-1])
    if path[-1] in _STAND_INS and missing not in stand_ins:
        stand_ins[missing] = _STAND_INS[str(path[-1])]
    else:
        left_out.add(around)


def _rebuilt(
    value: Any,
    old: YamlPath,
    new: YamlPath,
    left_out: set[YamlPath],
    stand_ins: Mapping[YamlPath, str],
    moved: dict[YamlPath, YamlPath],
) -> Any:
    """The value without what is left out; `moved` gets the old path of each new one."""
    moved[new] = old
    if isinstance(value, dict):
        kept = {key: one for key, one in value.items() if (*old, key) not in left_out}
        built = {
            key: _rebuilt(one, (*old, key), (*new, key), left_out, stand_ins, moved)
            for key, one in kept.items()
        }
        return built | {path[-1]: text for path, text in stand_ins.items() if path[:-1] == old}
    if isinstance(value, list):
        entries = [(at, one) for at, one in enumerate(value) if (*old, at) not in left_out]
        return [
            _rebuilt(one, (*old, before), (*new, after), left_out, stand_ins, moved)
            for after, (before, one) in enumerate(entries)
        ]
    return value


def _moved_places(places: Places, moved: Mapping[YamlPath, YamlPath]) -> Places:
    return Places(
        places.file,
        {new: places.values[old] for new, old in moved.items() if old in places.values},
        {new: places.keys[old] for new, old in moved.items() if old in places.keys},
    )
