"""Heard machine settings against a card, usual ranges and plain contradictions.

A finding is a question or a caution, never a command: the surgeon and the machine's own
instructions decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

UNITS: Mapping[str, str] = {
    "power_percent": "%",
    "vacuum_mmHg": "mmHg",
    "flow_cc_per_min": "cc/min",
    "bottle_cm": "cm",
    "infusion_mmHg": "mmHg",
    "pulses_per_s": "/s",
    "on_time_ms": "ms",
    "off_time_ms": "ms",
    "duty_percent": "%",
}
# Power belongs to pedal position 3, which these phases do not use (derived).
PHASES_WITHOUT_POWER = ("cortex", "polish", "viscoelastic")

Range = tuple[float, float]

_CHOP: Mapping[str, Range] = {
    "power_percent": (10, 70),
    "vacuum_mmHg": (200, 500),
    "flow_cc_per_min": (25, 45),
    "bottle_cm": (75, 120),
}
# Typical ranges by phase, from memory; a project choice, no authority behind them. They only ask
# "did I hear that right?" and a site must put its own in their place.
USUAL_RANGES: Mapping[str, Mapping[str, Range]] = {
    "sculpt": {
        "power_percent": (30, 90),
        "vacuum_mmHg": (20, 100),
        "flow_cc_per_min": (18, 30),
        "bottle_cm": (60, 100),
    },
    "chop": _CHOP,
    "quadrant": _CHOP,
    "epinucleus": {
        "power_percent": (0, 40),
        "vacuum_mmHg": (100, 300),
        "flow_cc_per_min": (20, 35),
        "bottle_cm": (65, 110),
    },
    "cortex": {
        "power_percent": (0, 0),
        "vacuum_mmHg": (300, 600),
        "flow_cc_per_min": (20, 45),
        "bottle_cm": (60, 110),
    },
    "polish": {
        "power_percent": (0, 0),
        "vacuum_mmHg": (5, 50),
        "flow_cc_per_min": (5, 15),
        "bottle_cm": (40, 80),
    },
    "viscoelastic": {
        "power_percent": (0, 0),
        "vacuum_mmHg": (250, 650),
        "flow_cc_per_min": (20, 50),
        "bottle_cm": (60, 110),
    },
}


@dataclass(frozen=True, slots=True)
class Setting:
    """A value in its quantity's unit; `control` is linear, fixed or "" (not said)."""

    value: float
    control: str = ""


@dataclass(frozen=True, slots=True)
class CardSetting:
    """What a card holds for one quantity; `tolerance` in the quantity's unit."""

    value: float
    control: str
    tolerance: float


@dataclass(frozen=True, slots=True)
class Finding:
    """Something heard that does not fit. `severity` is note, ask or stop."""

    rule: str
    severity: str
    quantity: str
    heard: float | str
    expected: float | str
    unit: str


def assess(
    phase: str, heard: Mapping[str, Setting], card: Mapping[str, CardSetting]
) -> tuple[Finding, ...]:
    """All findings for the settings of one phase, in the order the quantities were heard."""
    return tuple(
        finding
        for quantity, setting in heard.items()
        for finding in _assess_one(phase, quantity, setting, card.get(quantity))
    )


def missing(heard: Mapping[str, Setting], card: Mapping[str, CardSetting]) -> tuple[str, ...]:
    """The card's quantities that were not heard yet."""
    return tuple(quantity for quantity in card if quantity not in heard)


def _assess_one(
    phase: str, quantity: str, setting: Setting, card: CardSetting | None
) -> Iterator[Finding]:
    unit = UNITS[quantity]
    if quantity == "power_percent" and phase in PHASES_WITHOUT_POWER and setting.value > 0:
        yield Finding("power-without-pedal-3", "stop", quantity, setting.value, 0, unit)
    elif unit == "%" and setting.value > 100:
        yield Finding("above-100-percent", "stop", quantity, setting.value, 100, unit)
    elif card is not None:
        yield from _against_card(quantity, setting, card)
    else:
        yield from _against_usual(phase, quantity, setting)


def _against_card(quantity: str, setting: Setting, card: CardSetting) -> Iterator[Finding]:
    unit = UNITS[quantity]
    if abs(setting.value - card.value) > card.tolerance:
        yield Finding("card-value", "ask", quantity, setting.value, card.value, unit)
    if setting.control and setting.control != card.control:
        yield Finding("card-control", "ask", quantity, setting.control, card.control, "")


def _against_usual(phase: str, quantity: str, setting: Setting) -> Iterator[Finding]:
    usual = USUAL_RANGES.get(phase, {}).get(quantity)
    if usual is not None and not usual[0] <= setting.value <= usual[1]:
        nearest = usual[0] if setting.value < usual[0] else usual[1]
        yield Finding("usual-range", "ask", quantity, setting.value, nearest, UNITS[quantity])
