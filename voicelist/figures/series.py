"""The numbers behind the pictures of settings: points to be joined, in the units of their names.

Pure; every formula is one of `voicelist.clinical`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from voicelist.clinical.energy import MS_PER_S, Timing, mean_power_percent, timings
from voicelist.clinical.fluidics import chamber_pressure_mmHg, rise_time_s
from voicelist.clinical.pedal import pedal_map, value_at
from voicelist.clinical.settings import UNITS
from voicelist.documents.card import Modulation, Setting, Settings
from voicelist.errors import UsageError

Point = tuple[float, float]
_STEPS = 20
# Pulse mode alone has a pause as long as the pulse (Pulse programming with variable duty cycle
# modifies energy delivery, June 2007).
USUAL_DUTY_PERCENT = 50.0
_SHOWN_PERIODS = 5
_CONTINUOUS_MS = 100.0
# Which action of the pedal a quantity belongs to.
_ACTION_OF = {
    "flow_cc_per_min": "aspiration",
    "vacuum_mmHg": "aspiration",
    "power_percent": "ultrasound",
}


@dataclass(frozen=True, slots=True)
class Trace:
    """One quantity over the pedal's travel. Positions are one unit of travel each: position 2 is
    from 2 to 3. `points` are (travel, value); a jump is two points at one travel."""

    quantity: str
    unit: str
    control: str
    minimum: float
    value: float
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Travel:
    """What the pedal gives in one phase. `deepest` is the last position that it uses."""

    phase: str
    deepest: int
    irrigation: tuple[Point, ...]
    traces: tuple[Trace, ...]


def pedal_travel(phase: str, settings: Settings) -> Travel:
    """Every quantity of a card's phase that the pedal gives, over its travel from 0 to the end of
    the last position that the phase uses."""
    pedal = pedal_map(phase)
    traces = []
    for quantity, action in _ACTION_OF.items():
        setting = getattr(settings, quantity)
        begins = [at for at in range(pedal.deepest + 1) if action in pedal.at(at)]
        if setting is not None and begins:
            traces.append(_trace(quantity, setting, begins[0], pedal.deepest))
    flows = next(at for at in range(pedal.deepest + 1) if "irrigation" in pedal.at(at))
    irrigation = ((0.0, 0.0), (float(flows), 0.0), (float(flows), 1.0), (pedal.deepest + 1.0, 1.0))
    return Travel(phase, pedal.deepest, irrigation, tuple(traces))


def _trace(quantity: str, setting: Setting, begins: int, deepest: int) -> Trace:
    """Nothing before the position that begins it, varied within that, kept beyond (one surgeon's
    soft quadrant: aspiration rises first, then power, Clin Ophthalmol 2015;9:1563-72)."""
    minimum = setting.minimum or 0.0
    within = [
        (begins + share, value_at(share, setting.value, setting.control, minimum))
        for share in (0.0, 1.0)
    ]
    points = [(0.0, 0.0), (float(begins), 0.0), *within, (deepest + 1.0, within[-1][1])]
    return Trace(
        quantity,
        UNITS[quantity],
        setting.control,
        minimum if setting.control == "linear" else setting.value,
        setting.value,
        tuple(dict.fromkeys(points)),
    )


@dataclass(frozen=True, slots=True)
class Train:
    """Power against time. `timing` is None where ultrasound is continuous; `assumed` says what the
    card leaves open and the picture had to take, or "". `on_occlusion`: pulses wait for that."""

    power_percent: float
    mean_percent: float
    timing: Timing | None
    points: tuple[Point, ...]
    assumed: str = ""
    on_occlusion: bool = False

    @property
    def until_ms(self) -> float:
        return self.points[-1][0]


def pulse_train(power_percent: float, modulation: Modulation | None) -> Train:
    """The pulses of a modulation at full pedal. Raises UsageError where its times contradict each
    other or do not settle a train."""
    if modulation is None or modulation.kind == "continuous":
        level = ((0.0, power_percent), (_CONTINUOUS_MS, power_percent))
        assumed = "" if modulation else "The card says nothing of pulses: drawn as continuous."
        return Train(power_percent, power_percent, None, level, assumed)
    timing, assumed = _timing(modulation)
    points = tuple(_square(power_percent, timing))
    mean = mean_power_percent(power_percent, timing.duty_percent)
    waits = bool(modulation.on_occlusion)
    return Train(power_percent, mean, timing, points, assumed, waits)


def _timing(modulation: Modulation) -> tuple[Timing, str]:
    given = {
        name: value
        for name in ("pulses_per_s", "on_time_ms", "off_time_ms", "duty_percent")
        if (value := getattr(modulation, name)) is not None
    }
    assumed = ""
    if set(given) == {"pulses_per_s"}:
        given["duty_percent"] = USUAL_DUTY_PERCENT
        assumed = "The card gives no duty: drawn with pauses as long as the pulses (50%)."
    if len(given) < 2:
        raise UsageError(
            "A train of pulses needs two of pulses per second, duty, on time and off time: "
            f"the card gives {', '.join(given) or 'none'}."
        )
    trains = timings(**given)
    first = trains[0]
    if first is None or any(one is None or not _alike(first, one) for one in trains):
        told = ", ".join(f"{name} {value:g}" for name, value in given.items())
        raise UsageError(f"No train of pulses has all of {told}.")
    return first, assumed


def _alike(one: Timing, other: Timing) -> bool:
    apart = max(abs(one.on_time_ms - other.on_time_ms), abs(one.off_time_ms - other.off_time_ms))
    return apart <= 0.01 * one.period_ms  # figures on a card are rounded


def _square(power: float, timing: Timing) -> Iterable[Point]:
    for number in range(_SHOWN_PERIODS):
        start = number * timing.period_ms
        end = start + timing.on_time_ms
        yield from ((start, 0.0), (start, power), (end, power), (end, 0.0))
    yield (_SHOWN_PERIODS * timing.period_ms, 0.0)


@dataclass(frozen=True, slots=True)
class Rise:
    """Vacuum behind an occluded tip at one flow: (s, mmHg), from rest to the limit and on."""

    flow_cc_per_min: float
    reached_s: float
    points: tuple[Point, ...]


def vacuum_rises(
    limit_mmHg: float, flows_cc_per_min: Sequence[float], known_s: float, known_flow: float
) -> tuple[Rise, ...]:
    """Vacuum against time for several flows, all up to the end of the slowest, once the time to
    this limit is known at one flow."""
    times = [rise_time_s(known_s, known_flow, flow) for flow in flows_cc_per_min]
    end_s = max(times) * 1.15
    return tuple(
        Rise(flow, time, ((0.0, 0.0), (time, limit_mmHg), (end_s, limit_mmHg)))
        for flow, time in zip(flows_cc_per_min, times, strict=True)
    )


@dataclass(frozen=True, slots=True)
class Fall:
    """Pressure in the eye against aspiration flow with one leakage: (cc/min, mmHg)."""

    leakage_cc_per_min: float
    points: tuple[Point, ...]


def chamber_falls(
    infusion_mmHg: float,
    resistance_mmHg_min_per_cc: float,
    until_cc_per_min: float,
    leakages_cc_per_min: Sequence[float],
) -> tuple[Fall, ...]:
    """How the pressure in the eye falls as more is aspirated, for several leakages."""
    flows = [until_cc_per_min * step / _STEPS for step in range(_STEPS + 1)]
    return tuple(
        Fall(
            leakage,
            tuple(
                (
                    flow,
                    chamber_pressure_mmHg(
                        infusion_mmHg, flow + leakage, resistance_mmHg_min_per_cc
                    ),
                )
                for flow in flows
            ),
        )
        for leakage in leakages_cc_per_min
    )


def shown_rate(timing: Timing) -> str:
    """ "40 pulses/s: 6 ms on, 19 ms off, duty 24%"."""
    return (
        f"{MS_PER_S / timing.period_ms:.4g} pulses/s: {timing.on_time_ms:.3g} ms on, "
        f"{timing.off_time_ms:.3g} ms off, duty {timing.duty_percent:.3g}%"
    )
