"""The lens as its sources say it: eye, model, signed power, toric axis, target refraction.

A lens is not safe because it was spoken: what fails is the document, the match to the patient, the
side and the sign (Simon 2007; Kelly and Jalil 2011; Steeples et al. 2016). So each source is said
by itself, and they are compared here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from types import MappingProxyType

from voicelist.clinical.incision import axis_difference_deg

LOWEST_POWER_D = -20.0  # from memory
HIGHEST_POWER_D = 60.0  # from memory
POWER_STEP_D = 0.25  # from memory
TARGET_LIMITS_D = (-6.0, 2.0)  # project choice: beyond, ask whether that was the target

SOURCES = ("plan", "printout", "box", "mark")
# What each source can show: derived from what it is. The mark shows the side, and a toric axis.
SHOWN_BY: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "plan": ("eye", "model", "power_D", "axis_deg", "cylinder_D", "target_D"),
        "printout": ("eye", "model", "power_D", "axis_deg", "cylinder_D", "target_D"),
        "box": ("model", "power_D", "cylinder_D"),
        "mark": ("eye", "axis_deg"),
    }
)
FIELDS = ("eye", "model", "power_D", "axis_deg", "cylinder_D", "target_D")


@dataclass(frozen=True, slots=True)
class LensSaid:
    """What one source says; None is what was not read from it. Dioptres are signed."""

    eye: str | None = None
    model: str | None = None
    power_D: float | None = None
    axis_deg: float | None = None
    target_D: float | None = None
    cylinder_D: float | None = None


@dataclass(frozen=True, slots=True)
class Difference:
    """A field in which sources differ: `values` by source, `between` the first two that do."""

    field: str
    values: Mapping[str, float | str]
    between: tuple[str, str]


def in_steps(dioptres: float, step_D: float = POWER_STEP_D) -> bool:
    """Whether a number of dioptres is a multiple of the step. Steps: from memory."""
    return math.isfinite(dioptres) and float(dioptres / step_D).is_integer()


def power_fits(power_D: float) -> bool:
    """Whether a signed power is one that a lens may have: in quarter steps, within the limits."""
    return LOWEST_POWER_D <= power_D <= HIGHEST_POWER_D and in_steps(power_D)


def target_fits(target_D: float) -> bool:
    """Whether a target refraction is one that is aimed at; outside is a question."""
    return TARGET_LIMITS_D[0] <= target_D <= TARGET_LIMITS_D[1]


def signed_power_D(sign: str, size_D: float) -> float | None:
    """A power from its spoken sign and size; None without a sign, which is never supposed: plus
    and minus were confused in 9 of 178 reports (Steeples et al. 2016)."""
    if size_D == 0:
        return 0.0
    return {"plus": abs(size_D), "minus": -abs(size_D)}.get(sign)


def differences(said: Mapping[str, LensSaid], axis_tolerance_deg: float = 0.0) -> list[Difference]:
    """The fields in which the sources that show them differ, each with what every source says.

    Models are compared without regard to capitals and spaces at their ends; axes as axes, so that 0
    and 180 agree. Never raises.
    """
    return [
        found
        for field in FIELDS
        if (found := _difference(field, said, axis_tolerance_deg)) is not None
    ]


def _difference(
    field: str, said: Mapping[str, LensSaid], axis_tolerance_deg: float
) -> Difference | None:
    values = dict(_values(field, said))
    for one, other in combinations(values, 2):
        if not _agree(field, values[one], values[other], axis_tolerance_deg):
            return Difference(field, values, (one, other))
    return None


def _values(field: str, said: Mapping[str, LensSaid]) -> Iterator[tuple[str, float | str]]:
    for source, lens in said.items():
        value = getattr(lens, field)
        if value is not None and field in SHOWN_BY.get(source, FIELDS):
            yield source, value


def _agree(field: str, one: float | str, other: float | str, axis_tolerance_deg: float) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return str(one).casefold().split() == str(other).casefold().split()
    if field == "axis_deg":
        return axis_difference_deg(one, other) <= axis_tolerance_deg
    return one == other


def missing_sources(
    said: Mapping[str, LensSaid], field: str, wanted: tuple[str, ...]
) -> tuple[str, ...]:
    """The sources among `wanted` that show a field and from which nobody has said it yet."""
    known = dict(_values(field, said))
    return tuple(one for one in wanted if field in SHOWN_BY.get(one, ()) and one not in known)
