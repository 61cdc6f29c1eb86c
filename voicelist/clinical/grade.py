"""The declared density of the nucleus. The scale is always said, and no grade is converted: no
published table maps LOCS III, the clinical grades and the hardness grades onto each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from voicelist.clinical.sources import Source


@dataclass(frozen=True, slots=True)
class Scale:
    """`low` to `high`, both included; `step` is the finest that is said. `tolerance` is by how much
    two careful graders may differ, None where nothing is published."""

    name: str
    low: float
    high: float
    step: float
    tolerance: float | None
    source: Source


_LOCS3_LIMITS = Source(
    "published",
    "grades to 6.9 (Taiwan J Ophthalmol, a study of nuclear size); from 0.1 in public data models, "
    "not read in Chylack et al. 1993 itself",
)
# 95% tolerance 0.7 for NO and NC: Chylack et al., Arch Ophthalmol 1993;111:831-6.
LOCS3_TOLERANCE = 0.7
SCALES: Mapping[str, Scale] = MappingProxyType(
    {
        "clinical": Scale(
            "clinical", 0, 4, 0.5, None, Source("from memory", "0, trace, 1+ to 4+, by judgement")
        ),
        "hardness": Scale(
            "hardness", 1, 5, 1, None, Source("from memory", "I soft to V very hard; two scales")
        ),
        "locs3-no": Scale("locs3-no", 0.1, 6.9, 0.1, LOCS3_TOLERANCE, _LOCS3_LIMITS),
        "locs3-nc": Scale("locs3-nc", 0.1, 6.9, 0.1, LOCS3_TOLERANCE, _LOCS3_LIMITS),
    }
)
# Edges between very soft, soft, medium, firm and hard on LOCS III opalescence: project choice.
BAND_EDGES: Mapping[str, tuple[float, ...]] = MappingProxyType({"locs3-no": (1.0, 2.5, 3.5, 5.0)})
BANDS = ("very soft", "soft", "medium", "firm", "hard")


def on_scale(scale: str, value: float) -> bool:
    """Whether a grade is one of the scale. False for an unknown scale."""
    limits = SCALES.get(scale)
    return limits is not None and limits.low <= value <= limits.high


def sayable(scale: str, value: float) -> bool:
    """Whether a grade is on the scale and as coarse as it is said: LOCS III to one decimal, so 3.15
    is refused and never rounded. Source: project choice."""
    limits = SCALES.get(scale)
    if limits is None or not limits.low <= value <= limits.high:
        return False
    steps = value / limits.step
    return math.isclose(steps, round(steps), abs_tol=1e-6)


def band(scale: str, value: float) -> str | None:
    """The band of a grade, the lower edge included; None where the scale has no bands or the grade
    is not on it. Source: project choice; for display only, never to compare two scales."""
    edges = BAND_EDGES.get(scale)
    if edges is None or not on_scale(scale, value):
        return None
    return BANDS[sum(value >= edge for edge in edges)]


def near_edge(scale: str, value: float, edges: Iterable[float] | None = None) -> float | None:
    """The nearest edge that is within the scale's published tolerance of a grade, or None.

    `edges` are those of a card's bands; without them, those of `BAND_EDGES`. The tolerance is
    published for LOCS III only (Chylack et al. 1993); on other scales nothing is near. The rule to
    say so is a project choice.
    """
    limits = SCALES.get(scale)
    if limits is None or limits.tolerance is None or not on_scale(scale, value):
        return None
    known = BAND_EDGES.get(scale, ()) if edges is None else edges
    near = [edge for edge in known if abs(value - edge) <= limits.tolerance + 1e-9]
    return min(near, key=lambda edge: abs(value - edge), default=None)


def harder(scale: str, value: float, other_scale: str, other_value: float) -> bool | None:
    """Whether the first grade is the harder one; None on two scales, which are not compared."""
    return value > other_value if scale == other_scale else None
