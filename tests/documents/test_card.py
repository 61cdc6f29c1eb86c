"""Preference cards: bands of grades, settings in their limits, and the settings for one case."""

from __future__ import annotations

import pytest
from example_documents import CARD, only_problem, place_in, problems, spoiled

from voicelist.documents.loading import parse_document
from voicelist.documents.models import Card

SCALE = "expected a grade on the scale"


def card(text: str = CARD) -> Card:
    return parse_document(Card, text, "file.yaml").document


def test_a_card_gives_the_settings_of_a_grade_and_phase() -> None:
    settings = card().settings_for("clinical", 3, "quadrant")
    assert settings is not None
    assert settings.power_percent is not None
    assert (settings.power_percent.value, settings.power_percent.control) == (40, "linear")
    assert settings.flow_cc_per_min is not None
    assert (settings.flow_cc_per_min.value, settings.flow_cc_per_min.tolerance) == (32.5, 3)
    assert settings.modulation is not None
    assert (settings.modulation.kind, settings.modulation.pulses_per_s) == ("pulse", 30)
    assert settings.bottle_cm is None
    incision = card().incision
    assert incision is not None
    assert (incision.separation_deg, incision.tolerance_deg) == (90, 15)


@pytest.mark.parametrize(
    ("scale", "value", "phase", "has_settings"),
    [
        ("clinical", 1, "sculpt", True),
        ("clinical", 1.5, "sculpt", True),
        ("clinical", 2, "sculpt", True),
        ("clinical", 2.5, "sculpt", False),
        ("clinical", 3, "sculpt", False),
        ("clinical", 4, "quadrant", False),
        ("hardness", 5, "cortex", True),
        ("locs3-no", 3, "quadrant", False),
        ("no scale", 3, "quadrant", False),
        ("clinical", 3, "no phase", False),
    ],
)
def test_a_band_holds_both_its_ends_and_nothing_else(
    scale: str, value: float, phase: str, has_settings: bool
) -> None:
    assert (card().settings_for(scale, value, phase) is not None) is has_settings


@pytest.mark.parametrize(
    ("old", "new", "needle", "found", "expected"),
    [
        ("scale: clinical", "scale: clinic", "clinic\n", 'the text "clinic"', "did you mean"),
        ("from: 1", "from: -1", "-1", "the number -1", f"{SCALE} clinical: 0 to 4"),
        ("to: 3\n", "to: 4.1\n", "4.1", "the number 4.1", f"{SCALE} clinical: 0 to 4"),
        ("from: 1, to: 5", "from: 0.9, to: 5", "0.9", "the number 0.9", "hardness: 1 to 5"),
        (
            "hardness, from: 1, to: 5",
            "locs3-no, from: 0, to: 6.9",
            "0, to",
            "the number 0",
            "0.1 to",
        ),
        (
            "hardness, from: 1, to: 5",
            "locs3-nc, from: 0.1, to: 7",
            "7, ph",
            "the number 7",
            "to 6.9",
        ),
        ("to: 2", "to: 0.5", "0.5", "the number 0.5", 'expected at least "from", 1'),
        ("to: 2", "to: two", "two", 'the text "two"', "expected the highest grade, a number"),
        ("value: 350", "value: -350", "-350", "the number -350", "expected a number of at least 0"),
        ("value: 350", "value: .5", ".5", 'the text ".5"', "expected a number of at least 0"),
        ("value: 350", "value: true", "true", "true", "expected a number of at least 0"),
        ("value: 40", "value: 101", "101", "the number 101", "expected per cent: 0 to 100"),
        ("tolerance: 25", "tolerance: -1", "-1", "the number -1", "a number of at least 0"),
        ("minimum: 10", "minimum: 51", "51", "the number 51", "a minimum of at most the value, 50"),
        ("control: fixed", "control: foot", "foot", 'the text "foot"', "expected one of"),
        ("kind: pulse", "kind: puls", "puls,", 'the text "puls"', 'did you mean "pulse"?'),
        (
            "duty_percent: 40",
            "duty_percent: 0",
            "0}\n  - {",
            "the number 0",
            "above 0, at most 100",
        ),
        ("duty_percent: 40", "duty_percent: 101", "101", "the number 101", "above 0, at most 100"),
        ("pulses_per_s: 30", "pulses_per_s: 0", "0, duty", "the number 0", "a number above 0"),
        ("deg: 90", "deg: 181", "181", "the number 181", "a number, 0 to 180"),
        (
            "incision: {separation_deg: 90, tolerance_deg: 15}",
            "incision: 90",
            "90",
            "the n",
            "where",
        ),
        ("id: demo-surgeon", "id: Dr X", "Dr X", 'the text "Dr X"', "expected lower-case letters"),
        ("{cortex: {modulation: {kind: continuous}}}", "{}", "{}", "no keys", "at least one phase"),
        (
            "{modulation: {kind: continuous}}",
            "{}",
            "{}",
            "a phase without settings",
            "at least one",
        ),
    ],
)
def test_a_wrong_value_is_told_where_it_stands(
    old: str, new: str, needle: str, found: str, expected: str
) -> None:
    text = spoiled(CARD, old, new)
    place, was, wanted = only_problem(Card, text)
    assert place == place_in(text, needle)
    assert was.startswith(found)
    assert expected in wanted


@pytest.mark.parametrize(
    ("old", "new", "needle", "found", "expected"),
    [
        ("vacuum_mmHg", "vacuum_mmhg", "vacuum_mmhg", "the unknown key", 'mean "vacuum_mmHg"?'),
        ("sculpt:", "sculpting:", "sculpting:", 'the text "sculpting"', 'did you mean "sculpt"?'),
        (
            "control: linear, tolerance: 5, m",
            "control: fixed, tolerance: 5, m",
            "minimum",
            '"minimum" with fixed control',
            "take it out",
        ),
        (
            "kind: continuous",
            "kind: continuous, on_time_ms: 5",
            "on_time_ms",
            '"on_time_ms" in a continuous modulation',
            "take it out",
        ),
    ],
)
def test_a_key_that_does_not_belong_is_told_at_the_key(
    old: str, new: str, needle: str, found: str, expected: str
) -> None:
    text = spoiled(CARD, old, new)
    place, was, wanted = only_problem(Card, text)
    assert place == place_in(text, needle)
    assert was.startswith(found)
    assert expected in wanted


@pytest.mark.parametrize("band", ["from: 2\n    to: 3", "from: 0\n    to: 4", "from: 1\n    to: 1"])
def test_bands_of_one_scale_do_not_overlap(band: str) -> None:
    place, found, expected = only_problem(Card, spoiled(CARD, "from: 3\n    to: 3", band))
    assert place == (13, 11)
    assert "overlaps" in found
    assert expected.endswith("(the first is in line 6)")


def test_bands_of_different_scales_may_have_the_same_numbers() -> None:
    assert problems(Card, spoiled(CARD, "hardness, from: 1", "hardness, from: 2")) == ()


def test_a_card_needs_a_band() -> None:
    text = "format: 1\nlanguage: en-US\nid: x\ngrades: []\n"
    assert only_problem(Card, text)[:2] == ((4, 9), "an empty list")


def test_faults_in_several_settings_are_told_together() -> None:
    text = spoiled(CARD, "value: 350", "value: -1")
    text = spoiled(text, "kind: pulse", "kind: x")
    text = spoiled(text, "control: linear, tolerance: 5}", "control: linear}")
    assert [one.line for one in problems(Card, text)] == [17, 18, 20]
