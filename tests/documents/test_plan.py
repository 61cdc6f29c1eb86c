"""Case plans: a code, an eye, a grade, a lens, and no surprises."""

from __future__ import annotations

import pytest
from example_documents import PLAN, only_problem, place_in, problems, spoiled
from pydantic import ValidationError

from voicelist.documents.loading import parse_document
from voicelist.documents.models import Plan


def plan(text: str = PLAN) -> Plan:
    return parse_document(Plan, text, "file.yaml").document


def test_a_plan_is_read() -> None:
    document = plan()
    assert (document.case, document.eye) == ("practice-007", "left")
    assert (document.grade.scale, document.grade.value) == ("clinical", 3)
    assert (document.card, document.checklist) == ("demo-surgeon", "phaco")
    assert (document.lens.model, document.lens.power_D) == ("monofocal alpha", 21.5)
    assert document.lens.axis_deg == 90
    assert document.incision is not None
    assert (document.incision.main_deg, document.incision.side_port_deg) == (0, 270)


def test_axis_and_incision_may_be_left_out() -> None:
    text = spoiled(PLAN, ", axis_deg: 90", "")
    text = spoiled(text, "incision: {main_deg: 0, side_port_deg: 270}\n", "checklist: short\n")
    document = plan(text)
    assert (document.lens.axis_deg, document.incision, document.checklist) == (None, None, "short")


@pytest.mark.parametrize("power", ["-20", "-0.25", "0", "+0.5", "21.75", "60", "+60.00"])
def test_lens_powers_go_from_minus_20_to_60_in_quarters(power: str) -> None:
    assert plan(spoiled(PLAN, "+21.5", power)).lens.power_D == float(power)


@pytest.mark.parametrize("power", ["-20.25", "60.25", "21.6", "+21.55", "'21.5'", "21.5 D", "1e1"])
def test_other_lens_powers_are_refused_at_their_place(power: str) -> None:
    text = spoiled(PLAN, "+21.5", power)
    place, found, expected = only_problem(Plan, text)
    line, column = place_in(text, power)
    assert place == (line, column + power.startswith("'"))
    assert power.strip("'+") in found
    assert expected == "expected a lens power, -20 to +60 in steps of 0.25"


@pytest.mark.parametrize("code", ["practice 007", "a_b", "-x", "x-", "../x", "a--b", "ä", "a" * 65])
def test_a_case_is_a_code_without_spaces(code: str) -> None:
    place, found, expected = only_problem(Plan, spoiled(PLAN, "practice-007", f"'{code}'"))
    assert place == (3, 8)
    assert found.startswith("the text")
    assert expected == "expected a code of letters, digits and dashes, without spaces"


def test_a_case_code_of_digits_goes_in_quotes() -> None:
    assert plan(spoiled(PLAN, "practice-007", "007")).case == "007"
    place, found, expected = only_problem(Plan, spoiled(PLAN, "practice-007", "7"))
    assert (place, found) == ((3, 7), "the number 7")
    assert expected.endswith("(in quotes, to make it text)")


@pytest.mark.parametrize(
    ("old", "new", "needle", "found", "expected"),
    [
        ("eye: left", "eye: Left", "Left", 'the text "Left"', 'did you mean "left"?'),
        ("eye: left", "eye: both", "both", 'the text "both"', 'expected one of "left", "right"'),
        ("value: 3", "value: 5", "5}", "the number 5", "the scale clinical: 0 to 4"),
        ("grade: {scale: clinical, value: 3}", "grade: 3", "3\ncard", "the number 3", "scale and"),
        (
            "card: demo-surgeon",
            "card: ../x",
            "../x",
            'the text "../x"',
            "expected the id of a card",
        ),
        ("axis_deg: 90", "axis_deg: 181", "181", "the number 181", "expected a number, 0 to 180"),
        ("main_deg: 0", "main_deg: 360", "360", "the number 360", "from 0, below 360"),
        ("side_port_deg: 270", "side_port_deg: -1", "-1", "the number -1", "from 0, below 360"),
        ("model: monofocal alpha", 'model: ""', '", power', "an empty text", "some words"),
    ],
)
def test_a_wrong_value_is_told_where_it_stands(
    old: str, new: str, needle: str, found: str, expected: str
) -> None:
    text = spoiled(PLAN, old, new)
    place, was, wanted = only_problem(Plan, text)
    assert place == place_in(text, needle)
    assert was == found
    assert expected in wanted


