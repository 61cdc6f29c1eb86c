"""A checklist that asks for the whole profile: pump, modulation, minimum, bottle with unit."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.session.talk import Talk
from voicelist.clinical.profile import UNITS
from voicelist.documents.bundle import load_bundle
from voicelist.linting.check import lint_case
from voicelist.session.case import Case, compile_case
from voicelist.session.records import Accepted, Answered, Corrected, ReadBack
from voicelist.session.state import State

CHECKLIST = """\
format: 1
language: en-US
id: whole
title: The settings alone
sections:
  - id: settings
    name: the settings
    order: fixed
    items:
      - id: sculpt-profile
        answered by: [surgeon]
        call: "Surgeon, please: settings for sculpting?"
        value: sculpting $profile
        compare: profile
        phase: sculpt
        why: The groove comes before the quadrants.
      - id: quadrant-profile
        answered by: [surgeon]
        call: "Surgeon, please: settings for the quadrants?"
        value: quadrants $profile
        compare: profile
        phase: quadrant
        depends on: [equipment]
        why: Vacuum and flow must suit this nucleus.
"""
CARD = """\
format: 1
language: en-US
id: whole
grades:
  - scale: clinical
    from: 2
    to: 2
    phases:
      sculpt:
        power_percent: {value: 60, control: linear, tolerance: 5}
        vacuum_mmHg: {value: 80, control: fixed, tolerance: 250}
      quadrant:
        power_percent: {value: 35, control: linear, tolerance: 5, minimum: 0}
        vacuum_mmHg: {value: 300, control: fixed, tolerance: 250}
        bottle_cm: {value: 90, control: fixed, tolerance: 10}
        modulation: {kind: burst, on_occlusion: true, on_time_ms: 10, pulses_per_s: 25}
        pump: peristaltic
