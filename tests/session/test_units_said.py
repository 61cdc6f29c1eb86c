"""A height or a pressure without its unit is nothing: it is asked for, and never supposed."""

from __future__ import annotations

import pytest

from tests.session.talk import Talk

REST = "power forty vacuum three fifty flow thirty two pulses thirty"


@pytest.fixture
def talk() -> Talk:
    talk = Talk("settings")
    talk.says("clinical grade three")
    return talk


@pytest.mark.parametrize("bare", ["bottle ninety", "pressure sixty", f"{REST} bottle ninety"])
def test_a_number_without_its_unit_is_asked_about_and_never_taken(talk: Talk, bare: str) -> None:
    assert talk.says(bare) != []
    values = talk.state.item("quadrant-profile").values
    assert not {"bottle_cm", "infusion_mmHg"} & set(values)
    talk.says("surgeon confirms the profile")
    assert talk.status("quadrant-profile") == "called"


@pytest.mark.parametrize(
    ("said", "quantity", "value"),
    [
        ("bottle ninety centimeters", "bottle_cm", 90),
        ("pressure sixty millimeters of mercury", "infusion_mmHg", 60),
    ],
)
def test_with_its_unit_it_is_kept_under_that_unit_alone(
    talk: Talk, said: str, quantity: str, value: float
) -> None:
    talk.says(said)
    values = talk.state.item("quadrant-profile").values
    assert values[quantity]["value"] == value
    assert len({"bottle_cm", "infusion_mmHg"} & set(values)) == 1
