"""Grades on their own scales: limits, decimals, edges; never one scale for another."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.clinical import grade

CHYLACK = "Chylack et al., Arch Ophthalmol 1993;111:831-6"
LOCS3 = ("locs3-no", "locs3-nc")


@pytest.mark.parametrize(
    ("scale", "value", "fits", "source"),
    [
        ("locs3-no", 0.0, False, "0.1 to 6.9 in public data models"),
        ("locs3-no", 0.1, True, "0.1 to 6.9 in public data models"),
        ("locs3-nc", 6.9, True, "Taiwan J Ophthalmol, a study of nuclear size"),
        ("locs3-nc", 7.0, False, "Taiwan J Ophthalmol, a study of nuclear size"),
        ("clinical", 0, True, "from memory"),
        ("clinical", 4, True, "from memory"),
        ("clinical", 4.5, False, "from memory"),
        ("hardness", 1, True, "from memory"),
        ("hardness", 0, False, "from memory"),
        ("hardness", 5, True, "from memory"),
        ("hardness", 6, False, "from memory"),
        ("another", 1, False, "no such scale"),
    ],
)
def test_the_limits_of_each_scale(scale: str, value: float, fits: bool, source: str) -> None:
    assert grade.on_scale(scale, value) == fits, source


@pytest.mark.parametrize("scale", LOCS3)
def test_the_tolerance_of_locs_iii_is_the_published_one(scale: str) -> None:
    assert grade.SCALES[scale].tolerance == 0.7, CHYLACK


@pytest.mark.parametrize(
    ("scale", "value", "fits"),
    [
        ("locs3-no", 3.1, True),
        ("locs3-no", 3.15, False),  # refused, never rounded: project choice
        ("locs3-no", 2.5, True),  # halfway between two standards: a textbook passage on LOCS
        ("clinical", 2.5, True),
        ("clinical", 2.25, False),
        ("hardness", 3, True),
        ("hardness", 3.5, False),
        ("another", 3, False),
    ],
)
def test_a_grade_is_as_coarse_as_it_is_said(scale: str, value: float, fits: bool) -> None:
    assert grade.sayable(scale, value) == fits


@pytest.mark.parametrize(
    ("value", "band", "edge"),
    [
        (0.2, "very soft", None),
        (0.3, "very soft", 1.0),
        (3.4, "medium", 3.5),
        (3.5, "firm", 3.5),
        (4.25, "firm", None),
        (5.0, "hard", 5.0),
        (5.7, "hard", 5.0),
        (5.8, "hard", None),
    ],
)
def test_near_the_edge_is_within_the_published_tolerance_of_an_edge(
    value: float, band: str, edge: float | None
) -> None:
    """The tolerance is Chylack's; the bands and the rule are a project choice."""
    assert grade.band("locs3-no", value) == band
    assert grade.near_edge("locs3-no", value) == edge


def test_the_edges_of_a_card_go_before_our_own() -> None:
    assert grade.near_edge("locs3-nc", 4.2, edges=(3.0, 4.9)) == 4.9
    assert grade.near_edge("locs3-nc", 4.0, edges=(3.0, 4.9)) is None
    assert grade.near_edge("locs3-nc", 4.2) is None


@pytest.mark.parametrize("scale", ["clinical", "hardness"])
def test_without_a_published_tolerance_nothing_is_near(scale: str) -> None:
    assert grade.near_edge(scale, 2, edges=(2.0,)) is None
    assert grade.band(scale, 2) is None


def test_two_scales_are_not_compared() -> None:
    """No published map between them was found."""
    assert grade.harder("clinical", 4, "clinical", 2) is True
    assert grade.harder("clinical", 2, "clinical", 2) is False
    assert grade.harder("hardness", 4, "clinical", 2) is None


@given(st.sampled_from([*grade.SCALES, "another"]), st.floats(), st.lists(st.floats(), max_size=4))
def test_no_grade_makes_it_raise(scale: str, value: float, edges: list[float]) -> None:
    near = grade.near_edge(scale, value, edges)
    assert near is None or (grade.on_scale(scale, value) and near in edges)
    assert not grade.sayable(scale, value) or grade.on_scale(scale, value)
    assert (grade.band(scale, value) is not None) == (
        scale == "locs3-no" and grade.on_scale(scale, value)
    )
