"""What may be said at the place a clip belongs to: an item, ITEM/READ-BACK, `held`, `under-way`, or
/READ-BACK for one that belongs to no item."""

from __future__ import annotations

from voicelist.listening.practice import UNDER_WAY
from voicelist.session.case import Case
from voicelist.session.machine import context_of
from voicelist.session.records import ReadBack
from voicelist.session.sections import reached
from voicelist.session.state import State
from voicelist.understanding.context import Context

HELD = "held"
# After these nothing but the course of the case is spoken of.
_QUIET = (UNDER_WAY, "/begin")


def context_for(case: Case, asked: str) -> Context:
    """The product's own answer, for a case in which nothing else has been answered yet."""
    return context_of(case, state_at(case, asked))


def state_at(case: Case, asked: str) -> State:
    """A case that waits for `asked`, in which nothing else has been answered yet."""
    if asked == HELD:
        return State(held=HELD)
    item, _, about = asked.partition("/")
    pending = ReadBack(item, about, text="") if about else None
    if asked in _QUIET:
        section = reached(case, State())[-1].id
        return State(section=section, pending=pending, under_way=True, been_under_way=True)
    section = case.section_of[item].id if item else ""
    return State(section=section, current=item, pending=pending)
