"""Pulses, duty and effective phaco time; the numbers at the end of a case against each other.

No machine gives its energy in joules: time and mean power are what is logged (Decreasing phaco
energy, November 2004). Effective times of different studies are not comparable.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from voicelist.clinical.sources import Source, require

MS_PER_S = 1000.0
DUTY_SOURCE = Source("published", "duty is on over on plus off (a power modulation article, 2005)")
EFFECTIVE_TIME_SOURCE = Source(
    "from memory", "effective phaco time is ultrasound time times the mean power as a share of one"
)


@dataclass(frozen=True, slots=True)
class Timing:
    """One pulse after another: `period_ms` is `on_time_ms` plus `off_time_ms`."""

    on_time_ms: float
    off_time_ms: float

    @property
    def period_ms(self) -> float:
        return self.on_time_ms + self.off_time_ms

    @property
    def duty_percent(self) -> float:
        """Source: on over on plus off (a power modulation article, November 2005). One journal
        text words it upside down (J Cataract Refract Surg 2014;40:1545-8)."""
        return self.on_time_ms / self.period_ms * 100.0

    @property
    def pulses_per_s(self) -> float:
        return MS_PER_S / self.period_ms


def period_ms(pulses_per_s: float) -> float:
    """The time from one pulse to the next in ms. Source: derived."""
    return MS_PER_S / require("pulses_per_s", pulses_per_s, above=True)


def timing_from(
    *,
    pulses_per_s: float | None = None,
    on_time_ms: float | None = None,
    off_time_ms: float | None = None,
    duty_percent: float | None = None,
) -> Timing | None:
    """The timing that exactly two of the four settle, `period_ms` being another name for the pulse
    rate. None where there are not two, or where no train of pulses has both. Source: derived."""
    given = [pulses_per_s, on_time_ms, off_time_ms, duty_percent]
    if sum(one is not None for one in given) != 2:
        return None
    if any(one is not None and not 0 <= one < float("inf") for one in given):
        return None
    on, off = _on_and_off(pulses_per_s, on_time_ms, off_time_ms, duty_percent)
    if on is None or off is None or on < 0 or off < 0:
        return None
    timing = Timing(on, off)
    return timing if 0 < timing.period_ms < float("inf") and _measurable(timing) else None


def _measurable(timing: Timing) -> bool:
    return timing.period_ms > 1e-9  # shorter than any pulse; keeps the rate finite


def _on_and_off(
    rate: float | None, on: float | None, off: float | None, duty: float | None
) -> tuple[float | None, float | None]:
    if rate is not None:
        if rate == 0:
            return None, None
        period = MS_PER_S / rate
        if duty is not None:
            on = period * duty / 100.0
        elif on is None and off is not None:
            on = period - off
        return on, None if on is None else period - on
    if on is not None and off is not None:
        return on, off
    if duty is None or duty > 100:
        return None, None
    if on is not None:
        return (on, on * (100.0 - duty) / duty) if duty > 0 else (None, None)
    if off is not None:
        return (off * duty / (100.0 - duty), off) if duty < 100 else (None, None)
    return None, None


def timings(
    *,
    pulses_per_s: float | None = None,
    on_time_ms: float | None = None,
    off_time_ms: float | None = None,
    duty_percent: float | None = None,
) -> tuple[Timing | None, ...]:
    """What each two of the given numbers settle; where all fit together these are all alike, and
    None is among them where two contradict each other."""
    given = {
        "pulses_per_s": pulses_per_s,
        "on_time_ms": on_time_ms,
        "off_time_ms": off_time_ms,
        "duty_percent": duty_percent,
    }
    known = {name: value for name, value in given.items() if value is not None}
    return tuple(
        timing_from(**{one: known[one], other: known[other]})
        for one, other in combinations(known, 2)
    )


def mean_power_percent(power_percent: float, duty_percent: float) -> float:
    """Power over the whole train, pauses included. Source: derived."""
    power = require("power_percent", power_percent)
    return power * require("duty_percent", duty_percent) / 100.0


def effective_time_s(ultrasound_s: float, mean_power_percent: float) -> float:
    """Effective phaco time: the seconds that full power would have taken.

    `ultrasound_s` is the time with power on. Source: from memory, the usual definition.
    """
    time = require("ultrasound_s", ultrasound_s)
    return time * require("mean_power_percent", mean_power_percent) / 100.0


def effective_time_of_pedal_s(
    pedal_3_s: float, power_percent: float, duty_percent: float = 100.0
) -> float:
    """Effective phaco time from the time in pedal position 3, pauses between pulses included.

    Source: from memory; which of the two times was meant has to be said with the number.
    """
    return effective_time_s(pedal_3_s, mean_power_percent(power_percent, duty_percent))


@dataclass(frozen=True, slots=True)
class EndOfCase:
    """What the screen shows at the end of a case; None is what nobody said. `ultrasound_s` is the
    time with power on, `pedal_3_s` the whole time in position 3, `duty_percent` the share of it
    with power on."""

    ultrasound_s: float | None = None
    mean_power_percent: float | None = None
    effective_s: float | None = None
    pedal_3_s: float | None = None
    duty_percent: float | None = None

    def power_on_s(self) -> float | None:
        """The time with power on: as said, or by duty of the whole time. Source: derived."""
        if self.ultrasound_s is not None or self.pedal_3_s is None or self.duty_percent is None:
            return self.ultrasound_s
        return self.pedal_3_s * self.duty_percent / 100.0


@dataclass(frozen=True, slots=True)
class Odd:
    """A number that does not go with the others: `heard` against `expected`, both in the unit in
    the name of `quantity`. `why` is the name of the comparison."""

    why: str
    quantity: str
    heard: float
    expected: float


# How far a number on a screen may be off by rounding: project choice.
ROUNDING_S = 0.1
ROUNDING_SHARE = 0.03


def odd_ones(said: EndOfCase, highest_power_percent: float | None = None) -> tuple[Odd, ...]:
    """Numbers of the end of a case that contradict each other, or the highest power of the profile.

    Source: derived from the definition of effective phaco time. Never raises.
    """
    return tuple(_odd_ones(said, highest_power_percent))


def _odd_ones(said: EndOfCase, highest_percent: float | None) -> Iterator[Odd]:
    time, mean, effective = said.power_on_s(), said.mean_power_percent, said.effective_s
    if said.duty_percent is not None and said.duty_percent > 100:
        yield Odd("duty-above-100", "duty_percent", said.duty_percent, 100.0)
    if mean is not None and mean > 100:
        yield Odd("mean-above-100", "mean_power_percent", mean, 100.0)
    elif mean is not None and highest_percent is not None and mean > highest_percent:
        yield Odd("mean-above-highest", "mean_power_percent", mean, highest_percent)
    yield from _odd_times(said)
    if effective is None or time is None:
        return
    if effective > time + ROUNDING_S:
        yield Odd("effective-above-time", "effective_s", effective, time)
    elif mean is not None and 0 <= mean <= 100 and time >= 0:
        expected = time * mean / 100.0
        if _differ(effective, expected):
            yield Odd("effective-not-product", "effective_s", effective, expected)


def _odd_times(said: EndOfCase) -> Iterator[Odd]:
    """The time with power on against the whole time in position 3 and the duty."""
    time, whole, duty = said.ultrasound_s, said.pedal_3_s, said.duty_percent
    if time is None or whole is None:
        return
    if time > whole + ROUNDING_S:
        yield Odd("time-above-pedal", "ultrasound_s", time, whole)
    elif duty is not None and 0 <= duty <= 100 and whole >= 0:
        expected = whole * duty / 100.0
        if _differ(time, expected):
            yield Odd("time-not-share", "ultrasound_s", time, expected)


def _differ(said: float, expected: float) -> bool:
    return abs(said - expected) > max(ROUNDING_S, expected * ROUNDING_SHARE)
