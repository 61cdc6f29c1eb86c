"""Manners in the room: ignored talk, asking again, silence, holding, undoing, ending."""

from __future__ import annotations

import pytest

from tests.session.talk import LINES, SIGN_OUT, Talk
from voicelist.session.events import Begin, Equipment, Silence, Stop, Utterance, Voice
from voicelist.session.records import Closed, Heard, Noticed, Prompted, Undone
from voicelist.understanding.interpretation import NotUnderstood

NOT_UNDERSTOOD = "what about the irrigation line"


def test_talk_without_a_word_of_the_item_is_ignored_and_leaves_no_words() -> None:
    talk = Talk()
    assert talk.says("did you see the football match last night") == []
    heard = talk.records[-1]
    assert isinstance(heard, Heard)
    assert heard.status == "not-for-us"
    assert heard.words == ""
    assert heard.alternatives == ()


def test_an_answer_is_asked_again_twice_and_then_waits_on_the_display() -> None:
    talk = Talk()
    assert talk.says(NOT_UNDERSTOOD) == ["Firm or loose?"]
    assert talk.says(NOT_UNDERSTOOD) != []
    assert talk.says(NOT_UNDERSTOOD) == []
    assert talk.status("irrigation-line") == "waiting"
    assert [one.kind for one in talk.shown[-2:]] == ["waiting", "permitted"]
    assert talk.shown[-1].text.startswith("irrigation line firm or on and firm")
    assert talk.says(NOT_UNDERSTOOD) == []
    talk.says("irrigation line firm")
    assert talk.status("irrigation-line") == "said-done"


def test_a_near_answer_is_offered_by_its_telling_word_and_not_taken() -> None:
    talk = Talk()
    reply = talk.says("irrigation line firms")
    assert reply == ["Did you mean firm? Please say it in full."]
    assert talk.status("irrigation-line") == "called"


@pytest.mark.parametrize(
    ("words", "offers", "reply"),
    [
        ("priming is complete", ("priming stopped",), "complete or stopped"),
        ("priming almost complete", ("priming stopped", "priming complete"), "complete or stopped"),
        ("priming complement", ("priming complete",), "complete"),
        ("priming topped", ("priming stopped", "priming complete"), "complete or stopped"),
    ],
)
def test_an_offer_is_never_the_opposite_of_the_words_that_were_heard(
    words: str, offers: tuple[str, ...], reply: str
) -> None:
    talk = Talk()
    talk.says("irrigation line firm", "aspiration line firm", "bottle full")
    heard = NotUnderstood(tuple(words.split()), "it is not one of the permitted answers", offers)
    said = talk.take(Utterance(heard, Voice("voice")))
    assert said == [f"Did you mean {reply}? Please say it in full."]
    assert talk.status("priming") == "called"


def test_priming_is_complete_is_not_answered_by_its_opposite() -> None:
    talk = Talk()
    talk.says("irrigation line firm", "aspiration line firm", "bottle full")
    for reply in talk.says("priming is complete"):
        assert "incomplete" not in reply
        assert "omplete or " in reply


@pytest.mark.parametrize("turned", ["isn't firm", "not firm", "maybe firm", "firm later"])
def test_an_answer_that_was_denied_or_doubted_is_not_offered(turned: str) -> None:
    talk = Talk()
    words = tuple(f"irrigation line {turned}".split())
    doubt = NotUnderstood(words, "it was nearer to something else", ("irrigation line firm",))
    assert talk.take(Utterance(doubt, Voice("voice"))) == ["Firm or loose?"]


def test_what_is_reported_may_be_offered_to_somebody_in_doubt() -> None:
    talk = Talk()
    words = tuple(["irrigation", "line", "almost", "loose"])
    doubt = NotUnderstood(words, "it was nearer to something else", ("irrigation line loose",))
    assert talk.take(Utterance(doubt, Voice("voice"))) == [
        "Did you mean loose? Please say it in full."
    ]


def test_silence_prompts_at_8_20_and_60_seconds_and_then_no_more() -> None:
    talk = Talk()
    assert talk.waits(7.9) == []
    assert talk.waits(8.0) == ["Firm or loose: the irrigation line?"]
    assert talk.waits(19.0) == []
    assert talk.waits(20.0) == ["Please answer: irrigation line."]
    assert talk.waits(60.0) == ["Irrigation line waits: see the display."]
    assert talk.waits(600.0) == []
    assert [one.after_s for one in talk.records if isinstance(one, Prompted)] == [8.0, 20.0, 60.0]


