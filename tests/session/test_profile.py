"""The settings profile: any order, one breath or many; checked, corrected, accepted, echoed."""

from __future__ import annotations

import pytest

from tests.session.talk import Talk
from voicelist.session.records import Accepted, Corrected, ReadBack

FITTING = "power forty vacuum three fifty flow thirty two pulses thirty"


@pytest.fixture
def talk() -> Talk:
    talk = Talk("settings")
    talk.says("clinical grade three")
    assert talk.state.current == "quadrant-profile"
    return talk


def test_a_fitting_profile_is_echoed_once_and_passes_on_the_surgeons_word(talk: Talk) -> None:
    reply = talk.says(FITTING)
    assert reply == [
        "Power is 40, vacuum is 350, flow is 32, pulses is 30. Surgeon, please confirm."
    ]
    assert talk.status("quadrant-profile") == "called"
    talk.says("surgeon confirms the profile")
    assert talk.status("quadrant-profile") == "value"


def test_the_profile_may_come_in_several_breaths_and_any_order(talk: Talk) -> None:
    assert talk.says("flow thirty two") == ["Still needed: power, vacuum, pulses."]
    talk.says("pulses thirty and vacuum at three five zero")
    reply = talk.says("power forty percent linear")
    assert reply[0].endswith("Surgeon, please confirm.")


def test_confirming_before_the_echo_passes_nothing(talk: Talk) -> None:
    talk.says("surgeon confirms the profile")
    assert talk.status("quadrant-profile") == "called"
    talk.says("power forty", "surgeon confirms the profile")
    assert talk.status("quadrant-profile") == "called"


def test_a_value_outside_the_cards_tolerance_is_read_back_with_the_cards(talk: Talk) -> None:
    reply = talk.says("power forty vacuum five hundred flow thirty two pulses thirty")
    assert reply == ["Vacuum is 500; the card says 350."]
    reply = talk.says("vacuum three fifty")
    assert reply[0].startswith("Power is 40")
    corrected = [one for one in talk.records if isinstance(one, Corrected)]
    assert corrected[0].old["value"] == 500
    assert corrected[0].new["value"] == 350


def test_the_edge_of_the_tolerance_fits_and_one_beyond_does_not(talk: Talk) -> None:
    assert talk.says("vacuum three seventy five") == ["Still needed: power, flow, pulses."]
    assert talk.says("vacuum three seventy six") == ["Vacuum is 376; the card says 350."]


def test_control_is_compared_with_the_card(talk: Talk) -> None:
    assert talk.says("vacuum three fifty linear") == ["Vacuum is linear; the card says fixed."]


def test_a_correction_keeps_the_control_that_was_said_before(talk: Talk) -> None:
    talk.says("vacuum five hundred fixed", "vacuum three fifty")
    assert talk.state.item("quadrant-profile").values["vacuum_mmHg"] == {
        "value": 350,
        "control": "fixed",
    }


def test_a_mismatch_accepted_by_the_surgeon_is_recorded_with_its_reason(talk: Talk) -> None:
    talk.says("power forty vacuum four hundred flow thirty two pulses thirty")
    reply = talk.says("surgeon accepts the vacuum because of a dense lens")
    assert reply[0] == "Accepted by the surgeon: vacuum is 400."
    talk.says("surgeon confirms the profile")
    assert talk.status("quadrant-profile") == "value"
    accepted = [one for one in talk.records if isinstance(one, Accepted)]
    assert (accepted[0].quantity, accepted[0].heard, accepted[0].expected) == (
        "vacuum_mmHg",
        400,
        350,
    )


def test_another_value_after_an_acceptance_is_a_mismatch_again(talk: Talk) -> None:
    talk.says("power forty vacuum four hundred flow thirty two pulses thirty")
    talk.says("surgeon accepts the vacuum because of a dense lens")
    assert talk.says("vacuum four fifty") == ["Vacuum is 450; the card says 350."]


def test_an_impossible_value_cannot_be_accepted(talk: Talk) -> None:
    reply = talk.says("power four hundred")
    assert reply == ["Power cannot be 400, at most 100. Please correct it."]
    talk.says("surgeon accepts the power because of a dense lens")
    assert not any(isinstance(one, Accepted) for one in talk.records)


def test_the_later_of_two_values_in_one_breath_counts(talk: Talk) -> None:
    talk.says("vacuum three hundred vacuum three fifty")
    values = talk.state.item("quadrant-profile").values
    assert values["vacuum_mmHg"]["value"] == 350


def test_read_backs_of_settings_are_no_longer_than_a_read_back_may_be(talk: Talk) -> None:
    talk.says("power fifty vacuum five hundred flow fifty pulses thirty")
    for text in (one.text for one in talk.records if isinstance(one, ReadBack)):
        assert len(text.split()) <= 12
