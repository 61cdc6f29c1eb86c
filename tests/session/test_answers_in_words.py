"""How what waits may be answered, in people's words: permitted, and giving nothing away."""

from __future__ import annotations

import re

import pytest

from tests.session.talk import TO_TIME_OUT, Talk, shipped_case
from voicelist.session.answers_in_words import (
    CHANGE_OF_PLAN,
    NUMBER,
    answers_in_words,
    answers_to_item,
)
from voicelist.session.order import active_phrases

SETTINGS = "power forty vacuum five hundred flow twenty eight pulses thirty"


@pytest.mark.parametrize("plan", ["practice-007", "practice-101"])
def test_every_wording_of_a_state_is_a_permitted_answer_to_its_item(plan: str) -> None:
    case = shipped_case(plan)
    tried = 0
    for item_id, item in case.items.items():
        if item.value or item.choice or item.does_not_apply:
            continue
        for wording in answers_to_item(case, item_id):
            if "(" in wording:  # "(zero, one, two, ...; 3 times)"
                continue
            heard = tuple(re.findall(r"[\w']+", wording))
            known = case.bundle.lexicon.as_known(heard, case.grammar.vocabulary())
            rules = {match.rule for match in case.grammar.parses(known)}
            assert rules & {f"{item_id}.done", f"{item_id}.fault", f"{item_id}.stated"}, wording
            tried += 1
    assert tried > 20


def test_an_item_shows_what_it_is_and_what_it_may_be_instead() -> None:
    case = shipped_case()
    assert answers_to_item(case, "irrigation-line") == (
        "irrigation line firm",
        "irrigation line loose",
    )
    pupil = answers_to_item(shipped_case("practice-101"), "pupil")
    assert {"pupil wide", "pupil small"} <= set(pupil), "neither is preferred"


def test_a_value_is_shown_by_its_form_with_every_choice() -> None:
    case = shipped_case()
    assert answers_to_item(case, "eye") == ("marked eye left or right",)
    assert answers_to_item(case, "lens-power") == (f"lens power plus or minus {NUMBER}",)
    assert answers_to_item(case, "case-number") == (f"case number {NUMBER}",)
    (model,) = answers_to_item(case, "lens-model")
    for one in ("monofocal alpha or bravo", "toric alpha or bravo"):
        assert one in model


def test_no_digit_and_no_spelled_number_stands_where_a_number_is_asked_for() -> None:
    case = shipped_case("practice-101")
    for item_id in ("case-number", "lens-power", "lens-axis", "implant-power", "grade"):
        told = " ".join(answers_to_item(case, item_id))
        assert NUMBER in told
        assert not re.search(r"\d|\b(one|two|three|twenty|seven)\b", told), told


def test_what_waits_for_the_surgeon_shows_the_surgeons_words() -> None:
    talk = Talk("settings")
    talk.says("clinical grade three", SETTINGS)
    accept, again = answers_in_words(talk.case, talk.state)
    assert accept.startswith("surgeon accepts the vacuum because of a dense lens, ")
    assert again.startswith("each setting")
    talk.says("vacuum three fifty", "flow thirty two")
    assert answers_in_words(talk.case, talk.state)[0] == "surgeon confirms profile"


def test_what_cannot_be_accepted_is_not_offered_to_be() -> None:
    talk = Talk()
    talk.says(*TO_TIME_OUT, "marked eye right")
    assert "command.accept" in active_phrases(talk.case, talk.state)
    assert answers_in_words(talk.case, talk.state) == ("marked eye left or right",)


def test_on_hold_under_way_and_at_the_end() -> None:
    talk = Talk("time-out")
    talk.says("hold on please")
    assert answers_in_words(talk.case, talk.state) == ("carry on please",)
    talk.says("carry on please", "marked eye left", "lens power plus twenty one point five")
    talk.says("lens model monofocal alpha", "incision is made")
    told = answers_in_words(talk.case, talk.state)
    assert "lens is implanted" in told
    assert "incision is made" not in told, "it was told"
    assert any("sign out" in one for one in told)
    talk.says("abandon this case because of equipment trouble", "yes abandon this case")
    assert answers_in_words(talk.case, talk.state) == ()


def test_what_part_of_the_plan_changes_is_said_in_a_form_of_its_own() -> None:
    talk = Talk("time-out")
    talk.says("change of plan please")
    assert CHANGE_OF_PLAN in answers_in_words(talk.case, talk.state)
