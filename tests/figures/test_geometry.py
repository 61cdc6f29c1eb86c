"""Where the parts of an eye stand in its picture, by complex numbers."""

from __future__ import annotations

import cmath
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.figures.geometry import eye_picture

positions = st.floats(0, 359.999, allow_nan=False)


def turned(position: float, by: float) -> complex:
    return cmath.exp(1j * math.radians(position)) * cmath.exp(1j * math.radians(by))


@given(st.sampled_from(["left", "right"]), positions, positions)
def test_from_the_seat_the_main_incision_is_at_the_lower_edge(
    eye: str, main: float, port: float
) -> None:
    picture = eye_picture(eye, main, port, "seat")
    assert complex(*picture.at(main)) == pytest.approx(-1j, abs=1e-9)
    assert complex(*picture.at(port)) == pytest.approx(turned(port, 270 - main), abs=1e-9)


@given(positions, positions)
def test_facing_the_patient_positions_are_those_of_the_standard(main: float, port: float) -> None:
    picture = eye_picture("right", main, port, "front")
    assert complex(*picture.at(port)) == pytest.approx(turned(port, 0), abs=1e-9)


# ISO 8429: 0 at the observer's right, counter-clockwise, both eyes alike; the sides are derived.
@pytest.mark.parametrize(
    ("eye", "temporal", "nasal"), [("right", (-1, 0), (1, 0)), ("left", (1, 0), (-1, 0))]
)
def test_facing_the_patient_temporal_is_outwards(
    eye: str, temporal: tuple[float, float], nasal: tuple[float, float]
) -> None:
    picture = eye_picture(eye, 90, 180, "front")
    places = {name: picture.at(position) for name, position in picture.sides()}
    assert places["temporal"] == pytest.approx(temporal, abs=1e-9)
    assert places["nasal"] == pytest.approx(nasal, abs=1e-9)
    assert places["superior"] == pytest.approx((0, 1), abs=1e-9)
    assert places["inferior"] == pytest.approx((0, -1), abs=1e-9)


@given(positions, positions, st.sampled_from(["seat", "front"]))
def test_the_arc_joins_the_two_the_shorter_way(main: float, port: float, seen: str) -> None:
    picture = eye_picture("left", main, port, seen)
    ends = [complex(*picture.at(main)), complex(*picture.at(port))]
    arc = [complex(*point) for point in picture.arc]
    assert [arc[0], arc[-1]] == pytest.approx(ends, abs=1e-6)
    assert all(abs(one) == pytest.approx(1) for one in arc)
    chord = abs(ends[0] - ends[1])
    assert picture.separation_deg == pytest.approx(2 * math.degrees(math.asin(min(chord / 2, 1))))
    if picture.separation_deg < 179:
        middle = (ends[0] + ends[1]) / abs(ends[0] + ends[1])
        assert arc[len(arc) // 2] == pytest.approx(middle, abs=1e-6)


# Worked examples, derived: 180 and 100 are 80 apart; 10 and 290 are 80 apart across 0; 40 and 130
# are 90 apart (about 90 wherever the main incision is: common practice, no source).
@pytest.mark.parametrize(
    ("main", "port", "apart", "hand"),
    [(180, 100, 80, "left"), (10, 290, 80, "left"), (40, 130, 90, "right"), (0, 180, 180, "")],
)
def test_how_far_apart_and_under_which_hand(
    main: float, port: float, apart: float, hand: str
) -> None:
    picture = eye_picture("right", main, port, "seat")
    assert (picture.separation_deg, picture.hand) == (apart, hand)
    x, _ = picture.at(port)
    sideways = "" if abs(x) < 1e-9 else "right" if x > 0 else "left"
    assert sideways == hand, "as it looks from the seat"


def test_10_and_190_are_one_axis_and_two_places() -> None:
    here, there = (eye_picture("left", main, 100, "front") for main in (10.0, 190.0))
    assert complex(*here.at(here.main_deg)) == pytest.approx(-complex(*there.at(there.main_deg)))


def test_an_unknown_place_to_look_from_is_refused() -> None:
    with pytest.raises(ValueError, match="ceiling"):
        eye_picture("left", 0, 90, "ceiling")
