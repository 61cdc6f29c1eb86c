"""`voicelist assess`: spoken settings of a phase, the whole profile, without a session."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from voicelist.assessing import assess_words, for_programs, setting_words
from voicelist.clinical.profile import SpokenGrade
from voicelist.clinical.rules import findings
from voicelist.documents.loading import load_card, load_sentences
from voicelist.errors import DocumentError
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.places import shipped
from voicelist.session.checked import situation_of
from voicelist.session.profile import settings_said
from voicelist.session.rule_sentences import sentence_for

CARDS = shipped("grammars") / "cards"
BURSTS = Path(__file__).parent / "assessed" / "cards" / "bursts.yaml"
DEMO = CARDS / "demo-surgeon.yaml"
KEYS = ["rule", "severity", "quantity", "heard", "expected", "unit", "sentence"]
BURST_WORDS = (
    "power at 35 percent linear from zero, vacuum 320 fixed, flow 34 fixed, "
    "burst power triggered by occlusion with on time 10 milliseconds and pulses 25"
)


def assessed(
    words: str, card: Path = BURSTS, grade: str = "clinical 2", phase: str = "quadrant"
) -> dict[str, Any]:
    return for_programs(assess_words(words, card, grade, phase))


def test_a_whole_profile_fits_its_card() -> None:
    told = assessed(BURST_WORDS)
    assert told["understood"] == {
        "power_percent": {"value": 35, "control": "linear", "minimum": 0},
        "vacuum_mmHg": {"value": 320, "control": "fixed"},
        "flow_cc_per_min": {"value": 34, "control": "fixed"},
        "modulation": {"value": "burst", "control": ""},
        "trigger": {"value": "occlusion", "control": ""},
        "on_time_ms": {"value": 10, "control": ""},
        "pulses_per_s": {"value": 25, "control": ""},
    }
    assert told["findings"] == []


@pytest.mark.parametrize("words", ["count forty", "short pulses", "pulses on occlusion"])
def test_words_of_one_machine_are_not_taken(words: str) -> None:
    assert assessed(words)["understood"] == {}


@pytest.mark.parametrize(
    "words",
    [
        "power thirty five linear vacuum three twenty fixed flow thirty four fixed",
        "flow thirty four and vacuum three twenty and power thirty five percent linear from zero",
        "burst power triggered by occlusion on time ten pulses twenty five per second",
        "duty 25 percent",
        "off time thirty milliseconds",
        "burst power",
    ],
)
def test_what_fits_the_card_has_nothing_to_read_back(words: str) -> None:
    told = assessed(words)
    assert told["understood"]
    assert told["findings"] == []


# One row a read-back: words, rule, sentence; numbers by the card of bursts.
READ_BACKS = [
    ("vacuum five hundred", "card-value", "Vacuum is 500; the card says 320."),
    ("power thirty five fixed", "card-control", "Power is fixed; the card says linear."),
    ("power thirty five linear from ten", "card-minimum", "Power starts at 10; the card says 0."),
    ("duty fifty percent", "card-timing", "Duty cycle is 50; the card says 25."),
    ("pulsed power", "card-modulation", "Modulation is pulse; the card says burst."),
    ("bottle sixty centimeters", "usual-range", "Bottle is 60; usual ends at 75. Please confirm."),
    (
        "bottle sixty",
        "unit-missing",
        "Bottle is 60: in centimeters or millimeters of mercury?",
    ),
    (
        "bottle ninety centimeters pressure eighty millimeters of mercury",
        "two-infusions",
        "Pressure is 80; that bottle gives 66.2. Which applies?",
    ),
    (
        "on time thirty pulses forty",
        "on-time-above-period",
        "On time is 30; one period is 25. Please correct it.",
    ),
    (
        "pulses twenty five on time ten duty fifty",
        "timing-differs",
        "Duty cycle is 50; the others give 25. Please check.",
    ),
    (
        "venturi pump flow thirty",
        "flow-on-venturi",
        "Flow is 30; venturi takes none. Please correct it.",
    ),
    (
        "vacuum three hundred linear from three fifty",
        "minimum-above-maximum",
        "Vacuum starts at 350, above 300. Please correct it.",
    ),
    (
        "pressure twenty five millimeters flow thirty",
        "chamber-stability",
        "Pressure is 25; this outflow needs 28. Please check.",
    ),
    (
        "power twenty flow five",
        "power-without-flow",
        "Flow is 5 with power; expected at least 10 for cooling.",
    ),
    (
        "power one hundred and one percent",
        "above-100-percent",
        "Power cannot be 101, at most 100. Please correct it.",
    ),
    ("flow fifty five", "turnover", "Flow is 55; at most 52.5 leaves time to react."),
    (
        "continuous power power eighty",
        "continuous-power",
        "Power is 80 without pause; above 70 pulses are cooler.",
    ),
]


@pytest.mark.parametrize(("words", "rule", "sentence"), READ_BACKS)
def test_a_read_back_in_words(words: str, rule: str, sentence: str) -> None:
    findings = {one["rule"]: one for one in assessed(words)["findings"]}
    assert findings[rule]["sentence"] == sentence
    assert list(findings[rule]) == KEYS
    assert len(sentence.split()) <= 12


# Details instead of settings, by the demo surgeon's card: 90 degrees, tolerance 15.
DETAILS = [
    (
        "main incision at 180 and side port at 140",
        {"main_deg": 180, "side_port_deg": 140},
        ["Incisions are 40 degrees apart; the card says 90."],
    ),
    ("main incision at 40 side port at 130", {"main_deg": 40, "side_port_deg": 130}, []),
    (
        "left eye main incision temporal and side port at six o'clock and seat superior",
        {"main_deg": 0, "side_port_deg": 270, "seat": "superior"},
        ["The seat is superior; this incision faces temporal. Please check."],
    ),
    (
        "right eye main incision temporal side port at 12 o'clock",
        {"main_deg": 180, "side_port_deg": 90},
        [],
    ),
    ("main incision temporal", {"main_deg": "temporal"}, []),
    ("knees at 90 degrees", {"knee_deg": 90}, ["Knees are at 90 degrees; expected above 90."]),
    (
        "pedal walk three two three two one zero",
        {"walk": [3, 2, 3, 2, 1, 0]},
        [],
    ),
    (
        "printout lens power plus 21.5 box lens power minus 11.5",
        {"printout_power_D": 21.5, "box_power_D": -11.5},
        ["Lens power is -11.5 on the box, +21.5 elsewhere. Please check."],
    ),
    (
        "lens axis at 190 target plus 3",
        {"axis_deg": 190, "target_D": 3},
        [
            "Axis cannot be 190, at most 180. Please correct it.",
            "Target is +3; usual ends at +2. Please confirm.",
        ],
    ),
    (
        "ultrasound time 60 seconds mean power 20 percent effective time 12 seconds",
        {"ultrasound_s": 60, "mean_power_percent": 20, "effective_s": 12},
        [],
    ),
    (
        "total time 90 mean duty 50 mean power 25 effective time 12.5",
        {"total_s": 90, "duty_percent": 50, "mean_power_percent": 25, "effective_s": 12.5},
        ["Effective time is 12.5; the others give 11.25. Please check."],
    ),
    (
        "mean power 55",
        {"mean_power_percent": 55},
        ["Mean power is 55; expected at most 50. Please check."],
    ),
]


@pytest.mark.parametrize(("words", "understood", "sentences"), DETAILS)
def test_details_are_assessed_as_settings_are(
    words: str, understood: dict[str, Any], sentences: list[str]
) -> None:
    told = assessed(words, DEMO)
    assert {name: one["value"] for name, one in told["understood"].items()} == understood
    assert [one["sentence"] for one in told["findings"]] == sentences
    assert all(len(one.split()) <= 12 for one in sentences)


def test_the_walk_is_shown_on_one_line() -> None:
    understood = assessed("pedal walk three two one", DEMO)["understood"]
    assert setting_words(understood["walk"]) == "3 2 1"


def test_every_rule_that_reads_back_says_what_to_do_and_how_far_it_may_be_trusted() -> None:
    told = assess_words("vacuum 500 flow 55", BURSTS, "clinical 2", "quadrant")
    assert [(one["remedy"], one["source"].partition(":")[0]) for one in told["findings"]] == [
        ("Say the value again, or let the surgeon accept it with a reason.", "project choice"),
        ("Say the value again, or let the surgeon accept it with a reason.", "project choice"),
        ("A lower flow gives more time to react.", "published"),
    ]


def test_the_other_phases_are_those_of_the_card() -> None:
    """Sculpt below epinucleus below chop (EyeWorld, August 2014, p. 69); the card has 180."""
    told = assessed("vacuum one eighty five", DEMO, "clinical 2", "sculpt")
    assert [one["rule"] for one in told["findings"]] == ["card-value", "vacuum-order"]
    assert told["findings"][1]["sentence"] == (
        "Vacuum is 185; expected below 180, as for epinucleus."
    )


def test_the_settings_of_a_softer_grade_are_known_again() -> None:
    told = assessed("power 30 vacuum 300 flow 28", DEMO, "clinical 3", "quadrant")
    (found,) = [one for one in told["findings"] if one["rule"] == "soft-profile"]
    assert (found["heard"], found["expected"]) == (3, 2)
    assert found["sentence"] == "These settings are for grade 2; grade 3 was declared."
    told = assessed("power 30 vacuum 300 flow 29", DEMO, "clinical 3", "quadrant")
    assert "soft-profile" not in [one["rule"] for one in told["findings"]]


def test_power_in_irrigation_and_aspiration_cannot_be(tmp_path: Path) -> None:
    card = _site(tmp_path, "cortex: {vacuum_mmHg: {value: 400, control: linear, tolerance: 50}}")
    (found,) = assessed("power ten", card, "locs3-no 4.2", "cortex")["findings"][:1]
    assert (found["rule"], found["severity"], found["expected"]) == (
        "power-without-pedal-3",
        "stop",
        0,
    )


@pytest.mark.parametrize(("grade", "near"), [("locs3-no 4.2", True), ("locs3-no 4.1", False)])
def test_a_grade_near_the_next_band_of_the_card_is_noted(
    tmp_path: Path, grade: str, near: bool
) -> None:
    """0.7 is the 95% tolerance of LOCS III (Chylack et al. 1993); the card's bands meet at 4.9."""
    card = _site(tmp_path, "quadrant: {vacuum_mmHg: {value: 300, control: fixed, tolerance: 50}}")
    rules = [one["rule"] for one in assessed("vacuum 300", card, grade)["findings"]]
    assert rules == (["grade-near-edge"] if near else [])


