"""Fluidics against other means: a library of units, a solver of differential equations."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from voicelist.clinical import fluidics

UNITS = pint.UnitRegistry()
MEASURED = st.floats(0, 1e4)


@pytest.mark.parametrize("bottle_cm", [1, 15, 19, 30, 60, 65, 75, 90, 110, 120, 135, 150])
def test_heights_become_the_pressures_that_a_library_of_units_gives(bottle_cm: float) -> None:
    """pint: one centimetre of water (conventional) in millimetres of mercury."""
    given_by_pint = UNITS.Quantity(bottle_cm, "centimeter_H2O").to("millimeter_Hg").magnitude
    assert fluidics.pressure_mmHg(bottle_cm) == pytest.approx(given_by_pint, rel=1e-4)


@pytest.mark.parametrize("mmHg", [1, 10, 30, 44.13, 55, 80, 110])
def test_pressures_become_the_heights_that_a_library_of_units_gives(mmHg: float) -> None:
    given_by_pint = UNITS.Quantity(mmHg, "millimeter_Hg").to("centimeter_H2O").magnitude
    assert fluidics.bottle_cm(mmHg) == pytest.approx(given_by_pint, rel=1e-4)


@pytest.mark.parametrize(
    ("constant", "expected", "tolerance", "source"),
    [
        ("millimeter_Hg in pascal", 133.322, 0.001, "NIST SP 811, appendix B.8 (from memory)"),
        ("centimeter_H2O in pascal", 98.0665, 0.005, "NIST SP 811, appendix B.8 (from memory)"),
        ("mmHg per cm of water", 0.7356, 0.0001, "derived from mercury at 13.5951 g/cm3"),
    ],
)
def test_the_constants_behind_the_pressures(
    constant: str, expected: float, tolerance: float, source: str
) -> None:
    values = {
        "millimeter_Hg in pascal": UNITS.Quantity(1, "millimeter_Hg").to("pascal").magnitude,
        "centimeter_H2O in pascal": fluidics.MMHG_PER_CM_OF_WATER
        * UNITS.Quantity(1, "millimeter_Hg").to("pascal").magnitude,
        "mmHg per cm of water": fluidics.MMHG_PER_CM_OF_WATER,
    }
    assert values[constant] == pytest.approx(expected, abs=tolerance), source


@given(MEASURED)
def test_height_and_pressure_are_each_others_inverse(height_cm: float) -> None:
    assert fluidics.bottle_cm(fluidics.pressure_mmHg(height_cm)) == pytest.approx(height_cm)


@pytest.mark.parametrize(
    ("bottle_cm", "measured_mmHg"),
    [(65, (50, 60)), (19, (20, 30))],
)
def test_the_hydrostatic_pressure_lies_below_what_was_measured_in_pig_eyes(
    bottle_cm: float, measured_mmHg: tuple[float, float]
) -> None:
    """Effect of bottle height on the corneal endothelium, doi 10.1016/j.jcrs.2009.05.057: the head
    alone is not what the eye has."""
    assert fluidics.pressure_mmHg(bottle_cm) < measured_mmHg[0]


@pytest.mark.parametrize(
    ("infusion_mmHg", "outflow", "resistance", "compliance"),
    [(44.1, 35, 0.5, 0.002), (80, 20, 1.0, 0.005), (30, 60, 0.4, 0.001), (55, 0, 0.5, 0.003)],
)
def test_the_pressure_while_fluid_flows_is_what_a_solver_finds(
    infusion_mmHg: float, outflow: float, resistance: float, compliance: float
) -> None:
    """C dP/dt = (P_infusion - P) / R - Q, solved numerically by scipy; time in seconds."""

    def change(_: float, pressure: np.ndarray) -> np.ndarray:
        inflow = (infusion_mmHg - pressure) / resistance
        return np.asarray((inflow - outflow) / compliance / 60.0)

    times = np.linspace(0.0, 1.0, 21)
    solved = solve_ivp(change, (0, 1), [infusion_mmHg], t_eval=times, rtol=1e-9, atol=1e-9)
    for time_s, pressure in zip(times, solved.y[0], strict=True):
        computed = fluidics.chamber_pressure_after_mmHg(
            time_s, infusion_mmHg, outflow, resistance, compliance
        )
        assert computed == pytest.approx(pressure, abs=1e-5)
    settled = solve_ivp(change, (0, 60), [infusion_mmHg], rtol=1e-9, atol=1e-9).y[0][-1]
    assert fluidics.chamber_pressure_mmHg(infusion_mmHg, outflow, resistance) == pytest.approx(
        settled, abs=1e-4
    )


@pytest.mark.parametrize(
    ("vacuum_mmHg", "flow", "compliance"), [(300, 20, 0.002), (400, 40, 0.004), (600, 60, 0.001)]
)
def test_the_rise_to_a_vacuum_takes_as_long_as_a_solver_finds(
    vacuum_mmHg: float, flow: float, compliance: float
) -> None:
    """C dP/dt = Q until the limit, by scipy with an event at the limit; time in seconds."""

    def reached(_: float, vacuum: np.ndarray) -> float:
        return float(vacuum[0]) - vacuum_mmHg

    reached.terminal = True  # type: ignore[attr-defined]  # how scipy is told to stop there
    solved = solve_ivp(
        lambda _, vacuum: [flow / compliance / 60.0], (0, 60), [0.0], events=reached, rtol=1e-10
    )
    expected_s = float(solved.t_events[0][0])
    assert fluidics.rise_time_to_s(vacuum_mmHg, flow, compliance) == pytest.approx(expected_s)


@given(st.floats(0.1, 100), st.floats(1, 100), st.floats(1, 100))
def test_both_models_of_the_rise_agree(vacuum_mmHg: float, one: float, other: float) -> None:
    known_s = fluidics.rise_time_to_s(vacuum_mmHg, one, 0.003)
    by_inverse = fluidics.rise_time_s(known_s, one, other)
    assert by_inverse == pytest.approx(fluidics.rise_time_to_s(vacuum_mmHg, other, 0.003))


def test_three_times_the_flow_rises_in_a_third_of_the_time() -> None:
    """The classic 4 s at 20 cc/min and about 1.3 s at 60: from memory; only the ratio is used."""
    assert fluidics.rise_time_s(4.0, 20, 60) == pytest.approx(4.0 / 3.0)


def test_a_low_bottle_with_a_high_flow_is_unstable_and_a_higher_bottle_mends_it() -> None:
    low, high = (
        fluidics.balance(fluidics.pressure_mmHg(cm), 40, 5, 0.5, least_chamber_mmHg=10)
        for cm in (40, 60)
    )
    assert not low.stable
    assert low.margin_cc_per_min == pytest.approx(2 * (29.42 - 10) - 45, abs=0.05)
    assert high.stable


@pytest.mark.parametrize(
    ("change", "better"),
    [
        ({"infusion_mmHg": 60}, True),  # more height (Phacodynamics, 4th ed., excerpt)
        ({"aspiration_cc_per_min": 20}, True),  # lower flow (several variables affect surge)
        ({"leakage_cc_per_min": 15}, False),  # leakage counts (The Basics of Fluidics)
        ({"resistance_mmHg_min_per_cc": 1.0}, False),  # from memory
    ],
)
def test_the_margin_moves_as_the_sources_say(change: dict[str, float], better: bool) -> None:
    usual = {
        "infusion_mmHg": 44.1,
        "aspiration_cc_per_min": 30,
        "leakage_cc_per_min": 5,
        "resistance_mmHg_min_per_cc": 0.5,
    }
    before = fluidics.balance(**usual).margin_cc_per_min
    after = fluidics.balance(**(usual | change)).margin_cc_per_min
    assert (after > before) == better


@given(st.floats(1, 150), st.floats(0, 60), st.floats(0, 15), st.floats(0.1, 2), st.floats(0, 30))
def test_a_chamber_is_stable_exactly_while_it_keeps_its_least_pressure(
    infusion: float, aspiration: float, leakage: float, resistance: float, least: float
) -> None:
    found = fluidics.balance(infusion, aspiration, leakage, resistance, least)
    if abs(found.margin_cc_per_min) > 1e-6 and infusion >= least:
        assert found.stable == (found.chamber_mmHg >= least)


def test_a_tube_flows_as_the_law_says_in_the_units_of_a_library() -> None:
    """Q = pi r^4 dP / (8 eta L), with pint doing every conversion."""
    radius = UNITS.Quantity(0.45, "millimeter")
    pressure = UNITS.Quantity(50, "millimeter_Hg")
    viscosity = UNITS.Quantity(1.0, "millipascal second")
    length = UNITS.Quantity(30, "millimeter")
    flow = math.pi * radius**4 * pressure / (8 * viscosity * length)
    assert fluidics.poiseuille_flow_cc_per_min(0.9, 30, 50) == pytest.approx(
        flow.to("milliliter / minute").magnitude, rel=1e-6
    )


@given(st.floats(0.1, 3), st.floats(0.1, 3), st.floats(1, 1000), st.floats(1, 1000))
def test_the_ratio_of_two_tubes_is_that_of_their_flows(
    bore: float, other: float, length: float, other_length: float
) -> None:
    flows = [
        fluidics.poiseuille_flow_cc_per_min(one, of, 40)
        for one, of in ((bore, length), (other, other_length))
    ]
    ratio = fluidics.flow_ratio(bore, other, length, other_length)
    assert ratio == pytest.approx(flows[0] / flows[1])


@pytest.mark.parametrize(
    "compute",
    [
        lambda: fluidics.pressure_mmHg(-1),
        lambda: fluidics.bottle_cm(float("nan")),
        lambda: fluidics.turnover_per_min(40, 0),
        lambda: fluidics.rise_time_s(4, 20, 0),
        lambda: fluidics.flow_ratio(1.1, 0),
        lambda: fluidics.balance(44, 30, 5, 0),
        lambda: fluidics.chamber_pressure_mmHg(float("inf"), 30, 0.5),
        lambda: fluidics.chamber_pressure_after_mmHg(1, 44, 30, 0.5, 0),
        lambda: fluidics.poiseuille_flow_cc_per_min(0.9, 0, 50),
    ],
)
def test_what_cannot_be_measured_is_refused_by_name(compute: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="is needed"):
        compute()
