"""Hand-over, late correction, changed equipment, quiet cases, pace and level, the second eye."""

from __future__ import annotations

import pytest

from tests.session.test_team_items import FULL, at
from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.session.events import Utterance, Voice
from voicelist.session.machine import context_of
from voicelist.session.records import Opened, Undone
from voicelist.session.state import evolve, replay
from voicelist.session.team_records import Adjusted, HandedOver, SecondEye
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import NotUnderstood, understand


def until(room: Room, item: str) -> Room:
    while room.state.current != item:
        room.says(right_line(room.case, room.state))
    return room


def test_a_hand_over_reads_out_what_was_left_and_what_is_open() -> None:
    room = until(Room(case_of(FULL)), "bottle-line")
    room.says("come back to this later", "irrigation line loose")
    reply = room.says("nurse handing over")
    assert reply[0] == "Left for later: bottle line."
    assert reply[1].startswith("Asked and open: irrigation line, aspiration line.")
    assert reply[2] == "Not asked yet: 58."
    assert reply[3] == "Firm or loose: aspiration?"
    told = next(one for one in room.records if isinstance(one, HandedOver))
    assert told.role == "circulating-nurse"
    assert (told.deferred, told.open) == (("bottle-line",), ("irrigation-line", "aspiration-line"))


def test_an_answer_is_corrected_late_by_its_short_name() -> None:
    room = at("sign-in", item="ordered-lens")
    reply = room.says("correction for identity and consent")
    assert reply == ["Withdrawn: identity and consent.", "Clear or not: identity, consent?"]
    room.says("identity doubtful")
    assert room.status("identity") == "said-fault"
    assert sum(isinstance(one, Undone) for one in room.records) == 1
    assert replay(room.records) == room.state


def test_a_correction_opens_the_section_again_and_says_so_and_then_goes_on() -> None:
    room = until(Room(case_of(FULL)), "mark")
    reply = room.says("correction for machine power")
    assert reply[:2] == ["Withdrawn: machine power.", "The machine is open again."]
    room.says("machine power on")
    assert room.state.current == "mark"
    assert "machine" in room.state.closed_sections


@pytest.mark.parametrize("line", ["correction for the sleeve", "correction for the antibiotic"])
def test_what_was_not_answered_is_not_corrected(line: str) -> None:
    room = Room(case_of(FULL))
    before = room.state.items
    assert room.says(line) == []
    assert room.state.items == before


def test_every_item_of_every_checklist_can_be_corrected_by_its_name() -> None:
    for plan in ("practice-007", FULL, "practice-102", "practice-201"):
        room = Room(case_of(plan))
        while not room.state.closed:
            current = room.state.current
            room.says(right_line(room.case, room.state))
            if current and room.state.item(current).answer and not room.state.closed:
                name = room.case.items[current].name
                room.says(f"correction for {name}")
                assert room.state.current == current, (plan, name)
                while not room.state.item(current).answer:
                    room.says(right_line(room.case, room.state))
        assert room.state.closed == "completed", plan


def test_a_change_of_equipment_makes_its_items_due() -> None:
    whole = until(Room(case_of(FULL)), "mark")
    assert "changed-line" not in whole.state.items
    reply = whole.says("equipment was changed now")
    assert reply == ["The change is noted.", "What was changed.", "Firm or loose: changed line?"]
    whole.says("changed line firm", "new priming complete")
    assert whole.state.current == "mark"
    whole.says("equipment was changed now")
    assert whole.state.current == "changed-line"


@pytest.mark.parametrize("passed", [("irrigation-line", "aspiration-line", "pump-tubing"), ()])
def test_what_a_record_of_today_passed_is_not_asked_in_a_later_case(
    passed: tuple[str, ...],
) -> None:
    """All four stop items of the section have to be among it."""
    every = (*passed, "priming") if passed else ()
    for items, left_out in ((every, bool(every)), (passed, False)):
        facts = {"passed": list(items), "case": "practice-101"}
        room = Room(case_of("practice-103"), Opened("typed", "0", {}, None, set_up=facts))
        assert (room.state.current == "handpiece-lines") == left_out
        assert (room.state.current == "power") != left_out


def test_items_of_the_first_case_are_not_asked_in_a_later_one() -> None:
    facts = {"passed": ["irrigation-line", "aspiration-line", "pump-tubing", "priming"]}
    room = Room(case_of("practice-103"), Opened("typed", "0", {}, None, set_up=facts))
    asked = set()
    while not room.state.closed:
        asked.add(room.state.current)
        room.says(right_line(room.case, room.state))
    assert room.state.closed == "completed"
    assert not asked & {"power", "priming", "pump-tubing"}
    assert {"identity", "eye", "lens-power", "counts"} <= asked


def test_the_second_eye_says_that_nothing_carries_over() -> None:
    room = Room(case_of("practice-103"))
    assert room.said[0][1] == "Second eye: nothing about eye, lens or axis carries over."
    assert isinstance(room.records[0], SecondEye)
    assert all(not one.answer for one in room.state.items.values())


def quiet_room(plan: str = FULL, section: str = "") -> Room:
    return Room(case_of(plan, section), Opened("typed", "0", {}, None, quiet=True))


def test_a_quiet_case_keeps_read_backs_to_the_display_after_sign_in() -> None:
    room = until(quiet_room(), "grade")
    assert room.says("clinical grade four") == []
    assert room.shown[-1].kind == "read-back"
    assert room.shown[-1].text == "I heard 4 clinical. The plan differs. Please check again."
    assert room.says("say that again") == []
    assert room.says("clinical grade three") == ["Special aids or none?"]


