"""Walking data that nobody has checked yet: lists of keyed entries, and what repeats in them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TypeGuard

from voicelist.documents.faults import Fault
from voicelist.documents.marks import YamlPath
from voicelist.documents.wording import described, number, quoted

Entry = tuple[YamlPath, Mapping[str, Any]]


def entries(raw: Mapping[str, Any], key: str, path: YamlPath = ()) -> Iterator[Entry]:
    """The mappings in the list `raw[key]` with their paths; `path` is where `raw` itself is."""
    listed = raw.get(key)
    if isinstance(listed, list | tuple):
        for index, entry in enumerate(listed):
            if isinstance(entry, dict):
                yield (*path, key, index), entry


def repeated(among: Iterable[Entry], key: str, expected: str) -> Iterator[Fault]:
    """A fault for each text under `key` that an earlier entry has; capitals make no difference."""
    first: dict[str, YamlPath] = {}
    for path, entry in among:
        text = entry.get(key)
        if not isinstance(text, str):
            continue
        earlier = first.setdefault(" ".join(text.casefold().split()), path)
        if earlier != path:
            found = f"the {key} {quoted(text)} a second time"
            yield Fault((*path, key), found, f"expected {expected}", first=(*earlier, key))


def is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool)


def outside(value: object, low: float, high: float, key: str, what: str) -> Iterator[Fault]:
    """A fault if `value` is a number, but not from `low` to `high`."""
    if is_number(value) and not low <= value <= high:
        expected = f"expected {what}: {number(low)} to {number(high)}"
        yield Fault((key,), described(value), expected)
