"""The numbers behind the pictures, against what is known from elsewhere."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.documents.card import Modulation, Settings
from voicelist.errors import UsageError
from voicelist.figures.series import chamber_falls, pedal_travel, pulse_train, vacuum_rises


def settings(**quantities: Any) -> Settings:
    return Settings.model_validate(quantities)


def setting(value: float, control: str, minimum: float | None = None) -> dict[str, Any]:
    known = {"value": float(value), "control": control, "tolerance": 0.0}
    return known if minimum is None else {**known, "minimum": minimum}


def modulation(**parts: Any) -> Modulation:
    return Modulation.model_validate(parts)


QUADRANT = settings(
    power_percent=setting(20, "linear"),
    vacuum_mmHg=setting(300, "fixed"),
    flow_cc_per_min=setting(30, "fixed"),
)


def at(points: tuple[tuple[float, float], ...], travel: float) -> float:
    """The value just before a place on the travel."""
    xs, ys = zip(*points, strict=True)
    return float(np.interp(travel - 1e-9, xs, ys))


# Positions 0 nothing, 1 irrigation, 2 aspiration with irrigation, 3 ultrasound; power 20% linear
# from 0, vacuum 300 mmHg and flow 30 cc/min fixed: common practice, no source.
@pytest.mark.parametrize(
    ("travel", "irrigation", "flow", "vacuum", "power"),
    [
        (0.5, 0, 0, 0, 0),
        (1.5, 1, 0, 0, 0),
        (2.01, 1, 30, 300, 0),
        (2.9, 1, 30, 300, 0),
        (3.5, 1, 30, 300, 10),
        (4.0, 1, 30, 300, 20),
    ],
)
def test_each_position_of_the_pedal_gives_what_it_is_for(
    travel: float, irrigation: float, flow: float, vacuum: float, power: float
) -> None:
    found = pedal_travel("quadrant", QUADRANT)
    given_there = {trace.quantity: at(trace.points, travel) for trace in found.traces}
    assert at(found.irrigation, travel) == irrigation
    assert given_there == pytest.approx(
        {"flow_cc_per_min": flow, "vacuum_mmHg": vacuum, "power_percent": power}, abs=1e-6
    )


def test_a_linear_setting_rises_from_its_minimum_within_its_position() -> None:
    card = settings(vacuum_mmHg=setting(400, "linear", 100.0))
    (trace,) = pedal_travel("chop", card).traces
    assert (trace.minimum, trace.value) == (100, 400)
    middle, end = at(trace.points, 2.5), at(trace.points, 3.7)
    assert (at(trace.points, 1.9), middle, end) == pytest.approx((0, 250, 400))


@pytest.mark.parametrize("phase", ["cortex", "polish", "viscoelastic"])
def test_a_phase_of_irrigation_and_aspiration_ends_with_position_2(phase: str) -> None:
    found = pedal_travel(phase, settings(vacuum_mmHg=setting(400, "linear")))
    assert found.deepest == 2
    assert found.traces[0].points[-1][0] == 3


def test_what_the_card_leaves_out_is_not_drawn() -> None:
    found = pedal_travel("sculpt", settings(power_percent=setting(50, "linear")))
    assert [trace.quantity for trace in found.traces] == ["power_percent"]


def test_6_ms_at_40_a_second_have_a_duty_of_24_percent() -> None:
    # Common practice, no source: 6 ms on at 40 pulses per second.
    train = pulse_train(20, modulation(kind="pulse", pulses_per_s=40.0, on_time_ms=6.0))
    assert train.timing is not None
    assert train.timing.duty_percent == pytest.approx(24)
    assert train.mean_percent == pytest.approx(4.8)
    assert train.until_ms == pytest.approx(125)


def test_6_ms_on_and_10_ms_off_are_37_5_percent_and_62_5_pulses() -> None:
    # Inputs: ASCRS 2014, paper 5458; duty and rate derived.
    train = pulse_train(100, modulation(kind="pulse", on_time_ms=6.0, off_time_ms=10.0))
    assert train.mean_percent == pytest.approx(37.5)
    assert train.until_ms == pytest.approx(5 * 1000 / 62.5)


def test_a_rate_alone_is_drawn_with_pauses_as_long_as_the_pulses_and_says_so() -> None:
    # Pulse mode alone: on = off (Pulse programming with variable duty cycle, June 2007).
    train = pulse_train(40, modulation(kind="pulse", pulses_per_s=30.0))
    assert train.mean_percent == pytest.approx(20)
    assert "gives no duty" in train.assumed


@given(
    st.floats(1, 100),
    st.floats(1, 200),
    st.floats(1, 100),
)
def test_the_area_below_a_train_is_its_mean_power(power: float, rate: float, duty: float) -> None:
    train = pulse_train(power, modulation(kind="pulse", pulses_per_s=rate, duty_percent=duty))
    xs, ys = zip(*train.points, strict=True)
    area = float(np.trapezoid(ys, xs)) if hasattr(np, "trapezoid") else float(np.trapz(ys, xs))
    assert area == pytest.approx(power * duty / 100 * train.until_ms, rel=1e-6)


@pytest.mark.parametrize("kind", ["pulse", "burst"])
def test_times_that_contradict_each_other_are_not_drawn(kind: str) -> None:
    with pytest.raises(UsageError, match="pulses_per_s 50"):
        pulse_train(40, modulation(kind=kind, pulses_per_s=50.0, on_time_ms=30.0))
    three = modulation(kind=kind, pulses_per_s=50.0, on_time_ms=10.0, duty_percent=40.0)
    with pytest.raises(UsageError, match="duty_percent 40"):
        pulse_train(40, three)
    with pytest.raises(UsageError, match="needs two"):
        pulse_train(40, modulation(kind=kind, on_time_ms=10.0))


def test_three_times_that_agree_are_drawn() -> None:
    three = modulation(kind="pulse", pulses_per_s=30.0, on_time_ms=13.33, duty_percent=40.0)
    timing = pulse_train(40, three).timing
    assert timing is not None
    assert timing.off_time_ms == pytest.approx(20, abs=0.01)  # 30 pulses, 40%: derived


def test_without_modulation_power_is_continuous_and_the_picture_says_what_it_took() -> None:
    assert pulse_train(40, None).timing is None
    assert "continuous" in pulse_train(40, None).assumed
    assert pulse_train(40, modulation(kind="continuous")).assumed == ""


# From memory, the inverse model: about 4 s at 20 cc/min, 2 s at 40.
@pytest.mark.parametrize(("flow", "seconds"), [(20, 4), (40, 2), (80, 1)])
def test_vacuum_rises_the_faster_the_more_flow(flow: float, seconds: float) -> None:
    (rise,) = vacuum_rises(350, (flow,), 4.0, 20.0)
    assert rise.reached_s == pytest.approx(seconds)
    assert rise.points[1] == (pytest.approx(seconds), 350)
    assert rise.points[-1][0] > seconds


def test_the_pressure_in_the_eye_falls_from_that_of_the_infusion() -> None:
    dry, leaking = chamber_falls(60.0, 0.5, 40.0, (0.0, 15.0))
    assert dry.points[0] == (0, 60)
    assert dry.points[-1] == (40, pytest.approx(60 - 0.5 * 40))
    assert leaking.points[-1] == (40, pytest.approx(60 - 0.5 * 55))
