"""Spoken settings against a card, the usual ranges and plain contradictions.

Each number that comes from outside has its source beside it. "Derived" is worked out from facts;
the usual ranges themselves are from memory, a project choice without authority.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelist.clinical.rules import RULES
from voicelist.clinical.settings import (
    PHASES_WITHOUT_POWER,
    UNITS,
    USUAL_RANGES,
    CardSetting,
    Finding,
    SpokenSetting,
    assess,
    missing,
)
from voicelist.documents.loading import load_card
from voicelist.documents.names import PHASES
from voicelist.places import shipped
from voicelist.session.case import settings_by_quantity

CARD = {
    "power_percent": CardSetting(40, "linear", 5),
    "vacuum_mmHg": CardSetting(350, "fixed", 25),
    "pulses_per_s": CardSetting(30, "", 0),
}
SEVERITIES = ("note", "ask", "stop")


def rules(phase: str, heard: dict[str, SpokenSetting], card: dict[str, CardSetting]) -> list[str]:
    return [finding.rule for finding in assess(phase, heard, card)]


# Against the card


def test_settings_that_fit_the_card_have_no_findings() -> None:
    heard = {
        "power_percent": SpokenSetting(40, "linear"),
        "vacuum_mmHg": SpokenSetting(350, "fixed"),
        "pulses_per_s": SpokenSetting(30),
    }
    assert assess("quadrant", heard, CARD) == ()


@pytest.mark.parametrize(("value", "fits"), [(324, False), (325, True), (375, True), (376, False)])
def test_a_value_fits_within_the_tolerance_its_limits_included(value: float, fits: bool) -> None:
    found = assess("quadrant", {"vacuum_mmHg": SpokenSetting(value)}, CARD)
    assert (found == ()) == fits


def test_a_value_beside_the_card_is_asked_about_with_both_numbers_and_the_unit() -> None:
    (finding,) = assess("quadrant", {"vacuum_mmHg": SpokenSetting(500, "fixed")}, CARD)
    assert finding == Finding("card-value", "ask", "vacuum_mmHg", 500, 350, "mmHg")


def test_another_control_is_asked_about() -> None:
    (finding,) = assess("quadrant", {"vacuum_mmHg": SpokenSetting(350, "linear")}, CARD)
    assert finding == Finding("card-control", "ask", "vacuum_mmHg", "linear", "fixed", "")


def test_value_and_control_are_two_findings() -> None:
    heard = {"vacuum_mmHg": SpokenSetting(500, "linear")}
    assert rules("quadrant", heard, CARD) == ["card-value", "card-control"]


def test_a_control_that_was_not_said_is_not_asked_about() -> None:
    assert assess("quadrant", {"power_percent": SpokenSetting(40)}, CARD) == ()


def test_findings_come_in_the_order_in_which_the_settings_were_said() -> None:
    heard = {"vacuum_mmHg": SpokenSetting(500), "power_percent": SpokenSetting(60)}
    assert [one.quantity for one in assess("quadrant", heard, CARD)] == list(heard)


def test_the_card_outranks_the_usual_range() -> None:
    """A site that works outside the usual range is not asked about it every time."""
    card = {"bottle_cm": CardSetting(135, "fixed", 5)}
    heard = {"bottle_cm": SpokenSetting(135, "fixed")}
    assert rules("quadrant", heard, {}) == ["usual-range"]
    assert rules("quadrant", heard, card) == []


def test_what_the_card_has_and_nobody_said_is_missing() -> None:
    assert missing({"vacuum_mmHg": SpokenSetting(350)}, CARD) == ("power_percent", "pulses_per_s")
    assert missing({name: SpokenSetting(1) for name in CARD}, CARD) == ()


# Usual ranges


@pytest.mark.parametrize(
    ("phase", "quantity", "value", "source"),
    [
        ("sculpt", "vacuum_mmHg", 60, "EyeWorld, August 2014, p. 69: sculpt at 60 to 70 mmHg"),
        ("sculpt", "vacuum_mmHg", 70, "EyeWorld, August 2014, p. 69: sculpt at 60 to 70 mmHg"),
        ("epinucleus", "vacuum_mmHg", 200, "EyeWorld, August 2014, p. 69: about 200 mmHg"),
        ("quadrant", "power_percent", 40, "a conference daily's settings symposium: power 40"),
        ("quadrant", "vacuum_mmHg", 275, "a conference daily's settings symposium: vacuum 275"),
        ("quadrant", "flow_cc_per_min", 45, "Healio, 15 February 2006: flow 45 cc/min"),
        ("quadrant", "bottle_cm", 90, "Healio, 15 February 2006: bottle 90 cm"),
    ],
)
def test_a_published_value_is_usual(phase: str, quantity: str, value: float, source: str) -> None:
    assert assess(phase, {quantity: SpokenSetting(value)}, {}) == (), source


def test_a_published_bottle_of_135_cm_is_outside_our_range_and_only_a_question() -> None:
    """Read in a conference daily's settings symposium (segment removal, average lens). The range is
    ours, from memory: what lies outside it is asked about and never refused."""
    (finding,) = assess("quadrant", {"bottle_cm": SpokenSetting(135)}, {})
    assert finding == Finding("usual-range", "ask", "bottle_cm", 135, 120, "cm")


@pytest.mark.parametrize(("value", "nearest"), [(19, 20), (101, 100)])
def test_an_unusual_value_is_asked_about_with_the_nearest_usual_one(
    value: float, nearest: float
) -> None:
    (finding,) = assess("sculpt", {"vacuum_mmHg": SpokenSetting(value)}, {})
    assert finding == Finding("usual-range", "ask", "vacuum_mmHg", value, nearest, "mmHg")


def test_a_quantity_without_a_usual_range_is_not_asked_about() -> None:
    assert assess("quadrant", {"pulses_per_s": SpokenSetting(250)}, {}) == ()
    assert assess("quadrant", {"duty_percent": SpokenSetting(1)}, {}) == ()


def test_every_phase_has_usual_ranges_from_low_to_high_in_known_units() -> None:
    assert set(USUAL_RANGES) == set(PHASES)
    for ranges in USUAL_RANGES.values():
        assert set(ranges) <= set(UNITS)
        assert all(0 <= low <= high for low, high in ranges.values())


def test_the_usual_vacuum_rises_from_sculpting_over_the_epinucleus_to_chopping() -> None:
    """EyeWorld, August 2014, p. 69: sculpt low, epinucleus about 200 mmHg, chop the highest."""
    low, middle, high = (
        USUAL_RANGES[phase]["vacuum_mmHg"] for phase in ("sculpt", "epinucleus", "chop")
    )
    assert low[0] < middle[0] < high[0]
    assert low[1] < middle[1] < high[1]


def test_polishing_is_no_stronger_than_sculpting() -> None:
    """Polish "low, low": a surgeon's teaching site, 3 April 2019; the comparison is ours."""
    polish, sculpt = USUAL_RANGES["polish"], USUAL_RANGES["sculpt"]
    for quantity in ("vacuum_mmHg", "flow_cc_per_min"):
        assert polish[quantity][0] <= sculpt[quantity][0]
        assert polish[quantity][1] <= sculpt[quantity][1]


