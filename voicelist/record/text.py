"""The record as plain text, for a terminal or a printer of any age. At most 78 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from voicelist.record.about import about, counts_words, details_words, totals_words
from voicelist.record.attention import NOTHING, SETTLED, STANDS, first_to_be_read
from voicelist.record.journal import Entry
from voicelist.record.view import CaseView, ItemView, SectionView, case_view
from voicelist.record.words import (
    CAUTION,
    DAMAGED_BANNER,
    FOOTNOTE,
    PRACTICE_BANNER,
    STATUS,
    hash_words,
    role_words,
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
        changes = [f"{one.at.shown} {one.words}" for one in view.plan_changes]
        yield (*banner, "CHANGE OF PLAN", *_wrapped(changes))
    yield (*banner, "FIRST TO BE READ", *_first(view))
    for section in view.sections:
        yield (*banner, section.name.upper(), *_section(section))
    yield tuple(textwrap.wrap(FOOTNOTE, _COLUMNS))
    course = list(_course(view))
    if course:
        yield (*banner, "COURSE OF THE CASE", *_wrapped(course))
    yield (*banner, *textwrap.wrap(totals_words(view), _COLUMNS))
    if view.late_entries:
        late = [one.words for one in view.late_entries]
        yield (*banner, "ENTERED LATE, AFTER THE END OF THE CASE; NO ANSWERS", *_wrapped(late))
    yield (f"head {hash_words(view.head)}",)
    yield ("tree head", hash_words(view.tree_head))


def _head(view: CaseView) -> Iterator[str]:
    yield f"{view.checklist_title or view.checklist_id}"
    yield f"Case {view.case}: {view.state}"
    for name, text in about(view):
        yield from textwrap.wrap(f"{name.capitalize()}: {text}", _COLUMNS, subsequent_indent="  ")
    yield from textwrap.wrap(counts_words(view), _COLUMNS)


def _first(view: CaseView) -> Iterator[str]:
    points = first_to_be_read(view)
    for stands, title in ((True, STANDS), (False, SETTLED)):
        lines = [
            f"{f'{one.at.shown} ' if one.at else ''}{one.name}: {one.words}"
            for one in points
            if one.stands == stands
        ]
        if lines:
            yield f"{title}:"
            yield from _wrapped(lines)
    if not points:
        yield from _wrapped([NOTHING])


def _course(view: CaseView) -> Iterator[str]:
    yield from (one.words for one in view.course.milestones)
    yield from (one.words for one in view.course.requests)
    if view.course.not_started:
        yield f"short lists that nobody asked for: {', '.join(view.course.not_started)}"


def _section(section: SectionView) -> Iterator[str]:
    for item in section.items:
        stop = " [stop item]" if item.stop else ""
        applies = "" if item.due or item.answered else f" ({item.why_not_due})"
        at = item.answered.shown if item.answered else "-"
        yield f"{at:>9}  {item.name}{stop}: {STATUS[item.status]}{applies}"
        for detail in _details(item):
            yield from textwrap.wrap(
                detail, _COLUMNS, initial_indent=" " * 13, subsequent_indent=" " * 15
            )


def _details(item: ItemView) -> Iterator[str]:
    if item.answered:
        after = item.call_to_answer_s
        called = f", called {item.first_called.shown}" if item.first_called else ""
        waited = "" if after is None else f", {after:.1f} s after the call"
        who = role_words(item.role, item.role_known_by)
        yield f'"{item.words}", {who}{called}{waited}'
    yield from details_words(item)


def _wrapped(lines: Sequence[str]) -> Iterator[str]:
    for line in lines:
        yield from textwrap.wrap(line, _COLUMNS, initial_indent="- ", subsequent_indent="  ")
