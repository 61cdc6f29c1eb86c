"""Pedal positions 0 to 3, by phase, and the walk that shows every one of them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.clinical import pedal
from voicelist.clinical.settings import PHASES_WITHOUT_POWER
from voicelist.documents.names import PHASES

PRIMER = "an academy's primer on the phacoemulsification platform"


@pytest.mark.parametrize(
    ("position", "on", "source"),
    [
        (0, set(), "Foot pedal nuance, April 2014 (implied)"),
        (1, {"irrigation"}, PRIMER),
        (2, {"irrigation", "aspiration"}, PRIMER),
        (3, {"irrigation", "aspiration", "ultrasound"}, PRIMER),
    ],
)
def test_each_position_adds_one_thing(position: int, on: set[str], source: str) -> None:
    assert pedal.actions(position, "sculpt") == on, source


@pytest.mark.parametrize("phase", PHASES)
def test_ultrasound_is_at_position_3_of_the_phases_that_use_it_alone(phase: str) -> None:
    """Derived: these phases go as far as position 2."""
    deepest = pedal.pedal_map(phase).deepest
    assert (deepest == 2) == (phase in PHASES_WITHOUT_POWER)
    assert ("ultrasound" in pedal.actions(3, phase)) == (phase not in PHASES_WITHOUT_POWER)


@pytest.mark.parametrize("phase", PHASES)
def test_nothing_is_given_without_irrigation(phase: str) -> None:
    """Power needs flow, and aspiration needs inflow: published (The Basics of Fluidics, 2012)."""
    for position in pedal.POSITIONS[1:]:
        assert "irrigation" in pedal.actions(position, phase)


def test_irrigation_is_never_linear() -> None:
    """On or off, no linear control (an academy's primer)."""
    for phase in PHASES:
        assert 1 not in pedal.pedal_map(phase).linear_positions()


def test_in_vitrectomy_the_two_orders_differ_at_position_2() -> None:
    """Cutting at 2, vacuum at 3 for one author (Foot pedal nuance, 2014); the other from memory."""
    assert pedal.CUTTING_FIRST_MAP.at(2) == {"irrigation", "cutting"}
    assert pedal.ASPIRATION_FIRST_MAP.at(2) == {"irrigation", "aspiration"}
    assert pedal.CUTTING_FIRST_MAP.at(3) == pedal.ASPIRATION_FIRST_MAP.at(3)


def test_the_walk_shows_each_position_on_the_way_down_and_back() -> None:
    steps = pedal.walk("quadrant")
    assert [step.position for step in steps] == [1, 2, 3, 2, 1, 0]
    assert [sorted(step.starts) for step in steps] == [
        ["irrigation"],
        ["aspiration"],
        ["ultrasound"],
        [],
        [],
        [],
    ]
    assert [sorted(step.ends) for step in steps] == [
        [],
        [],
        [],
        ["ultrasound"],
        ["aspiration"],
        ["irrigation"],
    ]


@given(st.sampled_from(PHASES), st.lists(st.integers(-1, 5)))
def test_any_walk_adds_up(phase: str, positions: list[int]) -> None:
    now: frozenset[str] = frozenset()
    for step in pedal.walk(phase, positions):
        now = (now | step.starts) - step.ends
        assert now == step.on


@pytest.mark.parametrize(
    ("said", "missing"),
    [
        ((0, 1, 2, 3, 2, 1, 0), None),
        ((3, 2, 3, 2, 1, 0), None),  # one such walk: common practice, no source
        ((1, 2, 3, 0), None),
        ((3, 1, 0), 2),
        ((3, 2, 1), 0),
        ((), 0),
    ],
)
def test_a_walk_shows_every_position_in_any_order(said: tuple[int, ...], missing: object) -> None:
    assert pedal.first_missing(said) == missing


@pytest.mark.parametrize(
    ("travel", "control", "minimum", "expected", "source"),
    [
        (0.0, "linear", 0, 0, "a power modulation article, November 2005"),
        (0.5, "linear", 0, 10, "a power modulation article, November 2005; derived"),
        (1.0, "linear", 0, 20, "a power modulation article, November 2005"),
        (0.5, "linear", 10, 15, "derived"),
        (0.01, "fixed", 0, 20, "from memory"),
        (1.5, "linear", 0, 20, "derived: there is no more travel"),
    ],
)
def test_linear_follows_the_travel_and_fixed_does_not(
    travel: float, control: str, minimum: float, expected: float, source: str
) -> None:
    assert pedal.value_at(travel, 20, control, minimum) == pytest.approx(expected), source
