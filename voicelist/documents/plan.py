"""A case plan: what is known before the case, under a code and without names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field

from voicelist.clinical.lens import HIGHEST_POWER_D, LOWEST_POWER_D, POWER_STEP_D
from voicelist.documents.base import Headed, Slug, StrictModel, Text
from voicelist.documents.card import off_scale
from voicelist.documents.faults import Fault
from voicelist.documents.names import Eye, Scale

_POWER = "a lens power, -20 to +60 in steps of 0.25"

CaseCode = Annotated[str, Field(pattern=r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$", max_length=64)]
Direction = Annotated[float, Field(ge=0, lt=360)]


class Grade(StrictModel):
    """The declared density of the nucleus."""

    scale: Scale = Field(description="the scale of the grade")
    value: float = Field(description="the grade, a number")

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        yield from off_scale(raw.get("scale"), raw.get("value"), "value")


class Lens(StrictModel):
    """The planned lens: power in dioptres, axis of a toric lens in degrees."""

    model: Text = Field(description="the lens model, as it is spoken")
    power_D: float = Field(
        ge=LOWEST_POWER_D, le=HIGHEST_POWER_D, multiple_of=POWER_STEP_D, description=_POWER
    )
    axis_deg: float | None = Field(default=None, ge=0, le=180, description="a number, 0 to 180")


class IncisionPlan(StrictModel):
    """Where the incisions are planned, in degrees."""

    main_deg: Direction = Field(description="a number from 0, below 360")
    side_port_deg: Direction = Field(description="a number from 0, below 360")


class Plan(Headed):
    """A case plan document."""

    case: CaseCode = Field(description="a code of letters, digits and dashes, without spaces")
    eye: Eye = Field(description="left or right")
    grade: Grade = Field(description="scale and value")
    card: Slug = Field(description="the id of a card")
    checklist: Slug = Field(default="phaco", description="the id of a checklist")
    lens: Lens = Field(description="model and power_D")
    incision: IncisionPlan | None = Field(default=None, description="where the incisions go")
