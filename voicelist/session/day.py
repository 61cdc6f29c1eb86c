"""The set-up of the day: what a later case may leave out, decided from facts handed in."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

OF_THE_DAY = "first case of the day"
# In the facts that the `opened` event keeps: the stop items that an earlier record of today passed.
PASSED = "passed"
# Why nothing is left out; shown and kept as it stands.
CHANGED = "equipment was changed since"


def facts_of_the_day(found: Mapping[str, Any], *, changed: bool) -> dict[str, Any]:
    """What the `opened` event keeps of the look-back. `found` is what the records say; `changed`,
    that the plan tells of changed equipment, by which nothing of it holds."""
    if changed and found.get(PASSED):
        return {**found, PASSED: [], "why": CHANGED}
    return dict(found)


def passed_today(set_up: Mapping[str, Any] | None) -> frozenset[str] | None:
    """The stop items that need not be asked again today; None for a record of an earlier version,
    in which the plan alone decided."""
    if set_up is None or PASSED not in set_up:
        return None
    return frozenset(set_up[PASSED])


def is_left_out(stop_items: Collection[str], passed: Collection[str] | None) -> bool:
    """Whether a later case leaves out what a section holds for the first case of the day.
    `stop_items` are those of them that are stop items; a record must have passed each."""
    return passed is None or set(stop_items) <= set(passed)