def test_settings_that_do_not_fit_are_read_back_aloud_in_a_quiet_case_too() -> None:
    room = until(quiet_room(), "quadrant-profile")
    reply = room.says("power forty vacuum five hundred flow thirty two pulses thirty")
    assert reply == ["Vacuum is 500; the card says 350."]
    assert room.says("say that again") == ["Vacuum is 500; the card says 350."]


@pytest.mark.parametrize("quiet", [True, False])
def test_an_eye_or_lens_that_does_not_fit_is_spoken_as_a_request_alone(quiet: bool) -> None:
    first = Opened("typed", "0", {}, None, quiet=quiet)
    room = until(Room(case_of(FULL, "time-out"), first), "eye")
    assert room.says("marked eye left") == ["Please read the mark again."]
    assert room.shown[-1].text == "I heard left. The plan differs. Please check again."
    room.says("marked eye right")
    until(room, "lens-power")
    assert room.says("lens power plus nineteen") == ["Please look at the box again."]
    assert not any("differs" in text or "plan" in text for _, text in room.said)


def test_a_quiet_case_reads_back_aloud_until_sign_in_is_through() -> None:
    room = until(quiet_room(section="sign-in"), "allergies")
    assert room.says("known allergies latex") == ["Was that latex?"]


def test_pace_and_level_go_two_steps_and_no_further() -> None:
    room = Room(case_of(FULL))
    assert room.says("please speak more slowly") == ["On or off: machine?"]
    room.says("voice list slower", "voice list louder")
    assert (room.state.pace, room.state.level) == (-2, 1)
    assert room.says("voice list slower") == ["It goes no further."]
    room.says("please speak more softly", "voice list faster")
    assert (room.state.pace, room.state.level) == (-1, 0)
    assert replay(room.records) == room.state


def test_a_step_is_kept_before_it_is_made() -> None:
    room = Room(case_of(FULL))
    words = "please speak more loudly"
    before = room.state
    room.says(words)
    kept = [one for one in room.records if isinstance(one, Adjusted)]
    assert kept == [Adjusted(0, 1)]
    assert evolve(before, kept[0]).level == 1


def test_the_emergency_phrase_ends_every_kind_of_speech_until_resumed() -> None:
    room = until(Room(case_of(FULL)), "eye")
    room.says("marked eye left")
    for line in ("this is an emergency", "nurse handing over", "voice list louder", "eye left"):
        assert room.says(line) == []
    assert room.waits(100.0) == []
    assert room.says("carry on please") == ["Please read the mark again."]


def test_a_cancelled_case_names_its_reason_and_needs_a_second_word() -> None:
    room = Room(case_of(FULL))
    assert room.says("cancel this case because of the patient's wishes") == [
        "End this case unfinished?"
    ]
    room.says("yes abandon this case")
    assert room.state.closed == "abandoned"
    assert room.records[-1].body()["reason"] == "the patient's wishes"


def test_nothing_happens_to_a_case_that_is_closed() -> None:
    room = Room(case_of(FULL))
    room.says("cancel this case because of a medical reason", "yes abandon this case")
    count = len(room.records)
    room.says("correction for machine power", "nurse handing over", "voice list louder")
    assert len(room.records) == count


def test_items_answered_in_one_breath_are_taken_with_the_tone_alone() -> None:
    room = Room(case_of(FULL))
    reply = room.says("machine power on and lines and plugs seated program and settings checked")
    assert reply == ["Seated or loose: pump tubing?"]
    assert room.tones == 3
    for item in ("power", "connector", "shown-settings"):
        assert room.status(item) == "said-done"
        assert room.state.item(item).words in (
            "machine power on",
            "lines and plugs seated",
            "program and settings checked",
        )
    assert replay(room.records) == room.state


@pytest.mark.parametrize(
    "line",
    [
        "machine power on and pump tubing seated",  # a stop item, not called
        "machine power on and all connections not seated",
        "machine power on and are all connections seated",
        "machine power on and machine power on",
        "machine power on and all connections",
        "machine power on later all connections seated",
        "machine power on and identity and consent clear",
    ],
)
def test_of_one_breath_all_is_taken_or_nothing(line: str) -> None:
    room = Room(case_of(FULL))
    room.says(line)
    assert not any(one.answer for one in room.state.items.values())


def test_a_stop_item_takes_one_answer_an_utterance() -> None:
    room = until(Room(case_of(FULL)), "pump-tubing")
    room.says("pump tubing seated and drip chamber filled and line running")
    assert room.status("pump-tubing") == "called"
    assert room.status("bottle-line") == "not-asked"


def test_the_second_look_vetoes_all_of_one_breath() -> None:
    room = Room(case_of(FULL))
    words = tuple(["machine", "power", "on", "all", "connections", "seated"])
    look = [Hypothesis(("machine", "power", "on", "all", "connections", "not", "seated"))]
    heard = understand([Hypothesis(words)], look, context_of(room.case, room.state))
    assert isinstance(heard, NotUnderstood)
    room.take(Utterance(heard, Voice()))
    assert not any(one.answer for one in room.state.items.values())


def test_a_read_back_that_is_dropped_leaves_a_question_even_after_a_change() -> None:
    room = until(Room(case_of(FULL)), "irrigation-line")
    room.says("irrigation line is not firm", "equipment was changed now")
    assert room.state.current == ""
    assert room.says("no leave it open") == ["Firm or loose: irrigation?"]
