"""Typed lines in place of speech, and the help that only they have."""

from __future__ import annotations

import io

import pytest

from tests.session.talk import LINES, TO_TIME_OUT, Talk
from tests.session.test_team_items import at
from voicelist.grammar.ruleset import RuleSet
from voicelist.listening.typed import TypedHearer
from voicelist.session.events import Event, Stop, Utterance
from voicelist.session.order import active_phrases
from voicelist.session.permitted import answers_of, answers_written, help_lines, wording
from voicelist.understanding.interpretation import Denied, NotForUs, Understood


def heard(talk: Talk, lines: str) -> tuple[list[Event], list[str]]:
    """The events of these lines, and what was told besides."""
    told: list[str] = []
    hearer = TypedHearer(talk.case, io.StringIO(lines), told.append)
    events = []
    while not events or not isinstance(events[-1], Stop):
        events.append(hearer.next_event(talk.state))
    return events, told


def test_a_line_is_understood_and_its_speaker_known() -> None:
    (first, _), told = heard(Talk(), "scrub nurse: irrigation line firm\n")
    assert isinstance(first, Utterance)
    assert isinstance(first.understanding, Understood)
    assert (first.voice.by, first.voice.role) == ("typed", "scrub-nurse")
    assert told == []


@pytest.mark.parametrize("denied", ["isn't", "isnt", "isn\N{RIGHT SINGLE QUOTATION MARK}t"])
def test_a_denial_is_one_with_any_apostrophe_or_none(denied: str) -> None:
    (first, _), _ = heard(Talk(), f"irrigation line {denied} firm\n")
    assert isinstance(first, Utterance)
    assert isinstance(first.understanding, Denied)


def test_help_tells_what_may_be_said_and_nothing_has_happened() -> None:
    events, told = heard(Talk(), "help\n ? \n")
    assert events == [Stop("the typed input ended")]
    assert told[:2] == told[2:]
    assert told[0].startswith("May be said now: irrigation line firm or on and firm")
    assert told[1].startswith("Always permitted: say that again")
    assert "hold on please" in told[1]


def test_help_within_a_sentence_is_no_help() -> None:
    (first, _), told = heard(Talk(), "please help me\n")
    assert isinstance(first, Utterance)
    assert isinstance(first.understanding, NotForUs)
    assert told == []


def test_on_hold_help_says_how_to_go_on_and_nothing_else() -> None:
    talk = Talk()
    talk.says("hold on please")
    _, told = heard(talk, "help\n")
    assert told == ["Always permitted: carry on please"]


def test_while_a_read_back_waits_help_says_what_answers_it() -> None:
    talk = Talk()
    talk.says("irrigation line not firm")
    _, told = heard(talk, "help\n")
    assert "yes report it" in told[0]


def test_help_gives_no_expected_value_away() -> None:
    talk = Talk()
    talk.says(*TO_TIME_OUT)
    assert talk.state.current == "eye"
    _, told = heard(talk, "help\n")
    assert "marked eye left or right" in told[0]
    assert answers_written(talk.case, "lens-power") == "lens power plus or minus a number"
    assert "power a number, vacuum a number, flow a number" in answers_written(
        talk.case, "quadrant-profile"
    )


@pytest.mark.parametrize("plan", ["practice-007", "practice-101", "practice-201", "practice-301"])
def test_help_has_no_blanks_and_no_sign_of_a_grammar(plan: str) -> None:
    talk = Talk(plan=plan)
    rules = RuleSet.from_texts(talk.case.bundle.rules.items())
    answers = [text for item in talk.case.items.values() for text in answers_of(item, rules)]
    told = [*help_lines(talk.case, talk.state), *answers]
    for line in told:
        assert not set("[]()|$<>{}").intersection(line), line
        assert all(one.strip() for one in line.split(" · ")), line


def test_help_names_every_command_that_is_permitted_now() -> None:
    talk = Talk()
    talk.says(*LINES)
    active = active_phrases(talk.case, talk.state)
    said = " · ".join(help_lines(talk.case, talk.state))
    rules = RuleSet.from_texts(talk.case.bundle.rules.items())
    for name in sorted(active):
        command = name.removeprefix("command.")
        if name.startswith("command.") and not command.startswith("correct:"):
            assert wording(command, rules) in said
    assert "correction for" in said


def test_help_by_voice_shows_all_of_it_and_changes_nothing() -> None:
    talk = Talk()
    before = talk.state.current
    for words in ("what may i say please", "voice list help"):
        assert talk.says(words) == ["It is all on the display."]
        shown = [one.text for one in talk.shown if one.kind == "notice"][-2:]
        assert shown == list(help_lines(talk.case, talk.state))
        assert shown[0].startswith("May be said now: irrigation line firm")
    assert (talk.state.current, talk.status(before)) == (before, "called")
    assert "answered" not in talk.kinds()


@pytest.mark.parametrize(
    ("section", "item", "line"),
    [
        ("sign-in", "anaesthesia-check", "anesthesia check done"),
        ("sign-in", "anaesthesia-check", "anesthesia: anesthesia check done"),
        ("sign-out", "specimen", "specimen labelled"),
    ],
)
def test_both_spellings_of_a_word_are_understood(section: str, item: str, line: str) -> None:
    room = at(section, item=item)
    hearer = TypedHearer(room.case, io.StringIO(f"{line}\n"), lambda text: None)
    event = hearer.next_event(room.state)
    assert isinstance(event, Utterance)
    assert event.voice.role == ("anaesthesia" if ":" in line else "")
    room.take(event)
    assert room.status(item) == "said-done"


def test_an_answer_keeps_the_spelling_that_its_list_has() -> None:
    lexicon = Talk().case.bundle.lexicon
    assert lexicon.as_known(("labelled", "firm"), {"labelled", "firm"}) == ("labelled", "firm")
    assert lexicon.as_known(("bottle", "centimetres"), {"centimeters"}) == ("bottle", "centimeters")
