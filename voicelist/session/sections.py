"""Which sections a case has reached, and how those begin and end that wait to be asked for."""

from __future__ import annotations

from voicelist.documents.checklist import Section
from voicelist.session.case import Case
from voicelist.session.flow_records import SectionAsked
from voicelist.session.state import State


def next_waiting(case: Case, state: State) -> Section | None:
    """The section that begins when asked and comes next, or None where none is left."""
    for section in case.sections():
        if section.waits and section.id not in {*state.asked_for, case.first_section}:
            return section
    return None


def reached(case: Case, state: State) -> tuple[Section, ...]:
    """The sections up to the one that waits, in order; short lists are none of them."""
    waiting = next_waiting(case, state)
    every = case.sections()
    return every if waiting is None else every[: every.index(waiting)]


def at_hand(case: Case, state: State) -> tuple[Section, ...]:
    """The sections that were reached, and the short lists that are open."""
    return (*reached(case, state), *(case.section(one) for one in state.short_lists))


def is_after_time_out(case: Case, state: State) -> bool:
    """Whether the part of a case has come in which milestones are told and short lists start."""
    if state.been_under_way:
        return True
    first = case.sections()[:1]
    return any(one.waits for one in first) or _begins_with_short_list(case)


def _begins_with_short_list(case: Case) -> bool:
    return bool(case.first_section) and case.section(case.first_section).goes_back


def may_begin(case: Case, state: State) -> tuple[Section, ...]:
    """The sections that may be asked for now: the one that waits next, and every short list."""
    if not is_after_time_out(case, state):
        return ()
    waiting = next_waiting(case, state)
    lists = [one for one in case.bundle.checklist.sections if one.goes_back]
    return tuple(lists) if waiting is None else (waiting, *lists)


def goes_on_again(state: State, section: Section) -> SectionAsked | None:
    """What opens a short list again, of which an answer is taken back; None for other sections."""
    if not section.goes_back or section.id in state.short_lists:
        return None
    return SectionAsked(section.id, "", goes_back=True)
