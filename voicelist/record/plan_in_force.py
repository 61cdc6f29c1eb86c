"""The plan that holds at the end of a record: as declared, with what the team changed in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voicelist.record.team import PlanChange
from voicelist.record.words import value_words

_SHOWN = ("eye", "lens", "grade", "incision")
_OF_LENS = {
    "lens-model": "model",
    "lens-power": "power_D",
    "axis": "axis_deg",
    "target": "target_D",
    "cylinder": "cylinder_D",
}


@dataclass(frozen=True, slots=True)
class PlanPart:
    """A part of the plan. `value` is None where none holds any more, `replaced` what stood there
    before, the oldest first; `changed_at` is the time of the last change, "" without one."""

    name: str
    value: Any
    replaced: tuple[Any, ...] = ()
    changed_at: str = ""

    @property
    def words(self) -> str:
        """The part in one line, with what it replaced."""
        now = value_words(self.name, self.value) or "none that holds"
        before = ", before that ".join(
            value_words(self.name, one) or "nothing planned" for one in reversed(self.replaced)
        )
        return f"{now}; changed at {self.changed_at}, in place of {before}" if before else now


def plan_in_force(plan: Mapping[str, Any], changes: Sequence[PlanChange]) -> tuple[PlanPart, ...]:
    """The parts of the embedded `plan` after all `changes`. An incision that was planned for the
    other eye holds no longer."""
    parts = {name: PlanPart(name, plan[name]) for name in _SHOWN if plan.get(name) is not None}
    for change in changes:
        for name, value in _changed(parts, change):
            old = parts.get(name, PlanPart(name, None))
            if value != old.value:
                parts[name] = PlanPart(name, value, (*old.replaced, old.value), change.at.shown)
    return tuple(sorted(parts.values(), key=lambda one: (*_SHOWN, one.name).index(one.name)))


def _changed(parts: Mapping[str, PlanPart], change: PlanChange) -> Iterator[tuple[str, Any]]:
    if change.field in _OF_LENS:
        lens = parts["lens"].value if "lens" in parts else {}
        yield "lens", {**lens, _OF_LENS[change.field]: change.new}
        return
    if change.field == "eye" and "incision" in parts and change.new != change.old:
        yield "incision", None
    yield change.field, change.new