# Contradictions


@pytest.mark.parametrize("phase", ["cortex", "polish", "viscoelastic"])
def test_power_in_a_phase_that_does_not_use_it_is_a_stop(phase: str) -> None:
    """Derived: ultrasound is pedal position 3 (an academy's primer on the platform), and these
    phases go as far as position 2."""
    findings = assess(phase, {"power_percent": SpokenSetting(20)}, {})
    assert findings[0] == Finding("power-without-pedal-3", "stop", "power_percent", 20, 0, "%")
    assert assess(phase, {"power_percent": SpokenSetting(0)}, {}) == ()
    assert USUAL_RANGES[phase]["power_percent"] == (0, 0)


def test_power_in_such_a_phase_is_a_stop_even_if_the_card_says_so() -> None:
    card = {"power_percent": CardSetting(20, "linear", 5)}
    assert rules("cortex", {"power_percent": SpokenSetting(20)}, card) == ["power-without-pedal-3"]


def test_the_other_phases_use_power() -> None:
    assert set(PHASES) - set(PHASES_WITHOUT_POWER) == {"sculpt", "chop", "quadrant", "epinucleus"}


@pytest.mark.parametrize("quantity", ["power_percent", "duty_percent"])
def test_more_than_all_of_it_is_a_stop(quantity: str) -> None:
    """A share of the whole (duty: on over on plus off, a practice magazine, November 2005)."""
    assert "above-100-percent" not in rules("quadrant", {quantity: SpokenSetting(100)}, {})
    (finding,) = [
        one
        for one in assess("quadrant", {quantity: SpokenSetting(101)}, {})
        if one.severity == "stop"
        for one in assess("quadrant", {quantity: SpokenSetting(101)}, {})
        if one.severity == "stop"
    ]
    assert finding == Finding("above-100-percent", "stop", quantity, 101, 100, "%")


