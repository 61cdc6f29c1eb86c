"""The lens as box, printout and mark say it, compared source by source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.clinical import lens
from voicelist.clinical.lens import LensSaid, differences, missing_sources

PRINTOUT = LensSaid("left", "toric alpha", 21.5, 10, -0.25)
BOX = LensSaid(model="toric alpha", power_D=21.5)
MARK = LensSaid(eye="left", axis_deg=10)


def fields(**said: LensSaid) -> list[str]:
    return [one.field for one in differences(said)]


def test_sources_that_agree_have_no_differences() -> None:
    assert differences({"printout": PRINTOUT, "box": BOX, "mark": MARK}) == []
    assert differences({}) == []


@pytest.mark.parametrize(
    ("box", "mark", "field"),
    [
        (LensSaid(power_D=-21.5), MARK, "power_D"),  # 9 of 178 reports: Steeples et al. 2016
        (LensSaid(power_D=21.0), MARK, "power_D"),
        (LensSaid(model="toric bravo"), MARK, "model"),
        (BOX, LensSaid(eye="right"), "eye"),
        (BOX, LensSaid(axis_deg=100), "axis_deg"),
    ],
)
def test_a_source_that_differs_is_told_with_what_each_one_said(
    box: LensSaid, mark: LensSaid, field: str
) -> None:
    (found,) = differences({"printout": PRINTOUT, "box": box, "mark": mark})
    assert found.field == field
    assert found.values["printout"] == getattr(PRINTOUT, field)
    assert len(found.values) == 2


def test_an_axis_of_0_is_the_one_of_180_and_10_is_not_100() -> None:
    """Axes, ISO 8429:1986."""
    assert fields(printout=LensSaid(axis_deg=0), mark=LensSaid(axis_deg=180)) == []
    assert fields(printout=LensSaid(axis_deg=10), mark=LensSaid(axis_deg=100)) == ["axis_deg"]


def test_axes_within_a_tolerance_agree_pair_by_pair() -> None:
    three = {
        "plan": LensSaid(axis_deg=0),
        "printout": LensSaid(axis_deg=5),
        "mark": LensSaid(axis_deg=175),
    }
    assert differences(three, axis_tolerance_deg=10) == []
    assert [one.field for one in differences(three, axis_tolerance_deg=9)] == ["axis_deg"]


def test_a_source_is_not_asked_for_what_it_cannot_show() -> None:
    """A box does not know the eye."""
    assert fields(printout=PRINTOUT, box=LensSaid(eye="right")) == []
    said = {"printout": PRINTOUT}
    assert missing_sources(said, "eye", ("printout", "box", "mark")) == ("mark",)
    assert missing_sources(said, "power_D", ("printout", "box", "mark")) == ("box",)
    assert missing_sources(said | {"box": BOX}, "power_D", ("printout", "box")) == ()


@pytest.mark.parametrize(
    ("power_D", "fits"),
    [(21.5, True), (-3.25, True), (0.0, True), (21.3, False), (60.25, False), (-20.25, False)],
)
def test_powers_are_in_quarter_steps_within_the_limits(power_D: float, fits: bool) -> None:
    """Steps and limits: from memory."""
    assert lens.power_fits(power_D) == fits


def test_the_sign_is_never_supposed() -> None:
    """Plus and minus were confused in 9 of 178 reports (Steeples et al., Eye 2016;30:1049-55)."""
    assert lens.signed_power_D("", 21.5) is None
    assert lens.signed_power_D("plus", 21.5) == 21.5
    assert lens.signed_power_D("minus", 21.5) == -21.5
    assert lens.signed_power_D("", 0) == 0


@pytest.mark.parametrize(
    ("target_D", "fits"), [(-0.25, True), (-6, True), (-6.25, False), (3, False)]
)
def test_a_target_far_away_is_a_question(target_D: float, fits: bool) -> None:
    """Limits: project choice."""
    assert lens.target_fits(target_D) == fits


SAID = st.builds(
    LensSaid,
    st.none() | st.sampled_from(["left", "right", ""]),
    st.none() | st.sampled_from(["toric alpha", " Toric  Alpha", ""]),
    st.none() | st.floats(),
    st.none() | st.floats(),
    st.none() | st.floats(),
)


@given(st.dictionaries(st.sampled_from([*lens.SOURCES, "another"]), SAID))
def test_nothing_said_makes_it_raise(said: dict[str, LensSaid]) -> None:
    for found in differences(said):
        assert len(found.values) >= 2
        for source, value in found.values.items():
            assert getattr(said[source], found.field) is value


@given(st.floats())
def test_no_number_makes_the_limits_raise(number: float) -> None:
    lens.power_fits(number)
    lens.target_fits(number)
    lens.signed_power_D("plus", number)
