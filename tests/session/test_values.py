"""Values from the world: eye, grade, lens. The expected value is never given before the answer."""

from __future__ import annotations

import pytest

from tests.session.talk import Talk
from voicelist.session.records import Accepted, Corrected, ReadBack


def at(item: str) -> Talk:
    """A case in which `item` is asked."""
    section = {"grade": "settings"}.get(item, "time-out")
    talk = Talk(section)
    answers = {
        "eye": ("marked eye left",),
        "lens-power": ("marked eye left", "lens power plus twenty one point five"),
    }
    before = {"lens-power": answers["eye"], "lens-model": answers["lens-power"]}
    talk.says(*before.get(item, ()))
    assert talk.state.current == item
    return talk


def test_an_eye_that_differs_from_the_plan_holds_the_case_until_it_is_corrected() -> None:
    talk = at("eye")
    reply = talk.says("marked eye right")
    assert reply == ["Please read the mark again."]
    assert talk.status("eye") == "called"
    talk.says("lens power plus twenty one point five")
    assert talk.status("lens-power") == "not-asked"
    talk.says("marked eye left")
    assert talk.status("eye") == "value"
    corrected = [one for one in talk.records if isinstance(one, Corrected)]
    assert [(one.old, one.new) for one in corrected] == [("right", "left")]


def test_an_eye_mismatch_cannot_be_accepted() -> None:
    talk = at("eye")
    talk.says("marked eye right", "surgeon accepts grade because of my preference")
    assert talk.status("eye") == "called"
    assert not any(isinstance(one, Accepted) for one in talk.records)


def test_a_mismatch_records_what_the_plan_says_without_saying_it() -> None:
    talk = at("eye")
    reply = talk.says("marked eye right")
    read_back = [one for one in talk.records if isinstance(one, ReadBack)][-1]
    assert read_back.findings[0]["expected"] == "left"
    assert "left" not in " ".join(reply)


def test_a_lens_power_without_its_sign_is_asked_for_it() -> None:
    talk = at("lens-power")
    reply = talk.says("lens power twenty one point five")
    assert reply == ["Plus or minus? Say it with the power."]
    assert talk.status("lens-power") == "called"
    talk.says("lens power plus twenty one point five")
    assert talk.status("lens-power") == "value"
    assert talk.state.item("lens-power").values == {"power_D": 21.5}


@pytest.mark.parametrize(
    "line",
    ["lens power minus nineteen point five", "lens power plus twenty one", "lens power plus two"],
)
def test_another_power_or_sign_is_read_back_and_stays_open(line: str) -> None:
    talk = at("lens-power")
    assert talk.says(line) == ["Please look at the box again."]
    assert talk.status("lens-power") == "called"


def test_another_lens_model_stays_open() -> None:
    talk = at("lens-model")
    assert talk.says("lens model monofocal bravo") == ["Please look at the box again."]
    assert talk.status("lens-model") == "called"
    talk.says("lens model monofocal alpha")
    assert talk.status("lens-model") == "value"


def test_a_value_with_a_sound_alike_is_read_back_digit_by_digit_even_when_it_fits() -> None:
    talk = Talk("time-out", plan="practice-008")
    talk.says("marked eye right")
    reply = talk.says("lens power plus nineteen")
    assert reply == ["Was that +19?"]
    assert talk.status("lens-power") == "called"
    talk.says("yes that is correct")
    assert talk.status("lens-power") == "value"


def test_a_grade_needs_its_scale() -> None:
    talk = at("grade")
    talk.says("grade three")
    assert talk.status("grade") == "called"
    talk.says("hardness grade three")
    assert talk.status("grade") == "called"
    talk.says("clinical grade three")
    assert talk.status("grade") == "value"


def test_a_grade_that_differs_may_be_accepted_by_the_surgeon_with_a_reason() -> None:
    talk = at("grade")
    talk.says("clinical grade four", "surgeon accepts the grade because of a dense lens")
    assert talk.status("grade") == "value"
    accepted = [one for one in talk.records if isinstance(one, Accepted)]
    assert accepted[0].reason == "a dense lens"
    assert accepted[0].role == "surgeon"
    assert accepted[0].role_known_by == "spoken"


def test_a_nurse_on_a_channel_of_their_own_cannot_accept_for_the_surgeon() -> None:
    talk = at("grade")
    talk.says("clinical grade four", role="surgeon")
    words = "surgeon accepts the grade because of a dense lens"
    assert talk.says(words, role="circulating-nurse") == ["Surgeon, please."]
    assert talk.status("grade") == "called"


@pytest.mark.parametrize("item", ["eye", "lens-power", "lens-model", "grade"])
def test_neither_call_nor_display_gives_the_expected_value(item: str) -> None:
    talk = at(item)
    shown = " ".join([*talk.said[-1:], *(one.text for one in talk.shown)]).lower()
    if item == "eye":
        shown = shown.replace("left or right", "")
    for expected in ("left", "21.5", "twenty", "alpha", "three", "clinical 3"):
        assert expected not in shown


@pytest.mark.parametrize(
    ("words", "scale", "value", "reply"),
    [
        ("nuclear opalescence four point two", "locs3-no", 4.2, "4.2 opalescence"),
        ("nuclear color three point zero", "locs3-nc", 3, "3 color"),
        ("clinical grade two", "clinical", 2, "2 clinical"),
        ("hardness grade three", "hardness", 3, "3 hardness"),
    ],
)
def test_a_grade_is_on_the_scale_that_was_said_and_never_converted(
    words: str, scale: str, value: float, reply: str
) -> None:
    talk = at("grade")
    assert talk.says(words) == [f"I heard {reply}. The plan differs. Please check again."]
    (read_back,) = [one for one in talk.records if isinstance(one, ReadBack)]
    assert read_back.values["grade"] == {"scale": scale, "value": value}


@pytest.mark.parametrize("words", ["grade three", "nuclear opalescence four", "four point two"])
def test_a_grade_without_its_scale_or_decimal_is_not_taken(words: str) -> None:
    talk = at("grade")
    talk.says(words)
    assert talk.status("grade") == "called"
    assert not any(isinstance(one, ReadBack) for one in talk.records)
