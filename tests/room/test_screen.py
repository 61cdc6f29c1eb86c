"""What the page shows, by the records that are on disk: no tick before its record, no expected
value before the answer, mismatches until they are settled, and nothing of it where a patient reads.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from tests.session.talk import SIGN_OUT, TIME_OUT, TO_TIME_OUT, WHOLE_CASE, Talk, shipped_case
from voicelist.room.screen import Doing, screen
from voicelist.room.told import Told, after
from voicelist.session.case import Case
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, Called, Heard, Opened, Undone
from voicelist.session.state import State, evolve

LISTENING = Doing("listening")
SETTINGS = "power forty vacuum five hundred flow twenty eight pulses thirty"
OTHER_PLAN = {"eye": "right", "lens-power": 18.0, "lens-model": "monofocal bravo"}


def shown(
    talk: Talk, *, discreet: bool = False, doing: Doing = LISTENING, case: Case | None = None
) -> dict[str, Any]:
    return of_records(case or talk.case, talk.records, discreet=discreet, doing=doing)


def of_records(
    case: Case, records: list[Record], *, discreet: bool = False, doing: Doing = LISTENING
) -> dict[str, Any]:
    state, told = State(), Told()
    for second, record in enumerate(records):
        state, told = evolve(state, record), after(told, record, float(second))
    return screen(case, state, told, doing, float(len(records)), discreet=discreet)


def ticks(page: dict[str, Any]) -> int:
    return sum(section["marks"].count("recorded") for section in page["sections"])


def test_never_a_tick_that_is_not_on_disk() -> None:
    """After each record of a whole case there are as many ticks as answers were recorded."""
    talk = Talk()
    talk.says("irrigation line firm", "undo the last answer", *WHOLE_CASE)
    on_disk: set[str] = set()
    for count, record in enumerate(talk.records, start=1):
        if isinstance(record, Answered):
            on_disk.add(record.item)
        elif isinstance(record, Undone):
            on_disk.discard(record.item)
        if isinstance(record, Answered | Heard | Called | Undone):
            assert ticks(of_records(talk.case, talk.records[:count])) == len(on_disk)
    assert len(on_disk) == 21


def test_what_was_heard_is_no_answer_before_its_record() -> None:
    talk = Talk()
    before = len(talk.records)
    talk.says("irrigation line firm")
    (heard,) = (n for n, one in enumerate(talk.records) if isinstance(one, Heard) and n >= before)
    page = of_records(talk.case, talk.records[: heard + 1])
    assert page["heard"][0]["became"] == "heard"
    assert shown(talk)["heard"][0] == {
        "who": "",
        "words": "irrigation line firm",
        "became": "recorded",
        "mark": "recorded",
    }


def lines_and_what_they_answer() -> list[tuple[str, str]]:
    return [
        ("marked eye left", "eye"),
        ("lens power plus twenty one point five", "lens-power"),
        ("lens model monofocal alpha", "lens-model"),
    ]


def test_no_expected_value_before_the_answer() -> None:
    """The page is the same, letter for letter, whatever the plan expects."""
    talk = Talk()
    other = shipped_case().with_plan(OTHER_PLAN)
    assert shown(talk, case=other) == shown(talk)
    for line in TO_TIME_OUT:
        talk.says(line)
        assert shown(talk, case=other) == shown(talk), line
    for line, item in lines_and_what_they_answer():
        assert talk.state.current == item
        assert shown(talk, case=other) == shown(talk), item
        talk.says(line)


def test_the_case_code_is_not_shown_before_its_number_was_read() -> None:
    talk = Talk("sign-in")
    assert shown(talk)["case"] == ""
    assert "007" not in json.dumps(shown(talk))
    talk.says("case number seven")
    assert shown(talk)["case"] == "practice-007"


def test_a_value_that_was_said_before_does_not_stand_beside_the_question_for_another() -> None:
    talk = Talk("time-out")
    talk.says("marked eye left")
    page = shown(talk)
    assert talk.case.items[talk.state.current].asks_for_value
    assert page["heard"][0]["words"] == "the marked eye"
    talk.says("lens power plus twenty one point five")
    assert "twenty one" not in json.dumps(shown(talk)["heard"])
    talk.says("lens model monofocal alpha")
    assert "twenty one" in json.dumps(shown(talk)["heard"]), "nothing is asked for any more"


def test_a_mismatch_stands_until_it_is_settled() -> None:
    talk = Talk("settings")
    talk.says("clinical grade three", SETTINGS)
    sentences = [one["sentence"] for one in shown(talk)["mismatches"]]
    assert sentences == ["Vacuum is 500; the card says 350.", "Flow is 28; the card says 32."]
    talk.says("where are we")
    assert len(shown(talk)["mismatches"]) == 2
    talk.says("vacuum three fifty")
    assert [one["sentence"] for one in shown(talk)["mismatches"]] == sentences[1:]
    talk.says("surgeon accepts the flow because of a weak capsule")
    assert shown(talk)["mismatches"] == []


def test_a_mismatch_of_the_eye_stands_until_the_eye_is_answered() -> None:
    talk = Talk("time-out")
    talk.says("marked eye right")
    page = shown(talk)
    assert page["call"] == "Please read the mark again."
    assert page["mismatches"][0]["name"] == "the marked eye"
    assert "left" not in json.dumps(page["mismatches"])
    talk.says("marked eye left")
    assert shown(talk)["mismatches"] == []


def test_open_and_deferred_items_say_why() -> None:
    talk = Talk()
    talk.says("irrigation line loose", "aspiration line firm", "come back to this later")
    told = {one["name"]: one["why"] for one in shown(talk)["open"]}
    assert told == {"irrigation line": "reported, stays open", "the bottle": "left for later"}
    marks = shown(talk)["sections"][0]["marks"]
    assert marks == ["reported", "recorded", "later", "asked"]


def test_the_band_says_what_is_first_to_be_known() -> None:
    talk = Talk("time-out")
    deaf = Doing("not-listening")
    assert shown(talk)["band"] == "listening"
    talk.says("hold on please")
    assert shown(talk)["band"] == "paused"
    assert shown(talk, doing=deaf)["band"] == "not-listening", "even while it is paused"
    talk.says("carry on please", *TIME_OUT)
    page = shown(talk)
    assert (page["band"], page["until"]) == ("quiet", "sign out")
    assert page["quiet_s"] is not None
    assert shown(talk, doing=deaf)["band"] == "not-listening"
    talk.says(*SIGN_OUT)
    assert shown(talk, doing=deaf)["band"] == "ended"


def test_whose_microphone_is_not_heard_is_told_by_role() -> None:
    one, other = Doing("listening", unheard=("surgeon",)), Doing("listening", unheard=("desk mic",))
    assert shown(Talk())["unheard"] == []
    assert shown(Talk(), doing=one)["unheard"] == ["Surgeon"]
    assert shown(Talk(), doing=other)["unheard"] == ["desk mic"], "as nobody's is known"


def test_a_milestone_counts_from_when_it_was_so() -> None:
    talk = Talk("time-out")
    talk.says(*TIME_OUT, "incision five minutes ago", "lens is implanted")
    incision, lens = shown(talk)["milestones"]
    assert incision["since_s"] == pytest.approx(lens["since_s"] + 300.0, abs=10.0)
    talk.says("incision was at eight forty")
    assert shown(talk)["milestones"][0]["clock"] == "8:40, as told"


def test_a_patient_may_read_a_discreet_page() -> None:
    """Nothing of what was heard, reported or found not to fit stands on it, at any moment."""
    talk = Talk()
    lines = ["irrigation line loose", "aspiration line firm", "bottle low", "priming complete"]
    lines += ["irrigation line firm", *TO_TIME_OUT[4:14], SETTINGS, "vacuum three fifty"]
    lines += ["flow thirty two", "surgeon confirms the profile", "marked eye right"]
    private = ("loose", "low", "reported", "500", "350", "differ", "five hundred", "i heard")
    for line in lines:
        talk.says(line)
        page = shown(talk, discreet=True)
        # A call names both states, as it is spoken.
        calls = {} if page["asks"] == "read-back" else {"answers": [], "call": ""}
        told = json.dumps({**page, **calls}).lower()
        assert not [word for word in private if word in told], line
        heard = {one["words"] for one in page["heard"]}
        assert heard <= {"(an answer)", "(talk)"}
    assert shown(talk)["mismatches"], "there was something to keep back"
    assert shown(talk, discreet=True)["mismatches"] == [
        {"name": "the marked eye", "sentence": "to be checked again"}
    ]


def test_talk_leaves_one_line_and_no_word() -> None:
    talk = Talk()
    talk.says("we had rain all week", "who has the keys", "it was quite late")
    page = shown(talk)
    assert [one["words"] for one in page["heard"]] == ["(talk)"]


def test_practice_says_so() -> None:
    talk = Talk()
    opened = Opened("practice", "0", {}, None)
    page = of_records(talk.case, [opened, *talk.records])
    assert page["practice"] is True
    assert of_records(talk.case, [Opened("live", "0", {}, None)])["practice"] is False


def test_in_a_teams_first_cases_the_call_stands_apart_from_what_explains_it() -> None:
    talk = Talk()
    bundle = talk.case.bundle
    plan = bundle.plan.model_copy(update={"new_team": True})
    new_team = replace(talk.case, bundle=replace(bundle, plan=plan))
    item = new_team.items[talk.state.current]
    page = shown(talk, case=new_team)
    assert new_team.call_text(item) == f"{item.call} {item.why}"
    assert (page["call"], page["more"]) == (item.call, item.why)
    assert shown(talk)["more"] == ""
