"""Infusion pressure in both directions, and pulses that are none, in a session and in `assess`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.team.room import Room, case_of
from voicelist.assessing import assess_words
from voicelist.places import shipped

CARD = shipped("grammars") / "cards" / "demo-surgeon.yaml"


def settings() -> Room:
    room = Room(case_of("practice-103", "settings"))  # grade 2, a card without modulation
    room.says("clinical grade two", "no special aids")
    assert room.state.current == "quadrant-profile"
    return room


@pytest.mark.parametrize(
    ("mmHg", "limit"), [("ten", 25), ("one fifty", 60), ("three hundred", 60), ("sixty one", 60)]
)
def test_an_unusual_infusion_pressure_is_asked_about_in_both_directions(
    mmHg: str, limit: int
) -> None:
    (reply,) = settings().says(f"pressure {mmHg} millimeters of mercury")
    assert reply.endswith(f"usual ends at {limit}. Please confirm.")
    assert reply.startswith("Pressure is ")


@pytest.mark.parametrize("mmHg", ["twenty five", "forty", "sixty"])
def test_a_usual_infusion_pressure_is_not_asked_about(mmHg: str) -> None:
    (reply,) = settings().says(f"pressure {mmHg} millimeters of mercury")
    assert reply.startswith("Still needed")


def test_its_source_says_what_was_read_and_what_is_ours() -> None:
    told = assess_words("pressure 150 millimeters", CARD, "clinical 2", "quadrant")
    (found,) = told["findings"]
    assert found["rule"] == "infusion-range"
    assert "29 eyes" in found["source"]
    assert "the range is ours" in found["source"]


@pytest.mark.parametrize(
    "words",
    [
        "pulses thirty duty one hundred",
        "burst power on time five off time zero",
        "pulses fifty on time twenty",
    ],
)
def test_pulses_without_a_pause_are_said_to_be_continuous_power(words: str) -> None:
    room = settings()
    (reply,) = room.says(words)
    assert reply.endswith("no pause, so power is continuous. Intended?")
    told = assess_words(words, CARD, "clinical 2", "quadrant")
    assert "pulses-without-pause" in [one["rule"] for one in told["findings"]]


@pytest.mark.parametrize(
    "words", ["pulses thirty duty ninety nine", "continuous power duty one hundred"]
)
def test_pulses_with_a_pause_and_continuous_power_are_what_they_are(words: str) -> None:
    told = assess_words(words, CARD, "clinical 2", "quadrant")
    assert "pulses-without-pause" not in [one["rule"] for one in told["findings"]]


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        ("left eye main incision at 180", True),
        ("right eye main incision at 0", True),
        ("left eye main incision at 0", False),
        ("right eye main incision at 180", False),
        ("right eye main incision at 90", False),
    ],
)
def test_a_nasal_main_incision_is_asked_about_in_assess(words: str, asked: bool) -> None:
    told = assess_words(words, CARD, "clinical 2", "quadrant")
    assert [one["rule"] == "nasal-incision" for one in told["findings"]] == [True] * asked


def test_a_card_with_pulses_that_never_pause_is_told(tmp_path: Path) -> None:
    from voicelist.documents.loading import load_card
    from voicelist.linting.plan import lint_card

    text = CARD.read_text().replace("pulses_per_s: 30}", "pulses_per_s: 30, duty_percent: 100}")
    file = tmp_path / "demo-surgeon.yaml"
    file.write_text(text)
    loaded = load_card(file)
    (problem,) = lint_card(loaded.document, loaded.places)
    assert problem.expected == "expected a pause between pulses, or kind: continuous"
