"""Values of common practice (no source), spoken in the shipped full list.

A nucleus of grade 2: power 20% linear from 0, vacuum 300 and flow 30 fixed, short pulses on
occlusion, on time 6, count 40. The side port about 90 degrees from a main incision at 65; knees
above 90; the pedal walked 3-2-3-2-1-0.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from tests.session.talk import Talk, shipped_bundle
from voicelist.documents.loading import load_card
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case

PROFILE = (
    "power twenty percent linear from zero vacuum three hundred fixed flow thirty fixed",
    "short pulses on occlusion with on time six milliseconds and count forty",
)


@cache
def case(section: str) -> Case:
    bundle = shipped_bundle("practice-103")
    written = bundle.plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    planned = {"card": "common-practice", "incision": {"main_deg": 65, "side_port_deg": 155}}
    plan = type(bundle.plan).model_validate({**written, **planned, "eye": "right"})
    card = load_card(shipped("grammars") / "cards" / "common-practice.yaml").document
    return compile_case(replace(bundle, plan=plan, card=card), section)


@pytest.fixture
def talk(monkeypatch: pytest.MonkeyPatch) -> Talk:
    monkeypatch.setattr("tests.session.talk.shipped_case", lambda plan, section: case(section))
    talk = Talk("settings")
    talk.says("clinical grade two", "no special aids")
    assert talk.state.current == "quadrant-profile"
    return talk


def test_the_profile_is_echoed_with_what_was_read_into_the_count_and_confirmed(talk: Talk) -> None:
    """A count has no one meaning: 40 is read as pulses per second, which makes the duty 24%."""
    (reply,) = talk.says(*PROFILE)
    assert reply == (
        "A count of 40 is read per second: duty is 24. Power is 0 to 20 linear, vacuum is 300 "
        "fixed, flow is 30 fixed, modulation is short pulse, trigger is occlusion, on time is 6, "
        "pulses is 40. Surgeon, please confirm."
    )
    talk.says("surgeon confirms the profile")
    assert talk.status("quadrant-profile") == "value"


@pytest.mark.parametrize(
    ("words", "reply"),
    [
        ("vacuum three twenty six", "Vacuum is 326; the card says 300."),
        ("power twenty six", "Power is 26; the card says 20."),
        ("flow thirty four", "Flow is 34; the card says 30."),
        ("on time nine", "On time is 9; the card says 6."),
        ("count fifty", "Pulses is 50; the card says 40."),
        ("duty thirty percent", "Duty cycle is 30; the card says 24."),
        ("power twenty fixed", "Power is fixed; the card says linear."),
        ("vacuum three hundred linear", "Vacuum is linear; the card says fixed."),
        ("burst power", "Modulation is burst; the card says short pulse."),
        ("short pulses at any time", "Trigger is none; the card says occlusion."),
    ],
)
def test_a_slip_in_it_is_read_back_with_both_figures(talk: Talk, words: str, reply: str) -> None:
    assert talk.says(words)[0] == reply
    assert len(reply.split()) <= 12


@pytest.fixture
def incisions(talk: Talk) -> Talk:
    talk.says(*PROFILE, "surgeon confirms the profile")
    assert talk.state.current == "incision-plan"
    return talk


@pytest.mark.parametrize("side_port", ["one fifty five", "one sixty five", "one forty five"])
def test_about_90_degrees_from_a_main_incision_at_65_fit(incisions: Talk, side_port: str) -> None:
    (reply,) = incisions.says(f"main incision at sixty five side port at {side_port}")
    assert reply.startswith("Main incision is 65, side port is 1")
    incisions.says("incision and seat set")
    assert incisions.status("incision-plan") == "said-done"


def test_a_place_beyond_the_cards_tolerance_is_asked_about(incisions: Talk) -> None:
    assert incisions.says("main incision at sixty five side port at one seventy") == [
        "Main incision is 65, side port is 170."
    ]
    assert incisions.says("main incision at sixty four") == [
        "Incisions are 106 degrees apart; the card says 90."
    ]


def test_knees_and_walk_of_common_practice_fit(talk: Talk) -> None:
    begun = Talk("pedal")
    assert begun.says("knees at ninety five degrees") == ["Knee angle is 95."]
    begun.says("pedal and knees easy")
    assert begun.says("pedal walk three two three two one zero") == ["Pedal is 3 2 3 2 1 0."]
