"""What cannot be, whatever the card says: read back until it is corrected."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.clinical.energy import period_ms
from voicelist.clinical.fluidics import pressure_mmHg
from voicelist.clinical.incision import FULL_CIRCLE_DEG
from voicelist.clinical.limits import Limits
from voicelist.clinical.profile import (
    PHASES_WITHOUT_POWER,
    TIMING,
    UNITS,
    Situation,
    timing_of,
    without_pause,
)
from voicelist.clinical.rules.base import Seen, rule
from voicelist.clinical.sources import Source

_PEDAL = Source("derived", "ultrasound is pedal position 3, which these phases do not use")
_SHARE = Source("published", "a share of the whole; duty is on over on plus off (November 2005)")
_DERIVED = Source("derived", "the period is the time between pulses; on and off make the period")
_PUMP = Source(
    "published", "a venturi pump is commanded by vacuum; flow follows (Phacodynamics tutorial)"
)
_CIRCLE = Source("published", "positions run to 360, axes to 180 (ISO 8429:1986)")
_SPAN = Source("derived", "a minimum lies below its maximum")
_UNIT = Source("project choice", "60 mmHg taken for 60 cm is an error of 36% (derived)")
_PAUSE = Source("derived", "duty is on over on plus off: at 100% nothing is off")
_CORRECT = "Correct the value."
_PAUSES = ("duty_percent", "off_time_ms", "on_time_ms")
# A period or duty that was worked out from rounded figures: half a unit and one per cent.
_ROUNDING, _ROUNDING_SHARE = 0.5, 0.01


@rule("power-without-pedal-3", "stop", "cannot-be", _PEDAL, _CORRECT, switchable=False)
def power_without_pedal_3(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Power in a phase of irrigation and aspiration alone."""
    power = it.heard.value("power_percent")
    if it.heard.phase in PHASES_WITHOUT_POWER and power is not None and power > 0:
        yield Seen("power_percent", power, 0)


@rule("above-100-percent", "stop", "cannot-be", _SHARE, _CORRECT, switchable=False)
def above_100_percent(it: Situation, limits: Limits) -> Iterator[Seen]:
    """More than the whole of power or duty."""
    for quantity, setting in it.heard.settings.items():
        if UNITS.get(quantity) == "%" and setting.value > 100:
            yield Seen(quantity, setting.value, 100)


@rule("on-time-above-period", "stop", "on-time-too-long", _DERIVED, _CORRECT, switchable=False)
def on_time_above_period(it: Situation, limits: Limits) -> Iterator[Seen]:
    """An on time or off time longer than the time from one pulse to the next."""
    rate = it.heard.value("pulses_per_s")
    if rate is None or not 0 < rate < float("inf"):
        return
    period = period_ms(rate)
    for quantity in ("on_time_ms", "off_time_ms"):
        heard = it.heard.value(quantity)
        if heard is not None and heard > period + _ROUNDING:
            yield Seen(quantity, heard, round(period, 1))


@rule("timing-differs", "stop", "figures-differ", _DERIVED, _CORRECT, switchable=False)
def timing_differs(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A third or fourth figure of the pulses that does not go with the first two."""
    values = {name: it.heard.settings[name].value for name in TIMING if name in it.heard.settings}
    timing = timing_of(values)
    if timing is None:
        return
    for quantity in [name for name in TIMING if name in values][2:]:
        expected = float(getattr(timing, quantity))
        if abs(values[quantity] - expected) > max(_ROUNDING, expected * _ROUNDING_SHARE):
            yield Seen(quantity, values[quantity], round(expected, 1))


@rule("pulses-in-continuous", "stop", "not-continuous", _DERIVED, _CORRECT, switchable=False)
def pulses_in_continuous(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Continuous power with a pulse rate, times or a duty below 100%."""
    if it.heard.kind != "continuous":
        return
    for quantity in TIMING:
        heard = it.heard.value(quantity)
        if heard is not None and not (quantity == "duty_percent" and heard >= 100):
            yield Seen(quantity, heard, "continuous")


@rule("pulses-without-pause", "ask", "without-pause", _PAUSE, _CORRECT, switchable=False)
def pulses_without_pause(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Pulses or bursts that leave no pause: that is continuous power, whatever it is called."""
    if it.heard.kind == "continuous" or not without_pause(it.heard):
        return
    pulsed = it.heard.kind or "pulses_per_s" in it.heard.settings
    quantity = next((one for one in _PAUSES if one in it.heard.settings), "")
    if pulsed and quantity:
        yield Seen(quantity, it.heard.settings[quantity].value, "continuous")


@rule("flow-on-venturi", "stop", "flow-on-venturi", _PUMP, _CORRECT, switchable=False)
def flow_on_venturi(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A commanded flow on a pump that takes none."""
    flow = it.heard.value("flow_cc_per_min")
    if (it.heard.pump or it.card.pump) == "venturi" and flow is not None:
        yield Seen("flow_cc_per_min", flow, "none")


@rule("minimum-above-maximum", "stop", "minimum-too-high", _SPAN, _CORRECT, switchable=False)
def minimum_above_maximum(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Linear control that would begin above its end."""
    for quantity, setting in it.heard.settings.items():
        if setting.minimum is not None and setting.minimum > setting.value:
            yield Seen(quantity, setting.minimum, setting.value)


@rule("fixed-with-minimum", "stop", "fixed-with-minimum", _SPAN, _CORRECT, switchable=False)
def fixed_with_minimum(it: Situation, limits: Limits) -> Iterator[Seen]:
    """Fixed control with another minimum than its value: fixed has no range to go through."""
    for quantity, setting in it.heard.settings.items():
        if setting.control == "fixed" and setting.minimum not in (None, setting.value):
            yield Seen(quantity, float(setting.minimum or 0.0), setting.value)


@rule("angle-too-large", "stop", "cannot-be", _CIRCLE, _CORRECT, switchable=False)
def angle_too_large(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A position beyond the circle or an axis beyond half of it; neither is turned into another."""
    for quantity in ("main_deg", "side_port_deg"):
        heard = getattr(it.incision, quantity, None)
        if heard is not None and heard > FULL_CIRCLE_DEG:
            yield Seen(quantity, heard, FULL_CIRCLE_DEG)
    for lens in it.lens.values():
        if lens.axis_deg is not None and lens.axis_deg > FULL_CIRCLE_DEG / 2:
            yield Seen("axis_deg", lens.axis_deg, FULL_CIRCLE_DEG / 2)


@rule("unit-missing", "ask", "which-unit", _UNIT, "Say the number with its unit.", switchable=False)
def unit_missing(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A number for the bottle without cm or mmHg: never supposed, never converted."""
    if it.heard.bare_bottle is not None:
        yield Seen("bottle", it.heard.bare_bottle, "cm or mmHg")


@rule(
    "two-infusions",
    "ask",
    "two-infusions",
    Source("derived", "a bottle's height is a pressure: 1 cm of water is 0.7356 mmHg"),
    "Say which of the two the machine is set by.",
)
def two_infusions(it: Situation, limits: Limits) -> Iterator[Seen]:
    """A bottle's height and an infusion pressure that are not the same pressure."""
    bottle, infusion = it.heard.value("bottle_cm"), it.heard.value("infusion_mmHg")
    if bottle is None or infusion is None or not 0 <= bottle < float("inf"):
        return
    of_bottle = pressure_mmHg(bottle)
    if abs(infusion - of_bottle) > limits.infusion_agreement_mmHg:
        yield Seen("infusion_mmHg", infusion, round(of_bottle, 1))
