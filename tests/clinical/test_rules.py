"""Every rule fires in one situation and just does not in another; none of them ever raises."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelist.clinical.energy import EndOfCase
from voicelist.clinical.grade import SCALES
from voicelist.clinical.limits import DEFAULT, OFF, Limits
from voicelist.clinical.profile import (
    KINDS,
    OTHER_UNITS,
    PUMPS,
    UNITS,
    CardProfile,
    CardSetting,
    Grade,
    Incision,
    Profile,
    Setting,
    Situation,
    Softer,
)
from voicelist.clinical.rules import RULES, findings
from voicelist.documents.names import PHASES

STANDINGS = (
    "published",
    "derived",
    "common practice, no source",
    "from memory",
    "project choice",
)


def said(
    phase: str = "quadrant",
    pump: str = "",
    kind: str = "",
    on_occlusion: bool | None = None,
    *,
    bare_bottle: float | None = None,
    counted: bool = False,
    **values: float | Setting,
) -> Profile:
    every = {
        name: one if isinstance(one, Setting) else Setting(one) for name, one in values.items()
    }
    return Profile(phase, every, pump, kind, on_occlusion, bare_bottle, counted)


def card(
    pump: str = "", kind: str = "", on_occlusion: bool | None = None, **values: CardSetting
) -> CardProfile:
    return CardProfile(values, pump, kind, on_occlusion)


VACUUM = card(vacuum_mmHg=CardSetting(350, "linear", 25, 50))
TRAIN = card(pulses_per_s=CardSetting(40, "", 0), on_time_ms=CardSetting(6, "", 0))
SOFT = card(power_percent=CardSetting(20, "linear", 5), vacuum_mmHg=CardSetting(250, "fixed", 25))
HARD = card(power_percent=CardSetting(40, "linear", 25), vacuum_mmHg=CardSetting(260, "fixed", 25))
SOFTER = (Softer(Grade("clinical", 1), SOFT),)
CLINICAL_3 = Grade("clinical", 3)
SCULPTED = {"sculpt": said("sculpt", vacuum_mmHg=65)}
EARLIER = said(vacuum_mmHg=300, bottle_cm=90)
RISE_ON = replace(DEFAULT, off=frozenset())


def incision(main_deg: float, side_port_deg: float, **others: object) -> Situation:
    whole = {"eye": "right", **others}
    return Situation(said(), incision=Incision(main_deg, side_port_deg, **whole))  # type: ignore[arg-type]  # the keywords are Incision's own


@dataclass(frozen=True)
class Example:
    """`fires` has the rule's finding, with `expected` in it; `just_not` is as near as can be."""

    fires: Situation
    just_not: Situation
    quantity: str
    heard: float | str
    expected: float | str
    limits: Limits = DEFAULT


