"""What was found to be so may be found to be so no longer: a fault of an item already answered."""

from __future__ import annotations

from tests.session.talk import TO_TIME_OUT, Talk
from voicelist.session.state import SAID_DONE, SAID_FAULT, replay
from voicelist.understanding.interpretation import Understood


def test_a_fault_after_the_answer_takes_it_back_and_keeps_the_item_open() -> None:
    talk = Talk()
    talk.says("irrigation line firm")
    assert talk.state.item("irrigation-line").answer == SAID_DONE
    reply = talk.says("irrigation line loose")
    assert "irrigation line" in reply[0].lower()
    assert reply[1] == "Reported; it stays open."
    assert talk.state.item("irrigation-line").answer == SAID_FAULT
    talk.says("aspiration line firm", "bottle full", "priming complete")
    assert "lines" not in talk.state.closed_sections
    talk.says("irrigation line firm")
    assert "lines" in talk.state.closed_sections
    assert replay(talk.records) == talk.state


def test_a_fault_said_again_is_not_taken_twice() -> None:
    talk = Talk()
    talk.says("irrigation line firm", "irrigation line loose", "aspiration line firm")
    assert talk.kinds().count("undone") == 1
    talk.says("bottle full", "priming complete", "irrigation line leaking")
    assert talk.kinds().count("undone") == 1
    assert talk.state.item("irrigation-line").answer == SAID_FAULT


def test_an_answer_said_again_changes_nothing() -> None:
    talk = Talk()
    talk.says("irrigation line firm")
    assert not isinstance(talk.hears("irrigation line firm"), Understood)


def test_a_late_fault_is_not_taken_in_another_section() -> None:
    talk = Talk()
    talk.says(*TO_TIME_OUT)
    assert not isinstance(talk.hears("irrigation line loose"), Understood)


def test_a_late_fault_is_not_taken_while_a_read_back_waits() -> None:
    talk = Talk()
    talk.says("irrigation line firm", "aspiration line is not firm")
    assert talk.state.pending is not None
    assert not isinstance(talk.hears("irrigation line loose"), Understood)