@settings(deadline=None)
@given(
    st.sampled_from(PHASES),
    st.dictionaries(
        st.sampled_from(sorted(UNITS)),
        st.builds(SpokenSetting, st.floats(0, 2000), st.sampled_from(["", "linear", "fixed"])),
    ),
)
def test_every_finding_is_about_what_was_heard_and_in_its_unit(
    phase: str, heard: dict[str, SpokenSetting]
) -> None:
    for finding in assess(phase, heard, CARD):
        assert finding.severity in SEVERITIES
        setting = heard[finding.quantity]
        assert finding.heard in (setting.value, setting.control)
        assert finding.unit in (UNITS[finding.quantity], "")
        assert finding.severity == RULES[finding.rule].severity


# The shipped cards


@pytest.mark.parametrize("card_id", ["demo-surgeon", "demo-surgeon-two"])
def test_a_shipped_card_keeps_the_published_order_of_vacuum(card_id: str) -> None:
    """EyeWorld, August 2014, p. 69: sculpt below epinucleus below chop; quadrants like chop (a
    surgeon's teaching site, 3 April 2019)."""
    card = load_card(shipped("grammars") / "cards" / f"{card_id}.yaml").document
    assert card.grades
    for band in card.grades:
        vacuum = {
            str(phase): settings_by_quantity(one)["vacuum_mmHg"].value
            for phase, one in band.phases.items()
        }
        assert vacuum["sculpt"] < vacuum["epinucleus"] < vacuum["quadrant"]


@pytest.mark.parametrize("card_id", ["demo-surgeon", "demo-surgeon-two"])
def test_a_shipped_card_is_usual_and_without_contradiction(card_id: str) -> None:
    card = load_card(shipped("grammars") / "cards" / f"{card_id}.yaml").document
    for band in card.grades:
        for phase, one in band.phases.items():
            heard = {
                quantity: SpokenSetting(card_setting.value, card_setting.control)
                for quantity, card_setting in settings_by_quantity(one).items()
            }
            assert assess(str(phase), heard, {}) == ()


@pytest.mark.parametrize("card_id", ["demo-surgeon", "demo-surgeon-two"])
def test_a_shipped_card_gives_a_harder_lens_no_less(card_id: str) -> None:
    """Common practice, no source."""
    card = load_card(shipped("grammars") / "cards" / f"{card_id}.yaml").document
    softer, *harder = [
        {str(phase): settings_by_quantity(one) for phase, one in band.phases.items()}
        for band in sorted(card.grades, key=lambda band: band.from_value)
    ]
    for band in harder:
        for phase, one in band.items():
            for quantity in ("power_percent", "vacuum_mmHg", "flow_cc_per_min"):
                if quantity in one:  # some phases are without power
                    assert softer[phase][quantity].value <= one[quantity].value
        softer = band
