"""Every rule fires in one situation and just does not in another; none of them ever raises."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.clinical.rule_examples import (
    CLINICAL_3,
    EXAMPLES,
    HARD,
    RISE_ON,
    SOFT,
    SOFTER,
    card,
    said,
)
from voicelist.clinical.energy import EndOfCase
from voicelist.clinical.grade import SCALES
from voicelist.clinical.lens import SOURCES, LensSaid
from voicelist.clinical.limits import DEFAULT, OFF, Limits
from voicelist.clinical.profile import (
    KINDS,
    OTHER_UNITS,
    PUMPS,
    UNITS,
    CardProfile,
    CardSetting,
    Incision,
    Profile,
    Situation,
    Softer,
    SpokenGrade,
    SpokenSetting,
)
from voicelist.clinical.rules import RULES, findings
from voicelist.clinical.sources import in_a_word
from voicelist.documents.names import PHASES

STANDINGS = (
    "published",
    "derived",
    "common practice, no source",
    "from memory",
    "project choice",
)


def of_rule(name: str, situation: Situation, limits: Limits = DEFAULT) -> list[tuple[object, ...]]:
    return [
        (one.quantity, one.heard, one.expected)
        for one in findings(situation, limits)
        if one.rule == name
    ]


def test_every_rule_has_its_example() -> None:
    assert set(EXAMPLES) == set(RULES)


@pytest.mark.parametrize("name", RULES)
def test_a_rule_fires(name: str) -> None:
    one = EXAMPLES[name]
    assert of_rule(name, one.fires, one.limits) == [(one.quantity, one.heard, one.expected)]


@pytest.mark.parametrize("name", RULES)
def test_a_rule_just_does_not_fire(name: str) -> None:
    one = EXAMPLES[name]
    assert of_rule(name, one.just_not, one.limits) == []


@pytest.mark.parametrize("name", RULES)
def test_a_rule_can_be_switched_off_unless_it_holds_everywhere(name: str) -> None:
    one = EXAMPLES[name]
    without = replace(one.limits, off=one.limits.off | {name})
    assert bool(of_rule(name, one.fires, without)) == (not RULES[name].switchable)


def test_contradictions_units_and_the_card_hold_at_every_site() -> None:
    fixed = {name for name, one in RULES.items() if not one.switchable}
    assert {name for name, one in RULES.items() if one.severity == "stop"} <= fixed
    assert {"card-value", "card-control", "unit-missing"} <= fixed
    assert not OFF & fixed


@pytest.mark.parametrize("name", RULES)
def test_a_rule_says_where_it_is_from_and_what_to_do(name: str) -> None:
    one = RULES[name]
    assert one.source.standing in STANDINGS
    assert len(one.source.text.split()) >= 3
    assert one.remedy.endswith(".")
    if one.source.standing != "published":
        assert str(one.source).startswith(one.source.standing)


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("card-value", "project choice"),
        ("turnover", "published, in part ours"),
        ("power-without-flow", "published, in part ours"),
        ("usual-separation", "published"),
        ("knee-angle", "common practice, no source"),
        ("end-of-case", "from memory"),
        ("card-timing", "project choice"),
        ("timing-differs", "derived"),
    ],
)
def test_how_far_a_rule_may_be_trusted_is_told_in_a_word(name: str, word: str) -> None:
    """What is from memory, common practice or our choice is never shown as published."""
    assert in_a_word(str(RULES[name].source)) == word


@pytest.mark.parametrize(
    ("limit", "value", "name", "situation"),
    [
        ("line_resistance_mmHg_min_per_cc", 0.6, "chamber-stability", "just_not"),
        ("incision_leakage_cc_per_min", 10, "chamber-stability", "just_not"),
        ("least_chamber_mmHg", 15, "chamber-stability", "just_not"),
        ("infusion_agreement_mmHg", 2, "two-infusions", "just_not"),
        ("chamber_cc", 0.17, "turnover", "just_not"),
        ("most_turnover_per_s", 3, "turnover", "just_not"),
        ("known_rise_s", 3, "rise-time", "just_not"),
        ("known_rise_flow_cc_per_min", 15, "rise-time", "just_not"),
        ("known_rise_vacuum_mmHg", 500, "rise-time", "just_not"),
        ("shortest_rise_s", 2, "rise-time", "just_not"),
        ("least_flow_with_power_cc_per_min", 15, "power-without-flow", "just_not"),
        ("most_continuous_power_percent", 60, "continuous-power", "just_not"),
        ("usual_separation_deg", (70, 90), "usual-separation", "just_not"),
        ("planned_place_tolerance_deg", 14, "planned-place", "just_not"),
        ("least_knee_deg", 95, "knee-angle", "just_not"),
        ("most_knee_deg", 90, "knee-angle", "just_not"),
        ("longest_ultrasound_s", 250, "ultrasound-time", "just_not"),
        ("usual_target_D", (-3, 1), "lens-target", "just_not"),
        ("usual", {"sculpt": {"vacuum_mmHg": (20, 80)}}, "usual-range", "just_not"),
        ("off", frozenset(), "rise-time", "fires"),
    ],
)
def test_each_limit_of_a_site_moves_its_rule(
    limit: str, value: object, name: str, situation: str
) -> None:
    one = EXAMPLES[name]
    before = DEFAULT if limit == "off" else one.limits
    case = getattr(one, situation)
    assert of_rule(name, case, before) == []
    assert len(of_rule(name, case, replace(before, **{limit: value}))) == 1  # type: ignore[arg-type]  # a field of Limits by its name


def test_every_limit_is_moved_in_that_test() -> None:
    marks = test_each_limit_of_a_site_moves_its_rule.pytestmark  # type: ignore[attr-defined]  # pytest keeps them there
    assert {row[0] for row in marks[0].args[1]} == {one.name for one in fields(Limits)}


# The orders, by the facts


@pytest.mark.parametrize(
    ("vacuum", "rules"),
    [
        ({"sculpt": 65, "epinucleus": 200, "chop": 300}, []),
        ({"sculpt": 65, "epinucleus": 200, "chop": 180}, ["vacuum-order"]),
    ],
)
def test_the_published_order_of_vacuum(vacuum: dict[str, float], rules: list[str]) -> None:
    """Sculpt below epinucleus below chop (EyeWorld, August 2014, p. 69); numbers a project choice.
    180 for chopping is below the 200 of the epinucleus, whichever of the two is said last."""
    profiles = {phase: said(phase, vacuum_mmHg=value) for phase, value in vacuum.items()}
    limits = replace(DEFAULT, off=DEFAULT.off | {"usual-range"})
    for phase in ("epinucleus", "chop"):
        found = findings(Situation(profiles[phase], others=profiles), limits)
        assert [one.rule for one in found] == rules
    if rules:
        assert {
            (one.sentence, one.other, one.expected)
            for phase in ("epinucleus", "chop")
            for one in findings(Situation(profiles[phase], others=profiles), limits)
        } == {("order-above", "epinucleus", 200), ("order-below", "chop", 180)}


def test_sculpting_is_at_least_as_strong_as_polishing() -> None:
    """Polish "low, low" (a surgeon's teaching site, 3 April 2019); the comparison is ours."""
    polished = {"polish": said("polish", vacuum_mmHg=40)}
    (found,) = findings(Situation(said("sculpt", vacuum_mmHg=39), others=polished))
    assert (found.rule, found.sentence, found.expected) == (
        "polish-above-sculpt",
        "order-at-least",
        40,
    )
    assert findings(Situation(said("sculpt", vacuum_mmHg=40), others=polished)) == ()


def test_a_card_with_the_same_settings_for_both_grades_is_the_surgeons_choice() -> None:
    heard = said(power_percent=20, vacuum_mmHg=250)
    assert findings(Situation(heard, SOFT, softer=SOFTER, grade=CLINICAL_3)) == ()
    other_scale = SpokenGrade("hardness", 4)
    assert of_rule("soft-profile", Situation(heard, HARD, softer=SOFTER, grade=other_scale)) == []


@pytest.mark.parametrize("name", ["chamber-stability", "turnover", "rise-time"])
def test_figures_that_the_card_itself_has_are_the_surgeons_choice(name: str) -> None:
    """Our limits ask about a slip of the tongue; they do not question the card every time."""
    one = EXAMPLES[name]
    own, fine = (
        CardProfile(
            {
                quantity: CardSetting(setting.value, "", 100)
                for quantity, setting in situation.heard.settings.items()
            }
        )
        for situation in (one.fires, one.just_not)
    )
    assert of_rule(name, replace(one.fires, card=own), one.limits) == []
    assert len(of_rule(name, replace(one.fires, card=fine), one.limits)) == 1


def test_heat_is_asked_about_whatever_the_card_says() -> None:
    heard = said(power_percent=20, flow_cc_per_min=5)
    own = card(
        power_percent=CardSetting(20, "linear", 5), flow_cc_per_min=CardSetting(5, "fixed", 3)
    )
    assert of_rule("power-without-flow", Situation(heard, own)) == [("flow_cc_per_min", 5, 10)]


def test_the_same_vacuum_with_a_lower_bottle_is_one_change_and_no_question() -> None:
    earlier = said(vacuum_mmHg=300, bottle_cm=90)
    assert findings(Situation(said(vacuum_mmHg=300, bottle_cm=89), before=earlier)) == ()
    now = said(vacuum_mmHg=301, infusion_mmHg=60)
    assert findings(Situation(now, before=earlier)) == (), "a pressure is not held against a height"


def test_infusion_pressure_is_weighed_as_it_is_and_never_as_a_height() -> None:
    """27.5 mmHg are needed for 30 cc/min with the usual limits of the project."""
    low = said(infusion_mmHg=27, flow_cc_per_min=30)
    assert of_rule("chamber-stability", Situation(low)) == [("infusion_mmHg", 27, 28)]
    assert findings(Situation(said(infusion_mmHg=27.5, flow_cc_per_min=30))) == ()


def test_a_vacuum_pump_has_no_flow_to_weigh() -> None:
    heard = said(pump="venturi", bottle_cm=10, flow_cc_per_min=30, power_percent=20)
    rules = {one.rule for one in findings(Situation(heard))}
    assert "flow-on-venturi" in rules
    assert not rules & {"chamber-stability", "power-without-flow", "turnover"}


def test_contradictions_come_first_and_notes_last() -> None:
    heard = said(
        "sculpt", kind="continuous", power_percent=80, vacuum_mmHg=200, duty_percent=50, pump=""
    )
    severities = [one.severity for one in findings(Situation(heard))]
    assert severities == ["stop", "ask", "note"]


def test_what_cannot_be_is_not_asked_about_as_well() -> None:
    found = findings(Situation(said("cortex", power_percent=120)))
    assert {one.severity for one in found} == {"stop"}


def test_the_highest_power_of_all_phases_bounds_the_mean() -> None:
    end = EndOfCase(mean_power_percent=41)
    others = {"sculpt": said("sculpt", power_percent=60)}
    heard = said(power_percent=40)
    assert of_rule("end-of-case", Situation(heard, end=end)) == [("mean_power_percent", 41, 40)]
    assert of_rule("end-of-case", Situation(heard, end=end, others=others)) == []


def test_the_plan_is_no_source_of_the_lens() -> None:
    """What it expects is never said before the answer."""
    lens = {"plan": LensSaid(power_D=21.5), "box": LensSaid(power_D=21)}
    assert findings(Situation(said(), lens=lens)) == ()


def test_a_walk_that_does_not_end_at_rest_is_told() -> None:
    (found,) = findings(Situation(said(), walk=(0, 1, 2, 3, 2)))
    assert (found.heard, found.expected, found.sentence) == (2, 0, "pedal-end")


# Nothing makes a check raise, and no unit is lost

NUMBER = st.floats() | st.floats(0, 1000) | st.integers(0, 1000).map(float)
CONTROL = st.sampled_from(["", "linear", "fixed"])
QUANTITY = st.sampled_from(sorted(UNITS))
SETTINGS = st.dictionaries(
    QUANTITY, st.builds(SpokenSetting, NUMBER, CONTROL, st.none() | NUMBER), max_size=9
)
OCCLUSION = st.none() | st.booleans()
PROFILE = st.builds(
    Profile,
    st.sampled_from([*PHASES, "another"]),
    SETTINGS,
    st.sampled_from(["", *PUMPS]),
    st.sampled_from(["", *KINDS]),
    OCCLUSION,
    st.none() | NUMBER,
)
CARD = st.builds(
    CardProfile,
    st.dictionaries(
        QUANTITY, st.builds(CardSetting, NUMBER, CONTROL, NUMBER, st.none() | NUMBER), max_size=9
    ),
    st.sampled_from(["", *PUMPS]),
    st.sampled_from(["", *KINDS]),
    OCCLUSION,
)
GRADE = st.builds(SpokenGrade, st.sampled_from([*SCALES, "another"]), NUMBER)
LENS = st.builds(
    LensSaid,
    st.none() | st.sampled_from(["left", "right"]),
    st.none() | st.sampled_from(["toric alpha", "Toric  Alpha", ""]),
    st.none() | NUMBER,
    st.none() | NUMBER,
    st.none() | NUMBER,
)
SITUATION = st.builds(
    Situation,
    PROFILE,
    CARD,
    st.dictionaries(st.sampled_from(PHASES), PROFILE, max_size=3),
    st.none() | PROFILE,
    st.lists(st.builds(Softer, GRADE, CARD), max_size=2).map(tuple),
    st.none() | GRADE,
    st.lists(NUMBER, max_size=3).map(tuple),
    st.none()
    | st.builds(
        Incision,
        st.none() | NUMBER,
        st.none() | NUMBER,
        st.sampled_from(["right", "left", ""]),
        st.none() | NUMBER,
        NUMBER,
        st.sampled_from(["", "temporal", "superior"]),
        st.none() | NUMBER,
        st.none() | NUMBER,
    ),
    st.none() | st.builds(EndOfCase, *[st.none() | NUMBER] * 5),
    st.dictionaries(st.sampled_from([*SOURCES, "another"]), LENS, max_size=3),
    st.none() | st.lists(st.integers(-1, 4), max_size=7).map(tuple),
    st.none() | NUMBER,
)


@settings(deadline=None, max_examples=400)
@given(SITUATION)
def test_no_situation_makes_a_check_raise_or_loses_a_unit(situation: Situation) -> None:
    for one in findings(situation, RISE_ON):
        assert one.severity == RULES[one.rule].severity
        if isinstance(one.heard, str):
            assert one.unit == ""
        else:
            assert one.unit == {**UNITS, **OTHER_UNITS}[one.quantity]
