"""Which item comes next, and which phrases are permitted now."""

from __future__ import annotations

from collections.abc import Iterator, Set

from voicelist.clinical.profile import SpokenGrade
from voicelist.documents.checklist import Item, Section
from voicelist.documents.embedded import Bundle
from voicelist.session import state as st
from voicelist.session.case import ANSWER_KINDS, ANYTIME, CORRECT, LATER_ANYTIME, Case
from voicelist.session.consequences import is_made_due
from voicelist.session.day import OF_THE_DAY, is_left_out
from voicelist.session.flow_phrases import BEGIN, MILESTONE
from voicelist.session.grades import grade_that_stands
from voicelist.session.planned import PLANNED, phase_is_planned, words_planned
from voicelist.session.presence import away
from voicelist.session.sections import at_hand, is_after_time_out, may_begin, reached
from voicelist.session.state import State
from voicelist.session.turn import is_settled

# A deferred item is called again at the end of its section, and once more at the end of the case.
_TAKEN_UP_IN_SECTION = 1
_TAKEN_UP_AT_END = 2

_READ_BACK_PHRASES = {
    "mismatch": ("accept",),
    "echo": ("confirm_profile",),
    "digits": ("correct",),
    "negation": ("report_it", "do_not_report"),
    "abandon": ("abandon_now", "go_on_with_case"),
    "choice": ("correct",),
    "short-answer": ("correct", "do_not_report"),
    "plan": ("agree_to_change", "keep_plan"),
    "plan-part": ("keep_plan",),
    "begin": ("begin_now", "not_yet"),
    "presence": ("correct", "keep_plan"),
}


def is_due(case: Case, state: State, section: Section, item: Item) -> bool:
    """Whether an item applies to this case, as it stands."""
    plan = case.bundle.plan
    absent = away(item.answered_by, plan.present, state.presence)
    nobody = len(absent) == len(item.answered_by)
    if nobody and not (item.stop or item.asks_for_value):
        return False
    if state.equipment_changed and item.follows_equipment:
        return True
    when = item.when or section.when or ""
    first = plan.first_of_the_day or (
        when == OF_THE_DAY and not is_left_out(stop_items_of_the_day(section), state.passed_today)
    )
    return st.applies(
        when,
        first_of_the_day=first,
        changed=plan.changed or state.equipment_changed,
        last_of_the_day=plan.last_of_the_day,
        new_team=plan.new_team,
        toric_lens=plan.is_toric,
        made_due=is_made_due(item.id, state.items),
        planned=when != PLANNED or is_planned(case, grade_that_stands(case, state), item),
        second_eye=plan.second_eye_of is not None,
    )


def is_planned(case: Case, grade: SpokenGrade | None, item: Item) -> bool:
    """Whether plan or card has something that the item compares."""
    plan, card = case.bundle.plan, case.bundle.card
    if item.compare == "profile":
        scaled = None if grade is None else (grade.scale, grade.value)
        return phase_is_planned(str(item.phase), case.card_bands(), scaled, plan.phases)
    return words_planned(str(item.planned), plan.also, card.also) is not None


def stop_items_of_the_day(section: Section) -> frozenset[str]:
    """The stop items of a section that are for the first case of the day."""
    return frozenset(
        item.id for item in section.items if item.stop and (item.when or section.when) == OF_THE_DAY
    )


def day_taken_in(bundle: Bundle) -> str | None:
    """The checklist in whose records of today the set-up is looked for: the one that is named; for
    a later case its own, where it leaves stop items out; else None."""
    checklist = bundle.checklist
    if checklist.set_up_in is not None:
        return checklist.set_up_in
    leaves_out = not bundle.plan.first_of_the_day
    stop_items = any(stop_items_of_the_day(section) for section in checklist.sections)
    return checklist.id if leaves_out and stop_items else None


def due_items(case: Case, state: State, section: Section) -> Iterator[Item]:
    """The items of a section that apply, in order."""
    return (item for item in section.items if is_due(case, state, section, item))


def next_item(case: Case, state: State) -> str | None:
    """The item to call now, or None when every section that was reached, or the short list that is
    open, is through."""
    if state.short_lists:
        return _next_in(case, state, case.section(state.short_lists[-1]))
    for section in reached(case, state):
        found = _next_in(case, state, section)
        if found is not None:
            return found
    for section in reached(case, state):
        for item in due_items(case, state, section):
            standing = state.item(item.id)
            if standing.answer == st.DEFERRED and standing.times_deferred <= _TAKEN_UP_AT_END:
                return item.id
    return None


def _next_in(case: Case, state: State, section: Section) -> str | None:
    faults, deferred = [], []
    for item in due_items(case, state, section):
        standing = state.item(item.id)
        if standing.answer == st.DEFERRED:
            if standing.times_deferred <= _TAKEN_UP_IN_SECTION:
                deferred.append(item.id)
        elif not is_settled(item, standing):
            if not standing.answer or section.order == "fixed":
                return item.id
            faults.append(item.id)
    return next(iter([*faults, *deferred]), None)


def open_items(case: Case, state: State) -> tuple[str, ...]:
    """Items of due sections, and of short lists that are open, that still ask for something."""
    lists = (case.section(one) for one in state.short_lists)
    return tuple(
        item.id
        for section in (*case.sections(), *lists)
        for item in due_items(case, state, section)
        if not is_settled(item, state.item(item.id))
    )


