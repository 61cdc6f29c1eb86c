"""What holds of the machine whatever was said: looked at after each event and at the end."""

from __future__ import annotations

from collections.abc import Sequence

from voicelist.session.case import Case
from voicelist.session.order import due_items
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, Called, Heard
from voicelist.session.state import DEFERRED, SAID_DONE, SAID_FAULT, State, replay
from voicelist.session.turn import is_settled


def check_step(case: Case, before: State, records: Sequence[Record], after: State) -> None:
    """Of one event and the records it led to: an item is answered only by something that was said
    or typed and understood in this very step, and a closed case stays as it was."""
    answers = [one for one in records if isinstance(one, Answered)]
    if answers:
        first = records[0]
        assert isinstance(first, Heard), records
        assert first.status == "understood", first
        assert all(one.words for one in answers), answers
        assert len(answers) == len(first.rule.split()), "one sentence, one answer"
        stops = [one for one in answers if case.items[one.item].stop]
        assert not stops or len(answers) == 1, "a stop item takes one answer an utterance"
    if before.closed:
        assert not records
        assert after == before
    if before.held and answers:
        raise AssertionError("an answer was taken on hold")


def check_called_before(case: Case, records: Sequence[Record]) -> None:
    """A stop item is answered only after its own call, however long ago it was opened again; save
    that what was answered before may be reported."""
    called: set[str] = set()
    taken_back: set[str] = set()
    for record in records:
        if isinstance(record, Called):
            called.add(record.item)
        for item_id in getattr(record, "reopened", ()):
            called.discard(item_id)
        if record.kind == "undone":
            called.discard(getattr(record, "item", ""))
            taken_back.add(getattr(record, "item", ""))
        if isinstance(record, Answered) and case.items[record.item].stop:
            reported = record.answer == SAID_FAULT and record.item in taken_back
            assert record.item in called or reported, record
            assert record.answer != DEFERRED, record


def check_end(case: Case, records: Sequence[Record], state: State) -> None:
    """Of a case as it stands: replayed alike, and completed only with every stop item settled."""
    assert replay(records) == state
    check_called_before(case, records)
    if state.closed == "completed":
        for section in case.sections():
            for item in due_items(case, state, section):
                standing = state.item(item.id)
                assert is_settled(item, standing) or not item.stop, item.id
                assert standing.answer, item.id
    for item_id, standing in state.items.items():
        if standing.answer in (SAID_DONE, SAID_FAULT):
            assert standing.words, item_id


def something_waits(state: State) -> bool:
    """Whether the team knows what to say next: no dead end."""
    waits = bool(state.closed or state.held or state.current or state.under_way)
    return waits or state.pending is not None
