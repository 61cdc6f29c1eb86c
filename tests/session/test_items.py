"""Items answered by what is so: passing, faults, deferral, order, denial."""

from __future__ import annotations

import pytest

from tests.session.talk import LINES, SIGN_OUT, TIME_OUT, TO_TIME_OUT, WHOLE_CASE, Talk
from tests.session.test_team_items import at
from voicelist.session.records import Answered, Closed, Heard
from voicelist.session.state import replay

STOP_ITEMS = ("irrigation-line", "aspiration-line", "priming", "tip", "identity", "allergies")


def test_a_whole_case_said_as_planned_is_completed() -> None:
    talk = Talk()
    talk.says(*WHOLE_CASE)
    assert talk.state.closed == "completed"
    due = [one.id for one in talk.case.items.values() if one.when != "toric lens"]
    assert all(talk.state.item(item).answer for item in due)


def test_the_state_is_the_fold_of_the_records() -> None:
    talk = Talk()
    talk.says(*WHOLE_CASE[:9], "undo the last answer", "come back to this later")
    assert replay(talk.records) == talk.state


def test_every_answer_is_recorded_before_the_tone_and_the_next_call() -> None:
    talk = Talk()
    talk.says("irrigation line firm")
    assert talk.kinds()[-3:] == ["heard", "answered", "called"]
    assert talk.tones == 1


def test_the_call_repeated_word_for_word_passes_nothing() -> None:
    talk = Talk()
    for line in WHOLE_CASE:
        item = talk.state.current
        if item and talk.state.pending is None:
            call = "".join(c for c in talk.case.items[item].call.lower() if c not in "?:,.")
            talk.says(call)
            assert talk.state.item(item).answer == ""
            talk.says("say that again")
        if talk.state.current and talk.state.item(talk.state.current).waiting:
            pytest.fail("one repeated call must not make an item wait")
        talk.says(line)
    assert talk.state.closed == "completed"


def test_a_fault_on_a_stop_item_keeps_its_section_open_until_it_is_cleared() -> None:
    talk = Talk()
    reply = talk.says("irrigation line loose")
    assert reply[0] == "Reported; it stays open."
    talk.says("aspiration line firm", "bottle full", "priming complete")
    assert talk.state.current == "irrigation-line"
    assert "lines" not in talk.state.closed_sections
    talk.says("irrigation line firm")
    assert "lines" in talk.state.closed_sections
    answers = [one.answer for one in talk.records if isinstance(one, Answered)]
    assert answers[0] == "said-fault"
    assert answers[-1] == "said-done"


def test_a_fault_in_a_fixed_order_section_is_asked_about_before_anything_else() -> None:
    talk = Talk("sign-in")
    talk.says("case number seven", "identity unclear")
    assert talk.state.current == "identity"


def test_a_fault_on_an_ordinary_item_is_recorded_and_the_case_goes_on() -> None:
    talk = Talk("pedal")
    reply = talk.says("reflux control missing")
    assert reply[0] == "Reported."
    talk.says("pedal in reach")
    assert "pedal" in talk.state.closed_sections
    assert talk.status("reflux") == "said-fault"


def test_a_stop_item_cannot_be_deferred() -> None:
    talk = Talk()
    reply = talk.says("come back to this later")
    assert reply[0] == "This one cannot wait."
    assert talk.status("irrigation-line") == "called"
    assert talk.state.current == "irrigation-line"


def test_a_deferred_item_is_taken_up_at_the_end_of_its_section_and_before_it_is_quiet() -> None:
    talk = Talk("pedal")
    talk.says("come back to this later", "pedal in reach")
    assert talk.state.current == "reflux"
    talk.says("come back to it later")
    assert "pedal" in talk.state.closed_sections
    talk.says(*TO_TIME_OUT[9:], *TIME_OUT)
    assert talk.state.current == "reflux"
    talk.says("come back to it later")
    assert talk.state.under_way
    talk.says(*SIGN_OUT)
    assert talk.state.closed == "completed"
    assert talk.status("reflux") == "deferred"


def test_a_deferred_item_may_be_answered_unasked_later() -> None:
    talk = Talk("pedal")
    talk.says("come back to this later", "pedal in reach", "come back to this later")
    talk.says("reflux control found")
    assert talk.status("reflux") == "said-done"
    assert talk.state.current == "case-number"


def test_not_applicable_is_taken_only_where_the_item_lists_it() -> None:
    talk = Talk("sign-in")
    talk.says("case number seven")
    assert talk.says("this does not apply")[0] == "This one has to be answered."
    assert talk.status("identity") == "called"
    room = at("sign-out", item="specimen")
    room.says("this does not apply")
    assert room.status("specimen") == "not-applicable"


