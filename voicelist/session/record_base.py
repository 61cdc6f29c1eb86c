"""What every kind of event in a journal has in common."""

from __future__ import annotations

import dataclasses
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, get_args, get_origin, get_type_hints


@dataclass(frozen=True, slots=True)
class Record:
    """A kind of event. Fields are JSON values; tuples become lists on disk."""

    kind: ClassVar[str] = ""

    def body(self) -> dict[str, Any]:
        """The journal body."""
        return {one.name: _plain(getattr(self, one.name)) for one in dataclasses.fields(self)}


def _plain(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {one.name: _plain(getattr(value, one.name)) for one in dataclasses.fields(value)}
    return value


def fitting(kind: type[Record]) -> Mapping[str, Callable[[Any], bool]]:
    """For each field of a kind, whether a value is of its type; nothing for a field that may hold
    anything."""
    hints = get_type_hints(kind)
    names = [one.name for one in dataclasses.fields(kind)]
    return {name: _fits(hints[name]) for name in names if hints[name] is not Any}


def _fits(hint: Any) -> Callable[[Any], bool]:
    if isinstance(hint, types.UnionType):
        either = [_fits(one) for one in get_args(hint)]
        return lambda value: any(one(value) for one in either)
    if get_origin(hint) is tuple:
        of = _fits(get_args(hint)[0])
        return lambda value: isinstance(value, tuple) and all(map(of, value))
    if hint in (int, float):
        numbers = (int, float) if hint is float else int
        return lambda value: isinstance(value, numbers) and not isinstance(value, bool)
    plain = get_origin(hint) or hint
    return lambda value: isinstance(value, plain)
