"""The words that documents may use where a choice is closed, and the limits of the grade scales.

No pydantic here, so that any module may import it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, get_args

from voicelist.clinical.grade import SCALES

Kind = Literal["checklist", "card", "plan", "lexicon", "sentences", "limits"]
Part = Literal["checklist", "card", "plan", "rules", "lexicon", "sentences", "limits"]
Role = Literal["circulating-nurse", "scrub-nurse", "surgeon", "anaesthesia", "team-lead"]
When = Literal[
    "first case of the day",
    "every case",
    "after a change",
    "last case of the day",
    "first cases of a team",
    "toric lens",
    "made due",
    "planned",
    "second eye",
]
Order = Literal["any", "fixed"]
Begins = Literal["at once", "when asked"]
Compare = Literal[
    "eye", "grade", "lens-power", "lens-model", "axis", "profile", "planned", "case-number"
]
PlanField = Literal["eye", "grade", "lens-power", "lens-model", "axis", "target", "cylinder"]
# What an item may depend on: a part of the plan, or the equipment.
DependsOn = Literal[
    "eye", "grade", "lens-power", "lens-model", "axis", "target", "cylinder", "equipment"
]
Phase = Literal["sculpt", "chop", "quadrant", "epinucleus", "cortex", "polish", "viscoelastic"]
Scale = Literal["clinical", "hardness", "locs3-no", "locs3-nc"]
Control = Literal["linear", "fixed"]
ModulationKind = Literal["continuous", "pulse", "burst"]
Pump = Literal["peristaltic", "venturi"]
Eye = Literal["left", "right"]

EQUIPMENT: DependsOn = "equipment"
SURGEON: Role = "surgeon"
KINDS: tuple[Kind, ...] = get_args(Kind)
ROLES: tuple[Role, ...] = get_args(Role)
PHASES: tuple[Phase, ...] = get_args(Phase)
PLAN_FIELDS: tuple[PlanField, ...] = get_args(PlanField)

SCALE_LIMITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {name: (scale.low, scale.high) for name, scale in SCALES.items()}
)
