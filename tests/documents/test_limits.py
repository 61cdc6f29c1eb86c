"""A site's limits: what it may set and switch, told line by line where it may not."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path

import pytest
from example_documents import LIMITS, only_problem, place_in, spoiled, write_grammars

from voicelist.clinical.limits import DEFAULT, USUAL_RANGES, Limits
from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.documents.limits import OWN_LIMITS, Figures
from voicelist.documents.loading import load_limits, parse_document, sniff_kind
from voicelist.documents.models import SiteLimits
from voicelist.errors import DocumentError
from voicelist.places import shipped


def limits(text: str = LIMITS) -> Limits:
    return parse_document(SiteLimits, text, "limits.yaml").document.for_rules()


def test_what_a_site_gives_goes_before_our_own_and_the_rest_stays() -> None:
    found = limits()
    assert found.off == {"rise-time", "turnover"}
    assert found.line_resistance_mmHg_min_per_cc == 0.4
    assert found.usual_separation_deg == (1, 12)
    assert found.least_chamber_mmHg == DEFAULT.least_chamber_mmHg
    assert found.usual["sculpt"]["vacuum_mmHg"] == (10, 80)
    assert found.usual["sculpt"]["pulses_per_s"] == (0, 40)
    assert found.usual["sculpt"]["flow_cc_per_min"] == USUAL_RANGES["sculpt"]["flow_cc_per_min"]
    assert found.usual["chop"] == USUAL_RANGES["chop"]


def test_a_document_without_a_word_of_its_own_changes_nothing() -> None:
    assert limits("format: 1\nlanguage: en-US\n") == replace(DEFAULT, usual=DEFAULT.usual)
    assert OWN_LIMITS.for_rules() == DEFAULT


def test_nothing_can_be_off_and_that_is_not_the_same_as_nothing_said() -> None:
    assert limits("format: 1\nlanguage: en-US\noff: []\n").off == frozenset()


def test_the_shipped_document_says_what_holds_without_it() -> None:
    """So that a site can read its comments, and change a figure knowing what it was."""
    path = shipped("grammars") / "limits.yaml"
    assert load_limits(path).document.for_rules() == DEFAULT
    text = path.read_text(encoding="utf-8")
    for one in fields(Limits):
        assert f"{one.name}:" in text


def test_every_figure_of_the_rules_can_be_set() -> None:
    assert set(Figures.model_fields) == {one.name for one in fields(Limits)} - {"usual", "off"}


@pytest.mark.parametrize(
    ("old", "new", "needle", "found", "expected"),
    [
        ("turnover]", "turnovr]", "turnovr", 'unknown rule "turnovr"', 'did you mean "turnover"?'),
        ("turnover]", "card-value]", "card-value", 'the rule "card-value"', "holds at every site"),
        (
            "turnover]",
            "power-without-pedal-3]",
            "power-without",
            'the rule "power-without-pedal-3"',
            "holds at every site",
        ),
        ("min_per_cc: 0.4", "min_per_cc: 0", "0\n", "the number 0", "above 0, at most 1000"),
        ("min_per_cc: 0.4", "min_per_cc: much", "much", 'the text "much"', "a number above 0"),
        ("{from: 1, to: 12}", "{from: 12, to: 1}", "1}", "the number 1", 'at least "from", 12'),
        ("{from: 1, to: 12}", "12", "12\n", "the number 12", "expected from and to"),
        ("sculpt:", "sculpting:", "sculpting", 'the text "sculpting"', 'did you mean "sculpt"?'),
        ("pulses_per_s:", "pulse_rate:", "pulse_rate", 'the text "pulse_rate"', "expected one of"),
        ("from: 10", "from: -10", "-10", "the number -10", "at least 0"),
        ("off:", "of:", "of:", 'the unknown key "of"', 'did you mean "off"?'),
    ],
)
def test_what_a_site_may_not_set_is_told_at_its_place(
    old: str, new: str, needle: str, found: str, expected: str
) -> None:
    text = spoiled(LIMITS, old, new)
    place, what, wanted = only_problem(SiteLimits, text)
    assert place == place_in(text, needle)
    assert found in what
    assert expected in wanted


def test_a_case_takes_the_limits_beside_its_plans_into_its_record(tmp_path: Path) -> None:
    plan = write_grammars(tmp_path / "site")
    nothing = tmp_path / "nothing"
    nothing.mkdir()
    assert load_bundle(plan, nothing).limits == OWN_LIMITS
    (tmp_path / "site/limits.yaml").write_text(LIMITS, encoding="utf-8")
    bundle = load_bundle(plan, nothing)
    assert bundle.limits.for_rules() == limits()
    assert bundle.place_of("limits", ("off",)).line == 3
    written = json.loads(json.dumps(bundle.to_json()))
    assert written["limits"]["usual"]["chop"]["bottle_cm"] == {"from": 75, "to": 120}
    assert written["limits"]["limits"]["least_chamber_mmHg"] == DEFAULT.least_chamber_mmHg
    assert Bundle.from_json(written) == bundle


def test_a_record_from_before_there_were_limits_is_read_with_our_own(tmp_path: Path) -> None:
    written = load_bundle(write_grammars(tmp_path), tmp_path).to_json()
    del written["limits"]
    assert Bundle.from_json(written).limits == OWN_LIMITS


def test_limits_in_another_language_are_told(tmp_path: Path) -> None:
    plan = write_grammars(tmp_path)
    path = tmp_path / "limits.yaml"
    path.write_text(LIMITS.replace("en-US", "de-DE"), encoding="utf-8")
    with pytest.raises(DocumentError, match="expected en, the language of the checklist"):
        load_bundle(plan, tmp_path)


def test_limits_are_known_by_name_and_by_key(tmp_path: Path) -> None:
    for name in ("limits.yaml", "something.yaml"):
        path = tmp_path / name
        path.write_text(LIMITS, encoding="utf-8")
        assert sniff_kind(path) == "limits"