@pytest.mark.parametrize(
    ("item", "section", "reason"),
    [
        ("mark", "sign-in", "mark does not apply because of the patient's wishes"),
        ("counts", "sign-out", "counts do not apply because of a cancelled case"),
    ],
)
def test_mark_and_counts_do_not_apply_for_a_spoken_reason_alone(
    item: str, section: str, reason: str
) -> None:
    talk = Talk(section)
    if item == "mark":
        talk.says("case number seven", "identity and consent confirmed")
    assert talk.says("this does not apply") == ["Please say it with the reason."]
    assert talk.says("come back to this later")[0] == "This one cannot wait."
    assert talk.status(item) == "called"
    said = reason.partition("because of ")[2].removeprefix("a ")
    assert talk.says(reason) == [f"It does not apply: {said}. Is that so?"]
    assert talk.status(item) == "called"
    talk.says("yes that is correct")
    assert talk.status(item) == "not-applicable"
    assert talk.state.item(item).values == {"does not apply because of": [said]}
    assert replay(talk.records) == talk.state


def test_a_reason_that_is_not_on_the_list_leaves_the_item_open() -> None:
    talk = Talk("sign-out")
    talk.says("counts do not apply because of the hurry")
    assert talk.status("counts") in ("called", "waiting")


def test_an_open_section_takes_ordinary_items_in_any_order_but_no_stop_item() -> None:
    talk = Talk()
    talk.says("bottle full")
    assert talk.status("bottle") == "said-done"
    assert talk.state.current == "irrigation-line"
    talk.says("priming complete")
    assert talk.status("priming") == "not-asked"
    talk.says("pedal in reach")
    assert talk.status("pedal-reach") == "not-asked"


def test_an_answer_out_of_order_leaves_the_question_that_was_asked() -> None:
    talk = Talk()
    reply = talk.says("bottle full")
    assert reply == ["Firm or loose: the irrigation line?"]


@pytest.mark.parametrize(
    "line",
    [
        "irrigation line is not firm",
        "irrigation line isn't firm",
        "no the irrigation line is not firm",
    ],
)
def test_a_denial_is_taken_up_as_a_report_never_as_an_answer(line: str) -> None:
    talk = Talk()
    reply = talk.says(line)
    assert reply == [f"{line[0].upper()}{line[1:]}: report it?"]
    assert talk.status("irrigation-line") == "called"
    talk.says("yes report it")
    assert talk.status("irrigation-line") == "said-fault"


def test_a_denial_that_was_not_meant_leaves_the_item_open_and_asks_again() -> None:
    talk = Talk()
    talk.says("irrigation line is not firm")
    assert talk.says("no leave it open") == ["Firm or loose?"]
    assert talk.status("irrigation-line") == "called"


@pytest.mark.parametrize(
    "line",
    [
        "is the irrigation line firm",
        "irrigation line firm later",
        "irrigation line almost firm",
        "he said irrigation line firm",
        "irrigation line firm if you say so",
        "the irrigation line",
        "irrigation line",
        "firm",
        "yes",
        "aspiration line firm",
        "irrigation line firm and aspiration line firm",
    ],
)
def test_near_misses_pass_nothing(line: str) -> None:
    talk = Talk()
    talk.says(line)
    assert not any(isinstance(one, Answered) for one in talk.records)


def test_the_second_look_may_veto_an_answer() -> None:
    talk = Talk()
    talk.says("irrigation line firm", second_look="irrigation line firm later")
    assert talk.status("irrigation-line") == "called"
    heard = [one for one in talk.records if isinstance(one, Heard)][-1]
    assert heard.status == "not-understood"
    assert "second look" in heard.why


def test_a_denial_that_only_the_second_look_heard_is_taken_up() -> None:
    talk = Talk()
    (asked,) = talk.says("irrigation line firm", second_look="irrigation line isn't firm")
    assert asked == "Irrigation line isn't firm: report it?"
    assert talk.status("irrigation-line") == "called"
    talk.says("yes report it")
    assert talk.status("irrigation-line") == "said-fault"


def test_a_speaker_known_by_channel_answers_only_what_that_role_answers() -> None:
    talk = Talk("settings")
    assert talk.says("clinical grade three", role="circulating-nurse") == ["Surgeon, please."]
    assert talk.status("grade") == "called"
    talk.says("clinical grade three", role="surgeon")
    assert talk.status("grade") == "value"


def test_the_case_is_not_completed_while_a_stop_item_is_open() -> None:
    talk = Talk("sign-out")
    talk.says("counts open", "procedure name written", "no equipment problems")
    assert talk.state.closed == ""
    talk.says("counts complete", "procedure name written", "no equipment problems")
    assert talk.state.closed == "completed"


def test_starting_in_the_middle_leaves_earlier_sections_unasked() -> None:
    talk = Talk("time-out")
    assert talk.state.current == "eye"
    talk.says(*TIME_OUT, *SIGN_OUT)
    assert talk.state.closed == "completed"
    assert talk.status("irrigation-line") == "not-asked"


def test_nothing_is_taken_after_the_case_is_closed() -> None:
    talk = Talk("sign-out")
    talk.says(*SIGN_OUT)
    count = len(talk.records)
    assert isinstance(talk.records[-1], Closed)
    talk.says("counts open")
    assert len(talk.records) == count


def test_the_lines_of_the_whole_case_are_the_sections_in_order() -> None:
    assert WHOLE_CASE[: len(LINES)] == LINES
    assert WHOLE_CASE[: len(TO_TIME_OUT)] == TO_TIME_OUT