def test_limits_beside_the_card_are_the_sites(tmp_path: Path) -> None:
    card = _site(tmp_path, "quadrant: {vacuum_mmHg: {value: 300, control: fixed, tolerance: 50}}")
    words = "flow fifty five bottle 130 centimeters"
    before = {one["rule"] for one in assessed(words, card, "locs3-no 4")["findings"]}
    assert before == {"usual-range", "turnover"}
    limits = "format: 1\nlanguage: en-US\noff: [turnover]\nusual:\n  quadrant:\n"
    limits += "    bottle_cm: {from: 75, to: 140}\n    flow_cc_per_min: {from: 25, to: 60}\n"
    (tmp_path / "limits.yaml").write_text(limits, encoding="utf-8")
    assert assessed(words, card, "locs3-no 4")["findings"] == []
    (tmp_path / "limits.yaml").write_text(limits.replace("off", "of"), encoding="utf-8")
    with pytest.raises(DocumentError, match=r'limits.yaml:3:1: found the unknown key "of"'):
        assessed(words, card, "locs3-no 4")


def test_every_pair_of_words_that_may_be_said_has_one_meaning_and_short_read_backs() -> None:
    """Sentences that together hold each word pair of the whole profile."""
    texts = {
        path.stem: path.read_text(encoding="utf-8")
        for path in (shipped("grammars") / "rules").glob("*.abnf")
    }
    whole = {"profile": Reference("profile", PhrasePlace("profile", 1, 1))}
    grammar = Grammar(whole, RuleSet.from_texts(texts.items()))
    catalogue = load_sentences(shipped("grammars") / "sentences.en.yaml").document
    card = load_card(BURSTS).document
    for sentence in grammar.phrase_list():
        (match,) = grammar.parses(sentence.split())
        values = settings_said(match)
        assert values
        for phase in ("quadrant", "cortex"):
            situation = situation_of(card, SpokenGrade("clinical", 2), phase, values)
            for finding in findings(situation):
                assert len(sentence_for(catalogue, finding).split()) <= 12


