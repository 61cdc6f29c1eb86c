"""The chamber and heat: inflow against outflow, turnover, rise of the vacuum, power and flow.

They know what was said, never what the machine delivers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from voicelist.clinical.evidence import WOUND_BURNS_2006, WOUND_BURNS_LATER
from voicelist.clinical.fluidics import BALANCE_SOURCE, RISE_TIME_SOURCE, balance, bottle_cm
from voicelist.clinical.fluidics import pressure_mmHg as pressure_of
from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import PHASES_WITHOUT_POWER, Situation, without_pause
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_TURNOVER = Source("published", "Setting your phaco speed limit, 2020; the limit is ours")
_HEAT = Source(
    "published",
    "causes of wound burn (Jacob, 2018); "
    f"{WOUND_BURNS_2006.events} of {WOUND_BURNS_2006.total} ({WOUND_BURNS_2006.source.text}); "
    "how much flow is ours",
)
_CONTINUOUS = Source(
    "published",
    "burns in 0.18% with continuous power and 0.026% with very short pulses, in the survey of 2006 "
    "(a trade newspaper's report of it); in the later one the modality was not related to burns "
    f"({WOUND_BURNS_LATER.source.text}, {WOUND_BURNS_LATER.per(100):.3f}% of all); "
    "the limit is ours",
)
_LARGEST = 1e6  # beyond what any machine shows; keeps the sums finite


@rule(
    "chamber-stability",
    "ask",
    "chamber-stability",
    BALANCE_SOURCE,
    "More bottle or less flow.",
    card_decides=True,
)
def chamber_stability(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Outflow (flow and leakage) that the bottle or infusion pressure cannot match while the
    chamber keeps its least pressure. The line's resistance is a site's to measure."""
    flow = _flow(it)
    resistance = limits.line_resistance_mmHg_min_per_cc
    if flow is None or not 0 < resistance <= _LARGEST:
        return
    for quantity in ("bottle_cm", "infusion_mmHg"):
        heard = it.heard.value(quantity)
        if heard is None or not 0 <= heard <= _LARGEST:
            continue
        infusion = pressure_of(heard) if quantity == "bottle_cm" else heard
        leak, least = limits.incision_leakage_cc_per_min, limits.least_chamber_mmHg
        found = balance(infusion, flow, leak, resistance, least)
        if not found.stable:
            needed = found.outflow_cc_per_min * resistance + least
            needed = bottle_cm(needed) if quantity == "bottle_cm" else needed
            yield Seen(quantity, heard, math.ceil(needed))


@rule(
    "turnover",
    "note",
    "flow-at-most",
    _TURNOVER,
    "A lower flow gives more time to react.",
    card_decides=True,
)
def turnover(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A flow that replaces the chamber's fluid more often than the site's limit."""
    flow = _flow(it)
    most = limits.most_turnover_per_s * limits.chamber_cc * 60
    if flow is not None and flow > most:
        yield Seen("flow_cc_per_min", flow, round(most, 1))


@rule(
    "rise-time",
    "ask",
    "flow-at-most",
    RISE_TIME_SOURCE,
    "A lower flow rises more slowly.",
    card_decides=True,
)
def rise_time(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A flow at which the vacuum would reach its limit faster than the site wants."""
    flow, vacuum = _flow(it), it.heard.value("vacuum_mmHg")
    known, shortest = limits.known_rise_vacuum_mmHg, limits.shortest_rise_s
    if flow is None or vacuum is None or known <= 0 or shortest <= 0:
        return
    swept = limits.known_rise_s * limits.known_rise_flow_cc_per_min * vacuum / known
    if flow > 0 and swept / flow < shortest:
        yield Seen("flow_cc_per_min", flow, round(swept / shortest, 1))


@rule("power-without-flow", "ask", "power-without-flow", _HEAT, "Power needs flow for cooling.")
def power_without_flow(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Power with so little flow that nothing cools the tip."""
    flow, power = _flow(it), it.heard.value("power_percent")
    if flow is None or power is None or power <= 0 or it.heard.phase in PHASES_WITHOUT_POWER:
        return
    if flow < limits.least_flow_with_power_cc_per_min:
        yield Seen("flow_cc_per_min", flow, limits.least_flow_with_power_cc_per_min)


@rule(
    "continuous-power",
    "note",
    "continuous-power",
    _CONTINUOUS,
    "Consider pulses; where viscoelastic was used, aspirate it for 10 to 15 s before power.",
)
def continuous_power(it: Situation, limits: Limits) -> Iterator[Seen]:
    """High power without a pause: continuous, or pulses of which none ends."""
    power = it.heard.value("power_percent")
    most = limits.most_continuous_power_percent
    continuous = it.heard.kind == "continuous" or without_pause(it.heard)
    if continuous and power is not None and most < power <= 100:
        yield Seen("power_percent", power, most)


def _flow(it: Situation) -> float | None:
    """The commanded flow; None with a venturi pump, which has none, and for what is no flow."""
    flow = it.heard.value("flow_cc_per_min")
    if flow is None or not 0 <= flow <= _LARGEST or (it.heard.pump or it.card.pump) == "venturi":
        return None
    return flow
