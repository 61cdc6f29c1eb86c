"""A surgeon's preference card: settings for each phase at each declared density of the nucleus."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field

from voicelist.documents.base import Headed, PlannedName, Slug, StrictModel, Text
from voicelist.documents.faults import Fault
from voicelist.documents.marks import YamlPath
from voicelist.documents.names import SCALE_LIMITS, Control, ModulationKind, Phase, Pump, Scale
from voicelist.documents.raw_parts import entries, is_number, outside
from voicelist.documents.wording import described, number, quoted

_PULSED = ("pulses_per_s", "duty_percent", "on_time_ms", "off_time_ms", "on_occlusion")


class Setting(StrictModel):
    """One quantity, in the unit that its key names. With `linear` control the pedal goes from
    `minimum` to `value`; within `tolerance` of `value` a heard number fits."""

    value: float = Field(ge=0, description="a number of at least 0")
    control: Control = Field(description="linear or fixed")
    tolerance: float = Field(ge=0, description="a number of at least 0, in the same unit")
    minimum: float | None = Field(default=None, ge=0, description="a number of at least 0")

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        minimum, value = raw.get("minimum"), raw.get("value")
        if minimum is not None and raw.get("control") == "fixed":
            expected = "expected it with linear control only: take it out"
            yield Fault(("minimum",), '"minimum" with fixed control', expected, at_key=True)
        if is_number(minimum) and is_number(value) and minimum > value:
            expected = f"expected a minimum of at most the value, {number(value)}"
            yield Fault(("minimum",), described(minimum), expected)


class Modulation(StrictModel):
    """How ultrasound is given: continuously, in pulses or in bursts, with these times;
    `on_occlusion` says whether an occlusion of the tip triggers them."""

    kind: ModulationKind = Field(description="continuous, pulse or burst")
    pulses_per_s: float | None = Field(default=None, gt=0, description="a number above 0")
    duty_percent: float | None = Field(
        default=None, gt=0, le=100, description="a number above 0, at most 100"
    )
    on_time_ms: float | None = Field(default=None, gt=0, description="a number above 0")
    off_time_ms: float | None = Field(default=None, ge=0, description="a number of at least 0")
    on_occlusion: bool | None = Field(default=None, description="true or false")

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        if raw.get("kind") != "continuous":
            return
        for key in _PULSED:
            if raw.get(key) is not None:
                found = f"{quoted(key)} in a continuous modulation"
                expected = "expected it with pulses or bursts only: take it out"
                yield Fault((key,), found, expected, at_key=True)


class Settings(StrictModel):
    """The profile of one phase. What is left out, the card does not say."""

    power_percent: Setting | None = Field(default=None, description="power of the ultrasound")
    vacuum_mmHg: Setting | None = Field(default=None, description="vacuum")
    flow_cc_per_min: Setting | None = Field(default=None, description="aspiration flow")
    bottle_cm: Setting | None = Field(default=None, description="height of the bottle")
    infusion_mmHg: Setting | None = Field(default=None, description="pressure of the infusion")
    modulation: Modulation | None = Field(default=None, description="how ultrasound is given")
    pump: Pump | None = Field(default=None, description="peristaltic or venturi")

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        if not raw:
            yield Fault((), "a phase without settings", "expected at least one setting")
        power = raw.get("power_percent")
        if isinstance(power, dict):
            for fault in outside(power.get("value"), 0, 100, "value", "per cent"):
                yield Fault(("power_percent", *fault.path), fault.found, fault.expected)


class GradeBand(StrictModel):
    """Settings for the grades from `from_value` to `to_value`, both included, on one scale."""

    scale: Scale = Field(description="the scale of the grade")
    from_value: float = Field(alias="from", description="the lowest grade, a number")
    to_value: float = Field(alias="to", description="the highest grade, a number")
    phases: Annotated[dict[Phase, Settings], Field(min_length=1)] = Field(
        description="at least one phase with settings"
    )

    def holds(self, scale: str, value: float) -> bool:
        return self.scale == scale and self.from_value <= value <= self.to_value

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        for key in ("from", "to"):
            yield from off_scale(raw.get("scale"), raw.get(key), key)
        low, high = raw.get("from"), raw.get("to")
        if is_number(low) and is_number(high) and low > high:
            yield Fault(("to",), described(high), f'expected at least "from", {number(low)}')


class IncisionCard(StrictModel):
    """How far apart the surgeon wants main incision and side port, in degrees."""

    separation_deg: float = Field(ge=0, le=180, description="a number, 0 to 180")
    tolerance_deg: float = Field(ge=0, le=180, description="a number, 0 to 180")


class Card(Headed):
    """A preference card document."""

    id: Slug = Field(description="lower-case letters, digits and dashes")
    grades: Annotated[tuple[GradeBand, ...], Field(strict=False, min_length=1)] = Field(
        description="a list of at least one band of grades"
    )
    incision: IncisionCard | None = Field(default=None, description="where the incisions go")
    also: dict[PlannedName, Text] = Field(
        default_factory=dict,
        description="what else the surgeon wants, as it is spoken, by name; a plan outranks it",
    )

    def settings_for(self, scale: str, value: float, phase: str) -> Settings | None:
        """The settings at this grade in this phase; None where the card says nothing."""
        for band in self.grades:
            if band.holds(scale, value):
                return {str(name): found for name, found in band.phases.items()}.get(phase)
        return None

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        earlier: list[tuple[object, float, float, YamlPath]] = []
        for path, band in entries(raw, "grades"):
            scale, low, high = band.get("scale"), band.get("from"), band.get("to")
            if not (is_number(low) and is_number(high)):
                continue
            for other, other_low, other_high, other_path in earlier:
                if other == scale and low <= other_high and other_low <= high:
                    found = f"{scale} {number(low)} to {number(high)}, which overlaps a band"
                    expected = "expected each grade of a scale in one band only"
                    yield Fault((*path, "from"), found, expected, first=(*other_path, "from"))
                    break
            earlier.append((scale, low, high, path))


# For a plan that names no card: it says nothing of anything.
NO_CARD = Card.model_construct(format=1, language="", id="none", grades=(), incision=None, also={})


def off_scale(scale: object, value: object, key: str) -> Iterator[Fault]:
    """A fault if `value` is a number that is not on the scale."""
    if isinstance(scale, str) and scale in SCALE_LIMITS:
        yield from outside(value, *SCALE_LIMITS[scale], key, f"a grade on the scale {scale}")