"""
PLAN = """\
format: 1
language: en-US
case: whole-1
checklist: whole
eye: left
grade: {scale: clinical, value: 2}
card: whole
lens: {model: monofocal alpha, power_D: +21.5}
"""
QUADRANT = (
    "power thirty five percent linear from zero and vacuum three hundred fixed",
    "burst power triggered by occlusion with on time ten milliseconds and pulses twenty five",
)


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Case:
    return compile_case(load_bundle(_plan(tmp_path_factory.mktemp("site"))))


def _plan(folder: Path) -> Path:
    for name, text in (
        ("checklists/whole.yaml", CHECKLIST),
        ("cards/whole.yaml", CARD),
        ("plans/whole-1.yaml", PLAN),
    ):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder / "plans/whole-1.yaml"


def test_such_a_site_lints_clean(case: Case) -> None:
    """Nothing that is read back is an answer, though all of a profile may be said."""
    assert lint_case(case.bundle, None) == ()


@pytest.fixture
def talk(case: Case, monkeypatch: pytest.MonkeyPatch) -> Iterator[Talk]:
    """The conversation at the first item."""
    monkeypatch.setattr("tests.session.talk.shipped_case", lambda *_: case)
    talk = Talk()
    assert talk.state.current == "sculpt-profile"
    yield talk
    assert isinstance(talk.state, State)


PHASES = {"sculpt-profile": "sculpting", "quadrant-profile": "quadrants"}


def tells(talk: Talk, *lines: str) -> list[str]:
    """The surgeon says the lines, naming the phase of the item before settings."""
    reply: list[str] = []
    for line in lines:
        named = line if line.startswith("surgeon") else f"{PHASES[talk.state.current]} {line}"
        reply = talk.says(named)
    return reply


@pytest.fixture
def quadrants(talk: Talk) -> Talk:
    """The conversation at the quadrants, sculpted with 80 mmHg."""
    tells(talk, "power sixty vacuum eighty", "surgeon confirms the profile")
    assert talk.state.current == "quadrant-profile"
    return talk


def test_the_whole_profile_is_echoed(quadrants: Talk) -> None:
    tells(quadrants, *QUADRANT, "peristaltic pump")
    (reply,) = tells(quadrants, "bottle ninety centimeters")
    assert reply == (
        "Power is 0 to 35 linear, "
        "vacuum is 300 fixed, modulation is burst, trigger is occlusion, on time is 10, "
        "pulses is 25, pump is peristaltic, bottle is 90. Surgeon, please confirm."
    )
    tells(quadrants, "surgeon confirms the profile")
    assert quadrants.status("quadrant-profile") == "value"


def test_what_the_card_has_in_words_has_to_be_said_as_well(quadrants: Talk) -> None:
    tells(quadrants, QUADRANT[0], "bottle ninety centimeters", "on time ten pulses twenty five")
    assert tells(quadrants, "vacuum three hundred") == [
        "Still needed: modulation, trigger, pump.",
    ]


def test_a_bare_number_for_the_bottle_is_asked_for_its_unit_and_never_supposed(
    quadrants: Talk,
) -> None:
    tells(quadrants, *QUADRANT, "peristaltic pump")
    question = ["Bottle is 90: in centimeters or millimeters of mercury?"]
    assert tells(quadrants, "bottle ninety") == question
    tells(quadrants, "surgeon confirms the profile")
    assert quadrants.status("quadrant-profile") == "called"
    assert "bottle_cm" not in quadrants.state.item("quadrant-profile").values
    (reply,) = tells(quadrants, "bottle ninety centimeters")
    assert "bottle is 90." in reply
    assert reply.endswith("Surgeon, please confirm.")
    tells(quadrants, "surgeon confirms the profile")
    assert "bottle" not in _answered(quadrants).values
    assert _answered(quadrants).values["bottle_cm"]["value"] == 90


def test_a_later_bare_number_is_asked_about_again(quadrants: Talk) -> None:
    question = ["Bottle is 90: in centimeters or millimeters of mercury?"]
    tells(quadrants, "bottle ninety", "bottle ninety centimeters")
    assert tells(quadrants, "bottle ninety") == question, "a later bare number is asked about again"


def test_a_height_is_replaced_by_a_pressure_and_both_at_once_are_a_question(
    quadrants: Talk,
) -> None:
    tells(quadrants, "bottle ninety centimeters", "pressure sixty millimeters")
    values = quadrants.state.item("quadrant-profile").values
    assert (values["bottle_cm"]["value"], values["infusion_mmHg"]["value"]) == (None, 60)
    corrected = [one for one in quadrants.records if isinstance(one, Corrected)]
    assert (corrected[-1].quantity, corrected[-1].old["value"]) == ("bottle_cm", 90)
    assert tells(quadrants, "pressure sixty millimeters bottle ninety centimeters") == [
        "Pressure is 60; that bottle gives 66.2. Which applies?"
    ]
    assert tells(quadrants, "bottle ninety centimeters")[0].startswith("Still needed")
    assert quadrants.state.item("quadrant-profile").values["infusion_mmHg"]["value"] is None


def test_the_answer_keeps_what_the_card_held_in_numbers_and_words(quadrants: Talk) -> None:
    tells(quadrants, *QUADRANT, "peristaltic pump bottle ninety centimeters")
    tells(quadrants, "surgeon confirms the profile")
    answered = _answered(quadrants)
    assert answered.values["power_percent"] == {"value": 35, "control": "linear", "minimum": 0}
    assert answered.expected["power_percent"] == {
        "value": 35,
        "control": "linear",
        "tolerance": 5,
        "minimum": 0,
    }
    assert answered.expected["pump"] == {"value": "peristaltic", "control": ""}


def test_millimeters_of_mercury_are_kept_as_such(quadrants: Talk) -> None:
    tells(quadrants, "bottle sixty millimeters of mercury")
    values = quadrants.state.item("quadrant-profile").values
    assert values["infusion_mmHg"]["value"] == 60
    assert "bottle_cm" not in values


@pytest.mark.parametrize(
    ("words", "reply"),
    [
        ("venturi pump", "Pump is venturi; the card says peristaltic."),
        ("pulsed power", "Modulation is pulse; the card says burst."),
        ("burst power at any time", "Trigger is none; the card says occlusion."),
        ("power thirty five linear from ten", "Power starts at 10; the card says 0."),
        ("duty forty percent", "Duty cycle is 40; the card says 25."),
        ("vacuum eighty", "Vacuum is 80; expected above 80, as for sculpting."),
        (
            "pulses forty on time thirty",
            "On time is 30; one period is 25. Please correct it.",
        ),
    ],
)
def test_what_does_not_fit_is_read_back(quadrants: Talk, words: str, reply: str) -> None:
    assert tells(quadrants, words) == [reply]


def test_the_order_is_judged_by_what_was_said_for_the_other_phase(talk: Talk) -> None:
    """The card has 80 mmHg for sculpting and a wide tolerance; 310 was said and confirmed."""
    assert tells(talk, "power sixty vacuum three ten") == [
        "Vacuum is 310; expected below 300, as for quadrants."
    ]
    tells(talk, "surgeon accepts the vacuum because of my preference")
    tells(talk, "surgeon confirms the profile")
    assert tells(talk, "vacuum three hundred") == [
        "Vacuum is 300; expected above 310, as for sculpting."
    ]


def test_accepting_one_question_does_not_answer_another_about_the_same_number(
    quadrants: Talk,
) -> None:
    assert tells(quadrants, "vacuum forty") == ["Vacuum is 40; the card says 300."]
    reply = tells(quadrants, "surgeon accepts the vacuum because of my preference")
    assert reply[-1] == "Vacuum is 40; expected above 80, as for sculpting."
    tells(quadrants, "surgeon accepts the vacuum because of my preference")
    accepted = [one for one in quadrants.records if isinstance(one, Accepted)]
    assert [(one.heard, one.expected) for one in accepted] == [(40, 300), (40, 80)]


def test_more_vacuum_with_a_lower_bottle_than_in_the_step_before_is_asked_about(
    talk: Talk,
) -> None:
    tells(talk, "power sixty vacuum eighty bottle one hundred centimeters")
    tells(talk, "surgeon confirms the profile")
    assert tells(talk, "vacuum three hundred bottle ninety centimeters") == [
        "Vacuum rises from 80 to 300 with a lower bottle. Intended?"
    ]


@pytest.mark.parametrize(
    ("said", "name", "quantity", "heard", "expected"),
    [
        ("venturi pump", "pump", "pump", "venturi", "peristaltic"),
        ("pulsed power", "modulation", "modulation", "pulse", "burst"),
        ("burst power at any time", "trigger", "trigger", "none", "occlusion"),
        ("on time eight milliseconds", "on time", "on_time_ms", 8, 10),
        ("off time eight milliseconds", "off time", "off_time_ms", 8, 30),
    ],
)
def test_the_surgeon_accepts_each_mismatch_by_its_name(
    quadrants: Talk, said: str, name: str, quantity: str, heard: object, expected: object
) -> None:
    """The card has 10 ms at 25 a second, so 30 ms of pause: derived."""
    tells(quadrants, said)
    reply = tells(quadrants, f"surgeon accepts the {name} because of my preference")
    assert reply[0] == f"Accepted by the surgeon: {name} is {heard}."
    (accepted,) = [one for one in quadrants.records if isinstance(one, Accepted)]
    assert (accepted.quantity, accepted.heard, accepted.expected) == (quantity, heard, expected)


@pytest.mark.parametrize("name", ["pump", "modulation", "trigger", "on time", "off time"])
def test_another_name_than_what_was_read_back_accepts_nothing(quadrants: Talk, name: str) -> None:
    question = "Vacuum is 600; the card says 300."
    assert tells(quadrants, "vacuum six hundred") == [question]
    reply = tells(quadrants, f"surgeon accepts the {name} because of my preference")
    assert reply == ["This one has to be answered.", question]
    assert not any(isinstance(one, Accepted) for one in quadrants.records)


def test_whatever_a_profile_may_be_asked_about_has_a_name_to_accept_it_by(case: Case) -> None:
    """All but the bottle's number without a unit, which is no mismatch but half an answer."""
    accept = case.grammar.only("command.accept")
    named = {
        found.tags[0]
        for text in accept.phrase_list()
        for match in accept.parses(text.split())
        if (found := match.first("quantity_name")) is not None
    }
    assert {*UNITS, "pump", "modulation", "trigger", "grade"} <= named


def test_a_contradiction_cannot_be_accepted(quadrants: Talk) -> None:
    tells(quadrants, "pulses forty on time thirty")
    tells(quadrants, "surgeon accepts the on time because of my preference")
    assert not any(isinstance(one, Accepted) for one in quadrants.records)


def test_read_backs_are_short_however_much_is_said(quadrants: Talk) -> None:
    tells(
        quadrants, "power ninety linear from ten vacuum fifty pulsed power at any time venturi pump"
    )
    for one in quadrants.records:
        if isinstance(one, ReadBack) and one.about == "mismatch":
            assert len(one.text.split()) <= 12
            assert len(one.findings) > 3


def _answered(talk: Talk) -> Answered:
    return [one for one in talk.records if isinstance(one, Answered)][-1]
