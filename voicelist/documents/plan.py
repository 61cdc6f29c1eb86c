"""A case plan: what is known before the case, under a code and without names."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Self, TypeVar

from pydantic import Field

from voicelist.clinical.lens import HIGHEST_POWER_D, LOWEST_POWER_D, POWER_STEP_D
from voicelist.documents.base import Headed, PlannedName, Slug, StrictModel, Text
from voicelist.documents.card import off_scale
from voicelist.documents.faults import Fault
from voicelist.documents.names import Eye, Phase, Scale
from voicelist.documents.wording import quoted
from voicelist.errors import VoicelistError

_OF_LENS = {
    "lens-power": "power_D",
    "lens-model": "model",
    "axis": "axis_deg",
    "target": "target_D",
    "cylinder": "cylinder_D",
}
_POWER = "a lens power, -20 to +60 in steps of 0.25"

HIGHEST_NUMBER = 99_999_999  # what a case number may be, said digit by digit
_DIGITS_AT_END = re.compile(r"[0-9]+\Z")

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
    """The planned lens: power in dioptres, axis in degrees and cylinder in dioptres of a toric
    lens, and the refraction that is aimed at."""

    model: Text = Field(description="the lens model, as it is spoken")
    power_D: float = Field(
        ge=LOWEST_POWER_D, le=HIGHEST_POWER_D, multiple_of=POWER_STEP_D, description=_POWER
    )
    axis_deg: float | None = Field(default=None, ge=0, le=180, description="a number, 0 to 180")
    cylinder_D: float | None = Field(
        default=None, ge=-15, le=15, description="a number, -15 to +15"
    )
    target_D: float | None = Field(default=None, ge=-15, le=15, description="a number, -15 to +15")


class IncisionPlan(StrictModel):
    """Where the incisions are planned, in degrees."""

    main_deg: Direction = Field(description="a number from 0, below 360")
    side_port_deg: Direction = Field(description="a number from 0, below 360")


class Plan(Headed):
    """A case plan document."""

    case: CaseCode = Field(description="a code of letters, digits and dashes, without spaces")
    case_number: int | None = Field(
        default=None,
        alias="case number",
        ge=0,
        le=HIGHEST_NUMBER,
        description="a whole number of at most 8 digits; without it, the digits that end the case",
    )
    eye: Eye | None = Field(
        default=None, description="left or right; without it, where the checklist asks for none"
    )
    planned_grade: Grade | None = Field(default=None, alias="grade", description="scale and value")
    card: Slug | None = Field(default=None, description="the id of a card")
    checklist: Slug = Field(default="phaco", description="the id of a checklist")
    planned_lens: Lens | None = Field(default=None, alias="lens", description="model and power_D")
    incision: IncisionPlan | None = Field(default=None, description="where the incisions go")
    also: dict[PlannedName, Text] = Field(
        default_factory=dict, description="what else is planned, as it is spoken, by name"
    )
    phases: Annotated[tuple[Phase, ...], Field(strict=False, min_length=1)] | None = Field(
        default=None,
        description="a list of the phases whose settings are voiced; without it, all of the card",
    )
    first_of_the_day: bool = Field(
        default=True, alias="first of the day", description="false: the day's set-up was taken"
    )
    last_of_the_day: bool = Field(
        default=False, alias="last of the day", description="true: the day ends with this case"
    )
    changed: bool = Field(default=False, description="true: equipment was changed since")
    new_team: bool = Field(
        default=False, alias="new team", description="true: a team's first cases, longer calls"
    )
    quiet: bool = Field(
        default=False, description="true: read-backs on the display alone, after sign in"
    )
    present: Annotated[tuple[PlannedName, ...], Field(strict=False, min_length=2)] | None = Field(
        default=None, description="a list of the roles in the room; without it, all of them"
    )
    second_eye_of: CaseCode | None = Field(
        default=None, alias="second eye of", description="the case of the other eye"
    )

    def with_changes(self, changes: Mapping[str, Any]) -> Self:
        """The plan with these fields (see `PlanField`) changed, as a record has them; incisions
        planned for the other eye do not come along. Raises ValidationError for a value that no
        plan may have."""
        written = self.model_dump(mode="json", by_alias=True, exclude_none=True)
        if changes.get("eye", self.eye) != self.eye:
            written.pop("incision", None)
        for name, value in changes.items():
            if name in _OF_LENS:
                written["lens"] = {**written.get("lens", {}), _OF_LENS[name]: value}
            else:
                written[name] = dict(value) if isinstance(value, Mapping) else value
        return type(self).model_validate(written)

    @property
    def number(self) -> int | None:
        """What the case is called on the list of the day and the wristband: `case number`, or the
        digits with which the case code ends. None where there is neither."""
        if self.case_number is not None:
            return self.case_number
        digits = _DIGITS_AT_END.search(self.case)
        return int(digits[0]) if digits else None

    @property
    def is_toric(self) -> bool:
        """Whether a lens is planned that has an axis."""
        return self.planned_lens is not None and self.planned_lens.axis_deg is not None

    @property
    def side(self) -> str:
        """The planned eye; "" of a plan without one."""
        return self.eye or ""

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        for key in ("incision", "second eye of"):
            if raw.get(key) is not None and raw.get("eye") is None:
                expected = "expected eye: left or right"
                yield Fault((key,), f"{quoted(key)} without an eye", expected, at_key=True)

    @property
    def grade(self) -> Grade:
        """The declared grade, of a plan that has one."""
        return _required(self.planned_grade, "grade")

    @property
    def lens(self) -> Lens:
        """The planned lens, of a plan that has one."""
        return _required(self.planned_lens, "lens")


_PartT = TypeVar("_PartT")


def _required(part: _PartT | None, name: str) -> _PartT:
    if part is None:
        raise VoicelistError(f"The plan has no {name}, and the checklist compares it.")
    return part
