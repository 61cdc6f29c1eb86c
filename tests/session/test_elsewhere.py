"""Answers to items that are not asked now: never taken, told apart from talk, named politely."""

from __future__ import annotations

import pytest

from tests.session.talk import LINES, Talk
from voicelist.session.effects import Show
from voicelist.session.records import AskedAgain


def test_an_answer_before_its_call_is_told_to_come_later() -> None:
    talk = Talk()
    assert talk.says("aspiration line firm") == [
        "Aspiration line: later.",
        "Firm or loose?",
    ]
    assert talk.status("aspiration-line") == "not-asked"
    assert talk.status("irrigation-line") == "called"
    assert isinstance(talk.records[-1], AskedAgain)


def test_several_stop_items_in_one_breath_are_asked_for_one_at_a_time() -> None:
    talk = Talk()
    assert talk.says("irrigation line firm and aspiration line firm") == [
        "One at a time, please. Firm or loose: the irrigation line?"
    ]
    assert talk.status("irrigation-line") == "called"
    assert talk.status("aspiration-line") == "not-asked"


def test_an_answer_that_was_given_before_is_not_said_to_come_later() -> None:
    talk = Talk()
    talk.says("irrigation line firm")
    reply = talk.says("irrigation line firm")
    assert not any("later" in text for text in reply)
    assert talk.status("irrigation-line") == "said-done"


def test_without_a_word_of_the_item_it_is_silent_and_shown() -> None:
    talk = Talk()
    assert talk.says("sleeve straight") == []
    assert talk.shown[-1] == Show("ignored", "the sleeve")
    assert talk.status("sleeve") == "not-asked"


@pytest.mark.parametrize("words", ["did you see the match", "sleeve not straight"])
def test_talk_is_shown_as_talk(words: str) -> None:
    talk = Talk()
    assert talk.says(words) == []
    assert talk.shown[-1] == Show("ignored", "")


def test_on_hold_nothing_is_said_to_come_later() -> None:
    talk = Talk()
    talk.says("hold on please")
    assert talk.says("sleeve straight") == []
    assert talk.shown[-1] == Show("ignored", "")


def test_while_a_read_back_waits_it_is_asked_again_as_it_was() -> None:
    talk = Talk()
    talk.says(*LINES[:1], "aspiration line not firm")
    assert talk.says("irrigation line loose") == ["Aspiration line not firm: report it?"]
    assert talk.status("irrigation-line") == "said-done"


def test_documents_of_an_older_record_do_without_the_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    talk = Talk()
    sentences = talk.case.bundle.sentences
    older = {key: text for key, text in sentences.sentences.items() if key != "comes-later"}
    monkeypatch.setitem(sentences.__dict__, "sentences", older)
    assert talk.says("aspiration line firm") != []
    assert talk.status("aspiration-line") == "not-asked"
