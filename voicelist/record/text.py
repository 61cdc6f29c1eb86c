"""The record as plain text, for a terminal or a printer of any age. At most 78 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from voicelist.record.exports import mismatch_words
from voicelist.record.journal import Entry
from voicelist.record.times import SOUND, Moment
from voicelist.record.view import CaseView, ItemView, SectionView, case_view
from voicelist.record.words import (
    CAUTION,
    DAMAGED_BANNER,
    PRACTICE_BANNER,
    STATUS,
    clock_words,
    hash_words,
    named,
    quantities_words,
    role_words,
    value_words,
)

_COLUMNS = 78


def as_text(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """The view of one case as text, UTF-8."""
    view = case_view(entries, amiss)
    lines = [line for block in _blocks(view) for line in (*block, "")]
    return ("\n".join(lines).rstrip("\n") + "\n").encode()


def _blocks(view: CaseView) -> Iterator[Sequence[str]]:
    banner = (f"*** {PRACTICE_BANNER} ***",) if view.practice else ()
    yield (*banner, *_head(view))
    yield tuple(textwrap.wrap(CAUTION, _COLUMNS))
    if view.problems:
        yield (DAMAGED_BANNER, *_wrapped(view.problems))
    if view.plan_changes:
        changes = [one.words for one in view.plan_changes]
        yield (*banner, "CHANGE OF PLAN", *_wrapped(changes))
    yield (*banner, "FIRST TO BE READ", *_first(view))
    for section in view.sections:
        yield (*banner, section.name.upper(), *_section(section))
    course = list(_course(view))
    if course:
        yield (*banner, "COURSE OF THE CASE", *_wrapped(course))
    spoken = view.totals.speech_s
    yield (
        *banner,
        f"The assistant spoke for {spoken:.1f} s. Asked again: {view.totals.asked_again}.",
        f"Other talk: {view.totals.ignored}. Notices about equipment: {view.totals.notices}.",
    )
    if view.late_entries:
        late = [f"{one.at[:16]} {one.words}" for one in view.late_entries]
        yield (*banner, "ENTERED LATE, AFTER THE END OF THE CASE", *_wrapped(late))
    yield (f"head {hash_words(view.head)}",)
    yield ("tree head", hash_words(view.tree_head))


def _head(view: CaseView) -> Iterator[str]:
    yield f"{view.checklist_title or view.checklist_id}"
    state = f"{view.state} ({view.reason})" if view.reason else view.state
    yield f"Case {view.case}: {state}; source {view.source}"
    yield f"Started {view.started_at}; ended {view.ended_at or 'not yet'}"
    for name, value in view.plan.items():
        yield f"Plan, {name}: {value_words(name, value)}"
    for name, text in view.team.facts():
        yield from textwrap.wrap(f"{name.capitalize()}: {text}", _COLUMNS)
    yield ", ".join(f"{count} {STATUS[status]}" for status, count in view.counts.items() if count)


def _first(view: CaseView) -> Iterator[str]:
    lines = [
        f"{one.name}: {mismatch_words(one, named(one.quantity)[0])}" for one in view.mismatches
    ]
    for item in view.items:
        for one in item.faults:
            became = f" (later {one.ended})" if one.ended else ""
            who = role_words(one.role, one.role_known_by)
            lines.append(f'{item.name}: reported not right, "{one.words}", {who}{became}')
        lines.extend(f'{item.name}: "{one.words}" was taken back' for one in item.undone)
        if item.made_due_and_open:
            lines.append(f"{item.name}: made due by {', '.join(item.made_due_by)}, not answered")
    lines.extend(one.words for one in view.team.hand_overs)
    lines.extend(f'equipment: "{words}"' for _, words in view.team.equipment_changes)
    lines.extend(f"{_clock(one.at)} clock: {one.words}" for one in view.clock_changes)
    yield from _wrapped(lines or ["No mismatch, nothing reported not right, nothing taken back."])


def _course(view: CaseView) -> Iterator[str]:
    yield from (one.words for one in view.course.milestones)
    yield from (one.words for one in view.course.requests)
    if view.course.not_started:
        yield f"short lists that nobody asked for: {', '.join(view.course.not_started)}"


def _section(section: SectionView) -> Iterator[str]:
    for item in section.items:
        stop = " [stop item]" if item.stop else ""
        applies = "" if item.due or item.answered else f" ({item.why_not_due})"
        yield f"{_clock(item.answered):>9}  {item.name}{stop}: {STATUS[item.status]}{applies}"
        for detail in _details(item):
            yield from textwrap.wrap(
                detail, _COLUMNS, initial_indent=" " * 13, subsequent_indent=" " * 15
            )


def _details(item: ItemView) -> Iterator[str]:
    if item.answered:
        after = item.call_to_answer_s
        waited = "" if after is None else f", {after:.1f} s after the call"
        who = role_words(item.role, item.role_known_by)
        yield f'"{item.words}", {who}{waited}'
    elif item.agreed:
        yield f"so far: {', '.join(item.agreed)}"
    if item.made_due_by:
        yield f"made due by {', '.join(item.made_due_by)}"
    if item.values:
        yield quantities_words(item.values)
    if item.expected:
        yield f"expected {quantities_words(item.expected)}"


def _clock(moment: Moment | None) -> str:
    if moment is None:
        return "-"
    return clock_words(moment.t_s) if moment.base == SOUND else moment.at[11:19]


def _wrapped(lines: Sequence[str]) -> Iterator[str]:
    for line in lines:
        yield from textwrap.wrap(line, _COLUMNS, initial_indent="- ", subsequent_indent="  ")