def active_phrases(case: Case, state: State) -> frozenset[str]:
    """The names of the grammar's roots that are permitted now."""
    if state.closed:
        return frozenset()
    if state.held:
        return frozenset({"command.carry_on"})
    anytime = (*ANYTIME, *LATER_ANYTIME)
    names = {f"command.{name}" for name in anytime if name != "carry_on"}
    if not state.short_lists:
        names.discard("command.leave_list")
    names |= {f"command.{CORRECT}{item_id}" for item_id in state.answered}
    names |= set(_of_the_course(case, state))
    if state.pending is not None:
        about = state.pending.about
        names |= {f"command.{name}" for name in _READ_BACK_PHRASES.get(about, ())}
        if state.pending.item:
            names |= set(_answers(case, state.pending.item))
            names |= set(_other_phases(case, state, state.pending.item))
    else:
        if state.current:
            names |= set(_answers(case, state.current))
        for item_id in _out_of_order(case, state):
            names |= set(_answers_uncalled(case, item_id))
        names |= set(_late_faults(case, state))
    return frozenset(names).intersection(case.grammar.names)


def _of_the_course(case: Case, state: State) -> Iterator[str]:
    """Milestones, and sections that may be asked for: from the end of time out on."""
    for section in may_begin(case, state):
        yield f"command.{BEGIN}{section.id}"
    if is_after_time_out(case, state):
        for milestone in case.bundle.checklist.milestones:
            yield f"command.{MILESTONE}{milestone.id}"


def _late_faults(case: Case, state: State) -> Iterator[str]:
    """What was found to be so in the open section may be found to be so no longer. Named by what
    the fault says: one word alone ("loose") would be of the item that is called."""
    for item_id in state.answered:
        name = f"{item_id}.fault"
        here = case.section_of[item_id].id == state.section and name in case.grammar.names
        settled = state.item(item_id).answer in st.SETTLED
        if here and settled and all(" " in text for text in case.grammar.examples(name)):
            yield name


def said_together(case: Case, state: State) -> frozenset[str]:
    """The answers of which several may be given in one breath: that something is so, of items that
    are no stop items, where any order is taken and nothing was read back."""
    if state.pending is not None or state.held or state.closed:
        return frozenset()
    active = active_phrases(case, state)
    return frozenset(
        f"{item_id}.done"
        for item_id, item in case.items.items()
        if f"{item_id}.done" in active and not item.stop and not item.each_role
    )


def heard_here(case: Case, state: State) -> tuple[str, ...]:
    """The roots that the recogniser listens for: what is permitted now and, so that it comes out as
    itself, what else may be said in these sections and at any time."""
    items = {name.partition(".")[0] for name in active_phrases(case, state)} & case.items.keys()
    sections = {case.section_of[item].id for item in items} | {state.section}
    return tuple(name for name in case.grammar.names if _is_heard(case, state, name, sections))


def _is_heard(case: Case, state: State, name: str, sections: Set[str]) -> bool:
    """Commands are listened for everywhere but three kinds: a change of plan, with its numbers,
    only when it was asked for; milestones and sections that wait, when they may be said;
    corrections, of the items up to this section. What is asked of a toric lens is listened for
    where one is planned."""
    if name == "command.change_plan":
        return state.pending is not None and state.pending.about in ("plan-part", "plan")
    if name.startswith((f"command.{BEGIN}", f"command.{MILESTONE}")):
        return name in active_phrases(case, state)
    if name.startswith(f"command.{CORRECT}"):
        item_id = name.removeprefix(f"command.{CORRECT}")
        return case.section_of[item_id].id in _sections_until(case, state)
    if name.startswith("command."):
        return True
    item_id = name.partition(".")[0]
    toric = case.items[item_id].when == "toric lens"
    return case.section_of[item_id].id in sections and (
        not toric or case.with_plan(state.plan).bundle.plan.is_toric
    )


def _sections_until(case: Case, state: State) -> Set[str]:
    """The sections up to the open one, and those that are closed."""
    due = [section.id for section in case.sections()]
    section = state.place if state.short_lists else state.section
    here = due.index(section) if section in due else len(due) - 1
    return {*due[: here + 1], *state.closed_sections, *state.short_lists}


def _answers(case: Case, item_id: str) -> Iterator[str]:
    for kind in ANSWER_KINDS:
        if getattr(case.items[item_id], kind) is not None:
            yield f"{item_id}.{kind}"


def _answers_uncalled(case: Case, item_id: str) -> Iterator[str]:
    """Of several items that take the same words, the name tells which is meant."""
    if case.items[item_id].by_name is None:
        yield from _answers(case, item_id)
    else:
        yield f"{item_id}.by_name"


def _other_phases(case: Case, state: State, item_id: str) -> Iterator[str]:
    """While settings are read back, those of another phase may be said by its name."""
    if case.items[item_id].compare != "profile":
        return
    for other in _out_of_order(case, state):
        if other != item_id and case.items[other].by_name is not None:
            yield f"{other}.by_name"


def _out_of_order(case: Case, state: State) -> Iterator[str]:
    """Items that may be answered without being called: never stop items; those of the open section
    where any order is taken, and deferred ones."""
    for section in at_hand(case, state):
        here = section.id == state.section and section.order == "any"
        for item in due_items(case, state, section):
            standing = state.item(item.id)
            deferred = standing.answer == st.DEFERRED
            if not item.stop and ((here and not is_settled(item, standing)) or deferred):
                yield item.id