@pytest.mark.parametrize(
    "words", ["vacuum", "vacuum low", "vacuum 300 or less", "bottle 60 meters", ""]
)
def test_what_is_not_wholly_understood_is_not_assessed(words: str) -> None:
    assert assessed(words) == {"understood": {}, "findings": []}


def test_a_setting_on_a_line() -> None:
    understood = assessed(BURST_WORDS)["understood"]
    assert setting_words(understood["power_percent"]) == "0 to 35 linear"
    assert setting_words(understood["pulses_per_s"]) == "25"
    assert setting_words(understood["trigger"]) == "occlusion"


def _site(folder: Path, phase: str) -> Path:
    bands = "".join(
        f"  - {{scale: locs3-no, from: {low}, to: {high}, phases: {{{phase}}}}}\n"
        for low, high in ((3, 4.8), (4.9, 6.9))
    )
    path = folder / "cards" / "site.yaml"
    path.parent.mkdir()
    path.write_text(f"format: 1\nlanguage: en-US\nid: site\ngrades:\n{bands}", encoding="utf-8")
    return path


def test_both_spellings_of_a_unit_are_understood() -> None:
    assert assessed("bottle 90 centimetres") == assessed("bottle 90 centimeters")
    assert assessed("bottle 90 centimetres")["understood"]["bottle_cm"]["value"] == 90
