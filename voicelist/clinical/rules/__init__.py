"""The rules, one small function each, and the order in which their findings are told.

A rule sees a `Situation` and the site's `Limits` and yields what does not fit. Nothing here
decides: a note is told, a question is for the surgeon, a contradiction waits to be corrected.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from voicelist.clinical.limits import DEFAULT, Limits
from voicelist.clinical.profile import Finding, Situation
from voicelist.clinical.rules import (
    around,
    body,
    card,
    chamber,
    contradictions,
    lens,
    phases,
    usual,
)
from voicelist.clinical.rules.base import ClinicalRule

_EVERY: tuple[ClinicalRule, ...] = (
    contradictions.power_without_pedal_3,
    contradictions.above_100_percent,
    contradictions.on_time_above_period,
    contradictions.timing_differs,
    contradictions.pulses_in_continuous,
    contradictions.flow_on_venturi,
    contradictions.minimum_above_maximum,
    contradictions.fixed_with_minimum,
    contradictions.angle_too_large,
    lens.lens_sources,
    lens.lens_step,
    contradictions.pulses_without_pause,
    contradictions.unit_missing,
    contradictions.two_infusions,
    card.card_silent,
    card.card_value,
    card.card_control,
    card.card_minimum,
    card.card_timing,
    card.card_pump,
    card.card_modulation,
    card.card_trigger,
    usual.usual_range,
    usual.infusion_range,
    phases.vacuum_order,
    phases.polish_above_sculpt,
    phases.vacuum_up_bottle_down,
    phases.soft_profile,
    chamber.chamber_stability,
    chamber.rise_time,
    chamber.power_without_flow,
    around.nasal_incision,
    around.planned_place,
    around.card_separation,
    around.usual_separation,
    body.seat_side,
    body.knee_angle,
    body.pedal_walk,
    lens.lens_target,
    phases.grade_step,
    around.end_of_case,
    around.ultrasound_time,
    chamber.turnover,
    chamber.continuous_power,
    phases.grade_near_edge,
)
RULES: Mapping[str, ClinicalRule] = MappingProxyType({one.name: one for one in _EVERY})
_SEVERITIES = ("stop", "ask", "note")


def findings(situation: Situation, limits: Limits = DEFAULT) -> tuple[Finding, ...]:
    """All that does not fit: contradictions first, notes last; within these in the order in which
    the quantities were said. A quantity that cannot be is not asked about as well. Never raises."""
    found = [one for rule in RULES.values() for one in rule.findings(situation, limits)]
    stopped = {one.quantity for one in found if one.severity == "stop"}
    told = [one for one in found if one.severity == "stop" or one.quantity not in stopped]
    said = {quantity: place for place, quantity in enumerate(situation.heard.settings)}
    return tuple(
        sorted(
            dict.fromkeys(told),
            key=lambda one: (
                _SEVERITIES.index(one.severity),
                said.get(one.quantity, len(said)),
            ),
        )
    )