def test_a_new_call_starts_the_silence_prompts_anew() -> None:
    talk = Talk()
    talk.waits(8.0)
    talk.says("irrigation line firm")
    assert talk.waits(8.0) == ["Firm or loose: the aspiration line?"]


def test_say_again_repeats_the_last_sentence() -> None:
    talk = Talk()
    talk.says("irrigation line firm")
    assert talk.says("say that again") == ["Firm or loose: the aspiration line?"]


def test_where_are_we_and_what_is_open() -> None:
    talk = Talk("pedal")
    talk.says("reflux control found")
    reply = talk.says("where are we")[0]
    assert reply == "The pedal. Open in all: 13. Now: the pedal."
    assert talk.says("what is still open")[0].startswith("To be answered: the pedal,")
    assert talk.status("pedal-reach") == "called"


def test_why_is_answered_with_the_items_reason() -> None:
    talk = Talk()
    assert talk.says("tell me why please") == ["A loose line lets the eye go soft."]


def test_undo_reopens_the_last_answer_and_its_section_and_says_so() -> None:
    talk = Talk()
    talk.says(*LINES)
    assert "lines" in talk.state.closed_sections
    reply = talk.says("undo the last answer")
    assert reply == [
        "Withdrawn: priming.",
        "The lines is open again.",
        "Complete or stopped: the priming?",
    ]
    assert "lines" not in talk.state.closed_sections
    assert talk.status("priming") == "called"
    assert any(isinstance(one, Undone) for one in talk.records)


def test_undo_with_nothing_answered_changes_nothing() -> None:
    talk = Talk()
    before = talk.state.items
    assert talk.says("undo the last answer") == ["There is nothing to take back."]
    assert talk.state.items == before


def test_on_hold_nothing_is_taken_or_prompted_until_the_team_carries_on() -> None:
    talk = Talk()
    talk.says("hold on please")
    assert talk.says("irrigation line firm") == []
    assert talk.waits(100.0) == []
    assert talk.status("irrigation-line") == "called"
    assert talk.says("carry on please") == ["Firm or loose: the irrigation line?"]
    talk.says("irrigation line firm")
    assert talk.status("irrigation-line") == "said-done"


def test_the_emergency_phrase_ends_all_speech_until_carried_on() -> None:
    talk = Talk()
    assert talk.says("this is an emergency") == []
    assert talk.says("where are we") == []
    assert talk.take(Equipment("hearing", "hearing was lost", "cannot-hear")) == []
    assert talk.says("carry on please") != []


def test_a_read_back_survives_a_hold() -> None:
    talk = Talk("time-out")
    talk.says("marked eye right", "hold on please")
    reply = talk.says("carry on please")
    assert reply == ["Please read the mark again."]


def test_a_case_is_abandoned_only_after_a_second_word_and_with_its_reason() -> None:
    talk = Talk()
    reply = talk.says("abandon this case because of equipment trouble")
    assert reply == ["End this case unfinished?"]
    assert talk.state.closed == ""
    assert talk.says("no carry on please") == ["Firm or loose: the irrigation line?"]
    talk.says("abandon this case because of equipment trouble", "yes abandon this case")
    closed = talk.records[-1]
    assert isinstance(closed, Closed)
    assert (closed.state, closed.reason) == ("abandoned", "equipment trouble")


def test_lost_hearing_is_recorded_said_once_and_leaves_the_item_open() -> None:
    talk = Talk()
    reply = talk.take(Equipment("hearing", "hearing was lost", "cannot-hear"))
    assert reply == ["I cannot hear just now. Please type, or use paper."]
    assert isinstance(talk.records[-1], Noticed)
    assert talk.status("irrigation-line") == "called"


def test_the_end_of_the_sound_stops_the_case_without_completing_it() -> None:
    talk = Talk()
    talk.take(Stop("the sound is over"))
    assert talk.state.closed == "stopped"
    assert talk.state.current == "irrigation-line"


def test_going_on_asks_again_what_was_asked() -> None:
    talk = Talk()
    talk.says("irrigation line firm")
    assert talk.take(Begin()) == ["Firm or loose: the aspiration line?"]
    silent = Talk("sign-out")
    silent.says(*SIGN_OUT)
    assert silent.take(Begin()) == []


def test_a_call_that_was_spoken_into_is_called_again_soon() -> None:
    talk = Talk()
    assert talk.waits(1.5) == []
    assert talk.take(Silence(1.5, spoken_into=True)) == ["Firm or loose: the irrigation line?"]
    assert talk.waits(1.5) == []