EXAMPLES = {
    "power-without-pedal-3": Example(
        Situation(said("cortex", power_percent=1)),
        Situation(said("cortex", power_percent=0)),
        *("power_percent", 1, 0),
    ),
    "above-100-percent": Example(
        Situation(said(duty_percent=101)),
        Situation(said(duty_percent=100)),
        *("duty_percent", 101, 100),
    ),
    "on-time-above-period": Example(  # 40 a second: 25 ms
        Situation(said(pulses_per_s=40, on_time_ms=26)),
        Situation(said(pulses_per_s=40, on_time_ms=25)),
        *("on_time_ms", 26, 25),
    ),
    "timing-differs": Example(  # 6 of 25 ms: 24%
        Situation(said(pulses_per_s=40, on_time_ms=6, duty_percent=25)),
        Situation(said(pulses_per_s=40, on_time_ms=6, duty_percent=24.5)),
        *("duty_percent", 25, 24),
    ),
    "pulses-in-continuous": Example(
        Situation(said(kind="continuous", duty_percent=99)),
        Situation(said(kind="continuous", duty_percent=100)),
        *("duty_percent", 99, "continuous"),
    ),
    "flow-on-venturi": Example(
        Situation(said(pump="venturi", flow_cc_per_min=30)),
        Situation(said(pump="peristaltic", flow_cc_per_min=30)),
        *("flow_cc_per_min", 30, "none"),
    ),
    "minimum-above-maximum": Example(
        Situation(said(vacuum_mmHg=Setting(300, "linear", 301))),
        Situation(said(vacuum_mmHg=Setting(300, "linear", 300))),
        *("vacuum_mmHg", 301, 300),
    ),
    "fixed-with-minimum": Example(
        Situation(said(vacuum_mmHg=Setting(300, "fixed", 299))),
        Situation(said(vacuum_mmHg=Setting(300, "fixed", 300))),
        *("vacuum_mmHg", 299, 300),
    ),
    "unit-missing": Example(
        Situation(said(bare_bottle=60)),
        Situation(said(bottle_cm=60)),
        *("bottle", 60, "cm or mmHg"),
    ),
    "two-infusions": Example(  # 60 cm: 44.1 mmHg
        Situation(said(bottle_cm=60, infusion_mmHg=60)),
        Situation(said(bottle_cm=60, infusion_mmHg=47)),
        *("infusion_mmHg", 60, 44.1),
    ),
    "card-value": Example(
        Situation(said(vacuum_mmHg=376), VACUUM),
        Situation(said(vacuum_mmHg=375), VACUUM),
        *("vacuum_mmHg", 376, 350),
    ),
    "card-control": Example(
        Situation(said(vacuum_mmHg=Setting(350, "fixed")), VACUUM),
        Situation(said(vacuum_mmHg=Setting(350, "linear")), VACUUM),
        *("vacuum_mmHg", "fixed", "linear"),
    ),
    "card-minimum": Example(
        Situation(said(vacuum_mmHg=Setting(350, "linear", 76)), VACUUM),
        Situation(said(vacuum_mmHg=Setting(350, "linear", 75)), VACUUM),
        *("vacuum_mmHg", 76, 50),
    ),
    "card-timing": Example(
        Situation(said(duty_percent=25), TRAIN),
        Situation(said(duty_percent=24.5), TRAIN),
        *("duty_percent", 25, 24),
    ),
    "card-pump": Example(
        Situation(said(pump="venturi"), card(pump="peristaltic")),
        Situation(said(pump="venturi"), card(pump="venturi")),
        *("pump", "venturi", "peristaltic"),
    ),
    "card-modulation": Example(
        Situation(said(kind="pulse"), card(kind="short-pulses")),
        Situation(said(kind="short-pulses"), card(kind="short-pulses")),
        *("modulation", "pulse", "short pulses"),
    ),
    "card-trigger": Example(
        Situation(said(on_occlusion=False), card(on_occlusion=True)),
        Situation(said(), card(on_occlusion=True)),
        *("trigger", "none", "occlusion"),
    ),
    "usual-range": Example(
        Situation(said("sculpt", vacuum_mmHg=101)),
        Situation(said("sculpt", vacuum_mmHg=100)),
        *("vacuum_mmHg", 101, 100),
    ),
    "short-pulse-time": Example(
        Situation(said(kind="short-pulses", on_time_ms=11)),
        Situation(said(kind="short-pulses", on_time_ms=10)),
        *("on_time_ms", 11, 10),
    ),
    "vacuum-order": Example(
        Situation(said("epinucleus", vacuum_mmHg=65), others=SCULPTED),
        Situation(said("epinucleus", vacuum_mmHg=66), others=SCULPTED),
        *("vacuum_mmHg", 65, 65),
    ),
    "polish-above-sculpt": Example(
        Situation(said("polish", vacuum_mmHg=66), others=SCULPTED),
        Situation(said("polish", vacuum_mmHg=65), others=SCULPTED),
        *("vacuum_mmHg", 66, 65),
    ),
    "vacuum-up-bottle-down": Example(
        Situation(said(vacuum_mmHg=301, bottle_cm=89), before=EARLIER),
        Situation(said(vacuum_mmHg=301, bottle_cm=90), before=EARLIER),
        *("vacuum_mmHg", 301, 300),
    ),
    "soft-profile": Example(
        Situation(said(power_percent=20, vacuum_mmHg=250), HARD, softer=SOFTER, grade=CLINICAL_3),
        Situation(said(power_percent=21, vacuum_mmHg=250), HARD, softer=SOFTER, grade=CLINICAL_3),
        *("grade", 3, 1),
    ),
    "chamber-stability": Example(  # (30 + 5) x 0.5 + 10 = 27.5 mmHg: 37.39 cm
        Situation(said(bottle_cm=37, flow_cc_per_min=30)),
        Situation(said(bottle_cm=38, flow_cc_per_min=30)),
        *("bottle_cm", 37, 38),
    ),
    "rise-time": Example(  # 4 s at 20 cc/min to 400 mmHg: 1 s at 60 cc/min to 300
        Situation(said(vacuum_mmHg=300, flow_cc_per_min=61)),
        Situation(said(vacuum_mmHg=300, flow_cc_per_min=60)),
        *("flow_cc_per_min", 61, 60),
        RISE_ON,
    ),
    "power-without-flow": Example(
        Situation(said(power_percent=1, flow_cc_per_min=9)),
        Situation(said(power_percent=1, flow_cc_per_min=10)),
        *("flow_cc_per_min", 9, 10),
    ),
    "card-separation": Example(
        incision(65, 171, separation_deg=90, tolerance_deg=15),
        incision(65, 170, separation_deg=90, tolerance_deg=15),
        *("separation_deg", 106, 90),
    ),
    "usual-separation": Example(
        incision(180, 121),
        incision(180, 120),
        *("separation_deg", 59, 60),
    ),
    "seat-side": Example(
        incision(180, 90, seat="superior"),
        incision(180, 90, seat="temporal"),
        *("seat", "superior", "temporal"),
    ),
    "end-of-case": Example(
        Situation(said(), end=EndOfCase(60, 20, 12.5)),
        Situation(said(), end=EndOfCase(60, 20, 12.3)),
        *("effective_s", 12.5, 12),
    ),
    "count-as-rate": Example(
        Situation(said(pulses_per_s=40, on_time_ms=6, counted=True)),
        Situation(said(pulses_per_s=40, on_time_ms=6)),
        *("pulses_per_s", 40, "per second"),
    ),
    "turnover": Example(  # 3.5 a second x 0.25 cc x 60 s
        Situation(said(flow_cc_per_min=52.6)),
        Situation(said(flow_cc_per_min=52.5)),
        *("flow_cc_per_min", 52.6, 52.5),
    ),
    "continuous-power": Example(
        Situation(said(kind="continuous", power_percent=71)),
        Situation(said(kind="continuous", power_percent=70)),
        *("power_percent", 71, 70),
    ),
    "grade-near-edge": Example(
        Situation(said(), grade=Grade("locs3-no", 4.2), edges=(3.0, 4.9)),
        Situation(said(), grade=Grade("locs3-no", 4.1), edges=(3.0, 4.9)),
        *("grade", 4.2, 4.9),
    ),
}


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
        ("short_pulse_on_time_ms", (2, 6), "short-pulse-time", "just_not"),
        ("usual_separation_deg", (70, 90), "usual-separation", "just_not"),
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
    other_scale = Grade("hardness", 4)
    assert of_rule("soft-profile", Situation(heard, HARD, softer=SOFTER, grade=other_scale)) == []


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


# Nothing makes a check raise, and no unit is lost

NUMBER = st.floats() | st.floats(0, 1000) | st.integers(0, 1000).map(float)
CONTROL = st.sampled_from(["", "linear", "fixed"])
QUANTITY = st.sampled_from(sorted(UNITS))
SETTINGS = st.dictionaries(
    QUANTITY, st.builds(Setting, NUMBER, CONTROL, st.none() | NUMBER), max_size=9
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
    st.booleans(),
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
GRADE = st.builds(Grade, st.sampled_from([*SCALES, "another"]), NUMBER)
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
        NUMBER,
        NUMBER,
        st.sampled_from(["right", "left", ""]),
        st.none() | NUMBER,
        NUMBER,
        st.sampled_from(["", "temporal", "superior"]),
    ),
    st.none()
    | st.builds(
        EndOfCase, st.none() | NUMBER, st.none() | NUMBER, st.none() | NUMBER, st.none() | NUMBER
    ),
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
