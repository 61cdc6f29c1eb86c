"""Positions, axes, clock and names against complex numbers."""

from __future__ import annotations

import cmath
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.clinical import incision

EYES = ("right", "left")
POSITIONS = st.floats(0, 360, exclude_max=True)
ISO = "ISO 8429:1986; derived"


def on_circle(position_deg: float) -> complex:
    """Facing the patient: the real axis points to the observer's right, the imaginary one up."""
    return cmath.exp(1j * math.radians(position_deg))


@given(POSITIONS, POSITIONS)
def test_separation_is_the_angle_between_complex_numbers(one: float, other: float) -> None:
    expected = abs(math.degrees(cmath.phase(on_circle(one) / on_circle(other))))
    assert incision.separation_deg(one, other) == pytest.approx(expected, abs=1e-5)


@given(POSITIONS, POSITIONS)
def test_axes_are_compared_as_squares_of_complex_numbers(one: float, other: float) -> None:
    """Squaring makes opposite directions equal."""
    turn = cmath.phase(on_circle(one) ** 2 / on_circle(other) ** 2)
    expected = abs(math.degrees(turn)) / 2
    assert incision.axis_difference_deg(one, other) == pytest.approx(expected, abs=1e-5)


@given(st.floats(0, 12))
def test_a_clock_hour_is_a_hand_turned_clockwise_from_the_top(hour: float) -> None:
    hand = 1j * cmath.exp(-2j * math.pi * hour / 12)
    assert abs(on_circle(incision.position_of_hour(hour)) - hand) < 1e-9


@given(POSITIONS)
def test_hour_and_position_are_each_others_inverse(position: float) -> None:
    back = incision.position_of_hour(incision.hour_of_position(position))
    assert incision.separation_deg(back, position) == pytest.approx(0, abs=1e-9)


@given(st.floats(0, 12))
def test_from_the_head_the_clock_is_turned_by_half_a_circle(hour: float) -> None:
    seen = incision.position_of_hour(incision.hour_from_the_head(hour))
    assert abs(on_circle(seen) + on_circle(incision.position_of_hour(hour))) < 1e-9


@pytest.mark.parametrize(
    ("position", "axis"),
    [(0, 180), (10, 10), (90, 90), (180, 180), (190, 10), (270, 90), (350, 170), (360, 180)],
)
def test_the_axis_of_a_position_is_above_0_and_the_horizontal_one_is_180(
    position: float, axis: float
) -> None:
    """Axes 0 to 180, positions to 360 (ISO 8429:1986); 180 for the horizontal is from memory."""
    assert incision.axis_deg(position) == axis


def test_10_and_190_are_one_axis_and_two_places() -> None:
    assert incision.same_axis(10, 190)
    assert incision.position_deg(10) != incision.position_deg(190)
    assert incision.separation_deg(10, 190) == 180
    assert incision.side_of(10, "right") == "nasal"
    assert incision.side_of(190, "right") == "temporal"


@pytest.mark.parametrize(
    ("eye", "name", "position"),
    [
        ("right", "temporal", 180),
        ("right", "nasal", 0),
        ("right", "superior", 90),
        ("right", "inferior", 270),
        ("left", "temporal", 0),
        ("left", "nasal", 180),
        ("left", "superior", 90),
        ("left", "inferior", 270),
    ],
)
def test_places_by_name_in_both_eyes(eye: str, name: str, position: float) -> None:
    assert incision.position_of(name, eye) == position, ISO
    assert incision.side_of(position, eye) == name, ISO


@given(POSITIONS)
def test_the_eyes_mirror_each_other(position: float) -> None:
    mirrored = incision.position_deg(180 - position)
    right, left = incision.side_of(position, "right"), incision.side_of(mirrored, "left")
    edges = [45, 135, 225, 315]
    if min(incision.separation_deg(position, edge) for edge in edges) > 1e-6:
        assert right == left


@pytest.mark.parametrize("main", [0, 10, 65, 180, 300, 355])
def test_90_degrees_apart_is_90_wherever_the_main_incision_is(main: float) -> None:
    """About 90 degrees between main incision and side port, at 65 degrees for one: common practice,
    no source. Checked on complex numbers: a quarter turn is a factor of i."""
    for turn, hand in ((1j, "right"), (-1j, "left")):
        side = math.degrees(cmath.phase(on_circle(main) * turn))
        assert incision.separation_deg(main, side) == pytest.approx(90)
        assert incision.hand_of_side_port(main, side) == hand


@given(POSITIONS, POSITIONS)
def test_the_hand_at_the_side_port_is_that_of_a_person_facing_the_eye(
    main: float, side: float
) -> None:
    """Seated at the main incision and looking inwards, left is a quarter turn from the gaze."""
    gaze = -on_circle(main)
    towards_left = (on_circle(side) / (gaze * 1j)).real
    if abs(towards_left) > 1e-6:
        expected = "left" if towards_left > 0 else "right"
        assert incision.hand_of_side_port(main, side) == expected


def test_opposite_and_equal_places_belong_to_no_hand() -> None:
    assert incision.hand_of_side_port(90, 270) == ""
    assert incision.hand_of_side_port(90, 90) == ""


@pytest.mark.parametrize(
    ("main", "eye", "side", "hand_rest"),
    [
        (180, "right", "temporal", True),
        (0, "left", "temporal", True),
        (90, "right", "superior", False),
        (100, "left", "superior", False),
        (15, "left", "temporal", True),
    ],
)
def test_the_seat_faces_the_main_incision(
    main: float, eye: str, side: str, hand_rest: bool
) -> None:
    """Common practice, no source: at the head for superior, at the temple with a hand rest."""
    assert incision.seat_for(main, eye) == incision.Seat(side, hand_rest)


@pytest.mark.parametrize(("name", "eye"), [("above", "right"), ("temporal", "both")])
def test_an_unknown_place_or_eye_is_refused(name: str, eye: str) -> None:
    with pytest.raises(ValueError, match="no place"):
        incision.position_of(name, eye)


@given(st.floats(-1e6, 1e6))
def test_every_angle_is_one_position(degrees: float) -> None:
    position = incision.position_deg(degrees)
    assert 0 <= position < 360
    assert abs(on_circle(position) - on_circle(degrees)) < 1e-5
