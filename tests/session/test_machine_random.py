"""Random conversations: whatever is said, in whatever order, some things always hold."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.session.talk import WHOLE_CASE, Talk, shipped_case
from voicelist.session.effects import Say
from voicelist.session.events import Begin, Equipment, Stop
from voicelist.session.machine import step
from voicelist.session.records import Answered, Heard
from voicelist.session.state import SAID_DONE, VALUE, replay
from voicelist.session.turn import is_settled

CASE = shipped_case()
SENTENCES = tuple(
    dict.fromkeys(text for name in CASE.grammar.names for text in CASE.grammar.examples(name)[:12])
)
NEAR = ("irrigation line not firm", "is the tip tight", "vacuum", "good morning", "", "no")
LINES = st.one_of(st.sampled_from(WHOLE_CASE), st.sampled_from(SENTENCES), st.sampled_from(NEAR))
EVENTS = st.one_of(
    LINES,
    LINES,
    LINES,
    st.sampled_from((8.0, 20.0, 60.0)),
    st.sampled_from((Begin(), Equipment("hearing", "lost", "cannot-hear"))),
)
ROLES = st.sampled_from(("", "", "circulating-nurse", "surgeon", "scrub-nurse", "anaesthesia"))


def held(conversation: list[tuple[object, str]]) -> Talk:
    """A case through which the conversation went."""
    talk = Talk()
    for event, role in conversation:
        if isinstance(event, str):
            talk.says(event, role=role)
        elif isinstance(event, float):
            talk.waits(event)
        else:
            talk.take(event)  # type: ignore[arg-type]  # one of the events sampled above
    return talk


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(EVENTS, ROLES), max_size=60))
def test_whatever_is_said(conversation: list[tuple[object, str]]) -> None:
    talk = held(conversation)
    assert replay(talk.records) == talk.state
    for item_id, item in CASE.items.items():
        standing = talk.state.item(item_id)
        if talk.state.closed == "completed" and item.stop:
            assert is_settled(item, standing)
        if standing.answer in (SAID_DONE, VALUE):
            assert standing.words
    _every_answer_follows_words_that_were_understood(talk)
    _something_waits_unless_closed(talk)


def _every_answer_follows_words_that_were_understood(talk: Talk) -> None:
    understood = False
    for record in talk.records:
        if isinstance(record, Heard):
            understood = record.status == "understood"
        elif isinstance(record, Answered):
            assert understood, record


def _something_waits_unless_closed(talk: Talk) -> None:
    if talk.state.closed:
        return
    assert talk.state.current or talk.state.pending is not None
    talk.take(Stop("interrupted"))
    assert talk.state.closed == "stopped"


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(EVENTS, ROLES), max_size=40), st.integers(0, 400))
def test_cut_off_after_any_record_a_case_goes_on_with_a_question(
    conversation: list[tuple[object, str]], cut: int
) -> None:
    talk = held(conversation)
    state = replay(talk.records[: 1 + cut % len(talk.records)])
    after, effects = step(CASE, state, Begin())
    asked = [effect.text for effect in effects if isinstance(effect, Say)]
    if state.closed or state.held:
        assert asked == []
    elif after.closed:
        assert after.closed == "completed"
    elif after.pending is not None:
        assert asked[-1] == after.pending.text
    else:
        assert asked[-1] == CASE.items[after.current].call
