"""What an attack comes to: counts, and what did not hold, with examples."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any, Self

from tests.soak.disk.recovery import Hazard

_EXAMPLES = 3


@dataclass(slots=True)
class Tally:
    """`tried` so many states or blows, `events` acknowledged events looked for in them; how they
    ended, by name; hazards by kind, with a few examples each."""

    tried: int = 0
    events: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    hazards: Counter[str] = field(default_factory=Counter)
    examples: dict[str, list[str]] = field(default_factory=dict)

    def hazard(self, found: Hazard | None, where: str) -> None:
        """Counts a hazard, if there is one; `where` says how to meet it again."""
        if found is None:
            return
        self.hazards[found.kind] += 1
        shown = self.examples.setdefault(found.kind, [])
        if len(shown) < _EXAMPLES:
            shown.append(f"{where}: {found.met}"[:300])

    def add(self, other: Tally) -> Self:
        self.tried += other.tried
        self.events += other.events
        self.outcomes += other.outcomes
        self.hazards += other.hazards
        for kind, examples in other.examples.items():
            shown = self.examples.setdefault(kind, [])
            shown += examples[: max(_EXAMPLES - len(shown), 0)]
        return self

    def figures(self) -> dict[str, Any]:
        """For a report."""
        return {
            "tried": self.tried,
            "acknowledged_events_looked_for": self.events,
            "outcomes": dict(sorted(self.outcomes.items())),
            "hazards": dict(sorted(self.hazards.items())),
        }