def test_no_name_of_a_patient_finds_a_place() -> None:
    place, found, expected = only_problem(Plan, PLAN + "patient: somebody\n")
    assert (place, found) == ((9, 1), 'the unknown key "patient"')
    assert "patient" not in expected


@pytest.mark.parametrize("key", ["case", "language", "format"])
def test_a_plan_needs_its_keys(key: str) -> None:
    text = "".join(line for line in PLAN.splitlines(True) if not line.startswith(f"{key}:"))
    place, found, expected = only_problem(Plan, text)
    assert (place, found) == ((1, 1), f'no key "{key}"')
    assert expected.startswith(f"expected {key}: ")


def test_a_plan_may_do_without_an_eye_but_not_with_incisions_or_a_second_one() -> None:
    without = PLAN.replace("eye: left\n", "").replace(
        "incision: {main_deg: 0, side_port_deg: 270}\n", ""
    )
    assert (plan(without).eye, plan(without).side) == (None, "")
    for more in ("incision: {main_deg: 0, side_port_deg: 270}\n", "second eye of: practice-6\n"):
        place, found, expected = only_problem(Plan, without + more)
        assert place == (7, 1)
        assert found == f'"{more.partition(":")[0]}" without an eye'
        assert expected == "expected eye: left or right"


@pytest.mark.parametrize("number", ["2", "0", "-1"])
def test_another_format_is_the_only_thing_told(number: str) -> None:
    text = spoiled(PLAN, "format: 1", f"format: {number}") + "something: new\n"
    place, found, expected = only_problem(Plan, text)
    assert (place, found) == ((1, 9), f"format {number}")
    assert "this version of voicelist reads format 1 only" in expected


@pytest.mark.parametrize("value", ["one", "true", "1.0", "'1'"])
def test_a_format_is_a_whole_number(value: str) -> None:
    found = problems(Plan, spoiled(PLAN, "format: 1", f"format: {value}"))
    assert [(one.line, one.expected) for one in found] == [
        (1, "expected 1, the format this version of voicelist reads")
    ]


@pytest.mark.parametrize("tag", ["en", "en-GB", "de-DE", "sr-Latn-RS", "es-419"])
def test_a_language_is_a_tag(tag: str) -> None:
    assert plan(spoiled(PLAN, "en-US", tag)).language == tag


@pytest.mark.parametrize("tag", ["en_US", "EN-us", "english", "en-", "e", "no way"])
def test_what_is_no_language_tag_is_told(tag: str) -> None:
    place, found, expected = only_problem(Plan, spoiled(PLAN, "en-US", tag))
    assert (place, found) == ((2, 11), f'the text "{tag}"')
    assert expected == "expected a language tag such as en-US"


def test_norwegian_is_a_language_and_no_boolean() -> None:
    assert plan(spoiled(PLAN, "en-US", "no")).language == "no"


def test_a_changed_plan_is_a_plan_and_incisions_of_the_other_eye_stay_behind() -> None:
    before = plan(PLAN)
    after = before.with_changes({"lens-power": -3.0, "axis": 45, "grade": GRADE_TWO})
    assert (after.lens.power_D, after.lens.axis_deg, after.grade.value) == (-3.0, 45, 2)
    assert (after.lens.model, after.incision) == (before.lens.model, before.incision)
    assert before.with_changes({"eye": "right"}).incision is None
    assert before.with_changes({"eye": str(before.eye)}).incision == before.incision
    assert before.lens.power_D == 21.5


@pytest.mark.parametrize(
    "changes", [{"lens-power": 0.1}, {"lens-power": 90.0}, {"axis": 181}, {"eye": "both"}]
)
def test_a_change_to_what_no_plan_may_have_is_refused(changes: dict[str, object]) -> None:
    before = plan(PLAN)
    with pytest.raises(ValidationError):
        before.with_changes(changes)
    assert before == plan(PLAN)


GRADE_TWO = {"scale": "clinical", "value": 2}
