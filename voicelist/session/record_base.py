"""What every kind of event in a journal has in common."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar


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
