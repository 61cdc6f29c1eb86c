"""Where each part of a document is written: a path of keys and indices -> file, line, column.

No pydantic and no YAML here, so that any module may import it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from voicelist.errors import Problem

YamlPath = tuple[str | int, ...]
Mark = tuple[int, int]
"""Line and column, both counting from 1."""

START: Mark = (1, 1)


@dataclass(frozen=True, slots=True)
class Place:
    """One place in a file. Lines and columns count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"

    def problem(self, found: str, expected: str) -> Problem:
        return Problem(self.file, self.line, self.column, found, expected)


@dataclass(frozen=True, slots=True)
class Places:
    """The marks of one document. Paths use the keys as the file spells them.

    `values` has where each value starts (inside its quotes, if quoted), `keys` where each key does.
    """

    file: str
    values: Mapping[YamlPath, Mark] = field(default_factory=dict)
    keys: Mapping[YamlPath, Mark] = field(default_factory=dict)

    def of(self, path: YamlPath) -> Place:
        """Where the value at `path` starts; where it is not written, the nearest part around it."""
        while path and path not in self.values:
            path = path[:-1]
        return Place(self.file, *self.values.get(path, START))

    def of_key(self, path: YamlPath) -> Place:
        """Where the last key of `path` is written; where it is not, as `of`."""
        mark = self.keys.get(path)
        return self.of(path) if mark is None else Place(self.file, *mark)


@dataclass(frozen=True, slots=True)
class JoinedPlaces(Places):
    """The marks of a document that is joined from several files: `parts` has the paths whose values
    stand in another one, with its marks and the path there."""

    parts: Mapping[YamlPath, tuple[Places, YamlPath]] = field(default_factory=dict)

    def of(self, path: YamlPath) -> Place:
        for end in range(len(path), 0, -1):
            if path[:end] in self.parts:
                places, start = self.parts[path[:end]]
                return places.of((*start, *path[end:]))
        return Places.of(self, path)


def spelled(path: YamlPath) -> str:
    """A path for people: `sections[0].items[2].done`."""
    parts = (f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
    return "".join(parts).removeprefix(".")
