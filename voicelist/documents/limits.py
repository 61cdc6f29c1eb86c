"""A site's limits: which rules are off, the figures that rules compare with, the usual ranges.

What is left out keeps voicelist's own value, which is written into the document as it is read, so
that a record holds every limit a case was run under.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from voicelist.clinical.limits import DEFAULT, Limits
from voicelist.clinical.profile import Range
from voicelist.clinical.rules import RULES
from voicelist.documents.base import Headed, StrictModel
from voicelist.documents.faults import Fault, refusal
from voicelist.documents.names import Phase
from voicelist.documents.raw_parts import is_number
from voicelist.documents.wording import described, did_you_mean, number, quoted

Usual = Literal[
    "power_percent",
    "vacuum_mmHg",
    "flow_cc_per_min",
    "bottle_cm",
    "infusion_mmHg",
    "pulses_per_s",
    "on_time_ms",
    "off_time_ms",
    "duty_percent",
]
_SWITCHABLE = tuple(name for name, one in RULES.items() if one.switchable)


def _may_be_off(name: str) -> str:
    if name in _SWITCHABLE:
        return name
    if name in RULES:
        expected = "expected a rule that a site may switch off: this one holds at every site"
        raise refusal(f"the rule {quoted(name)}", expected)
    known = ", ".join(_SWITCHABLE)
    hint = did_you_mean(name, _SWITCHABLE)
    raise refusal(f"the unknown rule {quoted(name)}", f"{hint}expected one of {known}")


RuleName = Annotated[
    str, AfterValidator(_may_be_off), Field(json_schema_extra={"enum": list(_SWITCHABLE)})
]


class SignedSpan(StrictModel):
    """From one value to another, both included, in the unit that the key around it names."""

    from_value: float = Field(alias="from", description="a number")
    to_value: float = Field(alias="to", description="a number")

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        low, high = raw.get("from"), raw.get("to")
        if is_number(low) and is_number(high) and low > high:
            yield Fault(("to",), described(high), f'expected at least "from", {number(low)}')

    def as_range(self) -> Range:
        return self.from_value, self.to_value


class Span(SignedSpan):
    """A span of values that are never below 0."""

    from_value: float = Field(alias="from", ge=0, description="a number of at least 0")
    to_value: float = Field(alias="to", ge=0, description="a number of at least 0")


def _span(limits: Range) -> Span:
    return Span.model_validate({"from": float(limits[0]), "to": float(limits[1])})


_MOST = 1000.0
_LONGEST_S = 10_000.0
_PERCENT = "a number, 0 to 100"
_SOME = "a number, 0 to 1000"
_ABOVE = "a number above 0, at most 1000"


class Figures(StrictModel):
    """The figures that rules compare with, units in their names. See `voicelist.clinical.limits`
    for where each of the values comes from that hold without this document."""

    line_resistance_mmHg_min_per_cc: float = Field(
        default=DEFAULT.line_resistance_mmHg_min_per_cc, gt=0, le=_MOST, description=_ABOVE
    )
    incision_leakage_cc_per_min: float = Field(
        default=DEFAULT.incision_leakage_cc_per_min, ge=0, le=_MOST, description=_SOME
    )
    least_chamber_mmHg: float = Field(
        default=DEFAULT.least_chamber_mmHg, ge=0, le=_MOST, description=_SOME
    )
    infusion_agreement_mmHg: float = Field(
        default=DEFAULT.infusion_agreement_mmHg, ge=0, le=_MOST, description=_SOME
    )
    chamber_cc: float = Field(default=DEFAULT.chamber_cc, gt=0, le=_MOST, description=_ABOVE)
    most_turnover_per_s: float = Field(
        default=DEFAULT.most_turnover_per_s, gt=0, le=_MOST, description=_ABOVE
    )
    known_rise_s: float = Field(default=DEFAULT.known_rise_s, gt=0, le=_MOST, description=_ABOVE)
    known_rise_flow_cc_per_min: float = Field(
        default=DEFAULT.known_rise_flow_cc_per_min, gt=0, le=_MOST, description=_ABOVE
    )
    known_rise_vacuum_mmHg: float = Field(
        default=DEFAULT.known_rise_vacuum_mmHg, gt=0, le=_MOST, description=_ABOVE
    )
    shortest_rise_s: float = Field(
        default=DEFAULT.shortest_rise_s, gt=0, le=_MOST, description=_ABOVE
    )
    least_flow_with_power_cc_per_min: float = Field(
        default=DEFAULT.least_flow_with_power_cc_per_min, ge=0, le=_MOST, description=_SOME
    )
    most_continuous_power_percent: float = Field(
        default=DEFAULT.most_continuous_power_percent, ge=0, le=100, description=_PERCENT
    )
    usual_separation_deg: Span = Field(
        default=_span(DEFAULT.usual_separation_deg), description="from and to"
    )
    planned_place_tolerance_deg: float = Field(
        default=DEFAULT.planned_place_tolerance_deg, ge=0, le=180, description="a number, 0 to 180"
    )
    least_knee_deg: float = Field(
        default=DEFAULT.least_knee_deg, ge=0, le=180, description="a number, 0 to 180"
    )
    most_knee_deg: float = Field(
        default=DEFAULT.most_knee_deg, ge=0, le=180, description="a number, 0 to 180"
    )
    longest_ultrasound_s: float = Field(
        default=DEFAULT.longest_ultrasound_s, gt=0, le=_LONGEST_S, description="a number above 0"
    )
    usual_target_D: SignedSpan = Field(
        default=SignedSpan.model_validate(
            dict(zip(("from", "to"), DEFAULT.usual_target_D, strict=True))
        ),
        description="from and to",
    )


def _usual() -> dict[str, dict[str, Span]]:
    return {
        phase: {quantity: _span(limits) for quantity, limits in ranges.items()}
        for phase, ranges in DEFAULT.usual.items()
    }


class SiteLimits(Headed):
    """The limits of one site."""

    off: Annotated[tuple[RuleName, ...], Field(strict=False)] = Field(
        default=tuple(sorted(DEFAULT.off)), description="a list of rules"
    )
    limits: Figures = Field(default_factory=Figures, description="figures of the rules")
    usual: dict[Phase, dict[Usual, Span]] = Field(
        default_factory=_usual,  # type: ignore[arg-type]  # the keys are phases and quantities
        description="usual ranges by phase",
    )

    @classmethod
    def filled(cls, raw: dict[str, Any]) -> dict[str, Any]:
        """Usual ranges that the site does not give stay as they are."""
        given = raw.get("usual")
        if not isinstance(given, dict):
            return raw
        usual: dict[Any, Any] = dict(_usual())
        for phase, ranges in given.items():
            own = usual.get(phase, {}) if isinstance(phase, str) else {}
            usual[phase] = {**own, **ranges} if isinstance(ranges, dict) else ranges
        return raw | {"usual": usual}

    def for_rules(self) -> Limits:
        """As the rules take them."""
        figures = {
            one.name: getattr(self.limits, one.name)
            for one in fields(Limits)
            if one.name not in ("usual", "off")
        }
        plain: dict[str, Any] = {
            name: one.as_range() if isinstance(one, SignedSpan) else one
            for name, one in figures.items()
        }
        usual = {
            str(phase): {str(name): one.as_range() for name, one in ranges.items()}
            for phase, ranges in self.usual.items()
        }
        return Limits(usual=usual, off=frozenset(self.off), **plain)


# For a site without the document, and for records that were written before there was one.
OWN_LIMITS = SiteLimits(format=1, language="en")
