"""One situation in which each rule fires, and one as near to it as can be in which it does not."""

from __future__ import annotations

from dataclasses import dataclass, replace

from voicelist.clinical.energy import EndOfCase
from voicelist.clinical.lens import LensSaid
from voicelist.clinical.limits import DEFAULT, Limits
from voicelist.clinical.profile import (
    CardProfile,
    CardSetting,
    Incision,
    Profile,
    Situation,
    Softer,
    SpokenGrade,
    SpokenSetting,
)


def said(
    phase: str = "quadrant",
    pump: str = "",
    kind: str = "",
    on_occlusion: bool | None = None,
    *,
    bare_bottle: float | None = None,
    **values: float | SpokenSetting,
) -> Profile:
    every = {
        name: one if isinstance(one, SpokenSetting) else SpokenSetting(one)
        for name, one in values.items()
    }
    return Profile(phase, every, pump, kind, on_occlusion, bare_bottle)


def card(
    pump: str = "", kind: str = "", on_occlusion: bool | None = None, **values: CardSetting
) -> CardProfile:
    return CardProfile(values, pump, kind, on_occlusion)


VACUUM = card(vacuum_mmHg=CardSetting(350, "linear", 25, 50))
TRAIN = card(pulses_per_s=CardSetting(40, "", 0), on_time_ms=CardSetting(6, "", 0))
SOFT = card(power_percent=CardSetting(20, "linear", 5), vacuum_mmHg=CardSetting(250, "fixed", 25))
HARD = card(power_percent=CardSetting(40, "linear", 25), vacuum_mmHg=CardSetting(260, "fixed", 25))
SOFTER = (Softer(SpokenGrade("clinical", 1), SOFT),)
CLINICAL_3 = SpokenGrade("clinical", 3)
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
        Situation(said(vacuum_mmHg=SpokenSetting(300, "linear", 301))),
        Situation(said(vacuum_mmHg=SpokenSetting(300, "linear", 300))),
        *("vacuum_mmHg", 301, 300),
    ),
    "fixed-with-minimum": Example(
        Situation(said(vacuum_mmHg=SpokenSetting(300, "fixed", 299))),
        Situation(said(vacuum_mmHg=SpokenSetting(300, "fixed", 300))),
        *("vacuum_mmHg", 299, 300),
    ),
    "angle-too-large": Example(  # positions to 360, axes to 180: ISO 8429:1986
        Situation(said(), lens={"mark": LensSaid(axis_deg=190)}),
        Situation(said(), lens={"mark": LensSaid(axis_deg=180)}),
        *("axis_deg", 190, 180),
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
    "card-silent": Example(
        Situation(said(), grade=SpokenGrade("clinical", 0), card_silent=True),
        Situation(said(), grade=SpokenGrade("clinical", 0)),
        *("grade", 0, "nothing"),
    ),
    "card-value": Example(
        Situation(said(vacuum_mmHg=376), VACUUM),
        Situation(said(vacuum_mmHg=375), VACUUM),
        *("vacuum_mmHg", 376, 350),
    ),
    "card-control": Example(
        Situation(said(vacuum_mmHg=SpokenSetting(350, "fixed")), VACUUM),
        Situation(said(vacuum_mmHg=SpokenSetting(350, "linear")), VACUUM),
        *("vacuum_mmHg", "fixed", "linear"),
    ),
    "card-minimum": Example(
        Situation(said(vacuum_mmHg=SpokenSetting(350, "linear", 76)), VACUUM),
        Situation(said(vacuum_mmHg=SpokenSetting(350, "linear", 75)), VACUUM),
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
        Situation(said(kind="pulse"), card(kind="burst")),
        Situation(said(kind="burst"), card(kind="burst")),
        *("modulation", "pulse", "burst"),
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
    "planned-place": Example(  # half an hour of the clock is 15 degrees: project choice
        incision(190, 280, planned_main_deg=174, planned_side_port_deg=270),
        incision(190, 280, planned_main_deg=175, planned_side_port_deg=270),
        *("main_deg", 190, 174),
    ),
    "seat-side": Example(
        incision(180, 90, seat="superior"),
        incision(180, 90, seat="temporal"),
        *("seat", "superior", "temporal"),
    ),
    "knee-angle": Example(  # above 90: common practice, no source
        Situation(said(), knee_deg=90),
        Situation(said(), knee_deg=91),
        *("knee_deg", 90, 90),
    ),
    "pedal-walk": Example(  # every position, in any order: project choice
        Situation(said(), walk=(0, 1, 3, 1, 0)),
        Situation(said(), walk=(0, 1, 3, 2, 0)),
        *("pedal", "not shown", 2),
    ),
    "nasal-incision": Example(  # the nose is at 0 of the right eye: ISO 8429, derived
        incision(44, 134),
        incision(45, 135),
        *("main_deg", 44, "nasal"),
    ),
    "pulses-without-pause": Example(
        Situation(said(kind="pulse", duty_percent=100)),
        Situation(said(kind="pulse", duty_percent=99)),
        *("duty_percent", 100, "continuous"),
    ),
    "infusion-range": Example(  # Takhtaev et al., ESCRS 2020: lost in 11 of 29 at 58.8 mmHg
        Situation(said(infusion_mmHg=61)),
        Situation(said(infusion_mmHg=60)),
        *("infusion_mmHg", 61, 60),
    ),
    "ultrasound-time": Example(  # project choice
        Situation(said(), end=EndOfCase(ultrasound_s=301)),
        Situation(said(), end=EndOfCase(ultrasound_s=300)),
        *("ultrasound_s", 301, 300),
    ),
    "lens-sources": Example(
        Situation(said(), lens={"printout": LensSaid(power_D=21.5), "box": LensSaid(power_D=21)}),
        Situation(said(), lens={"printout": LensSaid(power_D=21.5), "box": LensSaid(power_D=21.5)}),
        *("lens_D", 21, 21.5),
    ),
    "lens-step": Example(
        Situation(said(), lens={"box": LensSaid(power_D=21.3)}),
        Situation(said(), lens={"box": LensSaid(power_D=21.25)}),
        *("lens_D", 21.3, "0.25"),
    ),
    "lens-target": Example(
        Situation(said(), lens={"printout": LensSaid(target_D=-6.25)}),
        Situation(said(), lens={"printout": LensSaid(target_D=-6)}),
        *("target_D", -6.25, -6),
    ),
    "grade-step": Example(
        Situation(said(), grade=SpokenGrade("locs3-no", 3.15)),
        Situation(said(), grade=SpokenGrade("locs3-no", 3.1)),
        *("grade", 3.15, "0.1"),
    ),
    "end-of-case": Example(
        Situation(said(), end=EndOfCase(60, 20, 12.5)),
        Situation(said(), end=EndOfCase(60, 20, 12.3)),
        *("effective_s", 12.5, 12),
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
        Situation(said(), grade=SpokenGrade("locs3-no", 4.2), edges=(3.0, 4.9)),
        Situation(said(), grade=SpokenGrade("locs3-no", 4.1), edges=(3.0, 4.9)),
        *("grade", 4.2, 4.9),
    ),
}
