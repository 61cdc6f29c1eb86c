"""The head of a record: what the case was, the plan in force, and how it was recorded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from voicelist.record.runs import RunView
from voicelist.record.times import SOUND, both_words
from voicelist.record.view import STATUSES, CaseView, ItemView
from voicelist.record.words import STATUS, quantities_words, seconds_words


def about(view: CaseView) -> tuple[tuple[str, str], ...]:
    """The head of every page and file, in pairs of name and text."""
    return tuple((*_case(view), *_recording(view)))


def _case(view: CaseView) -> Iterator[tuple[str, str]]:
    yield "state", view.state + (f" ({view.reason})" if view.reason else "")
    yield "started", both_words(view.started_at, view.started_local)
    if view.ended_at:
        yield "ended", both_words(view.ended_at, view.ended_local)
    else:
        yield "ended", f"not ended; last event {both_words(view.last_at, view.last_local)}"
    for part in view.plan_in_force:
        yield f"plan: {part.name}", part.words
    yield from view.team.facts()
    yield "card", view.card or "none"
    yield "items", items_words(view)


def items_words(view: CaseView) -> str:
    """How many items were answered, of how many that applied."""
    beside = len(view.items) - view.due
    rest = f"; {beside} more on the list did not apply" if beside else ""
    return f"{view.answered} answered of {view.due}{rest}"


def _recording(view: CaseView) -> Iterator[tuple[str, str]]:
    roles = dict.fromkeys(role.replace("-", " ") for run in view.runs for role in run.roles)
    yield "source", _each(run.source for run in view.runs)
    yield "times shown", _each(time_words(run) for run in view.runs)
    yield "channels", ", ".join(roles) or "one for everybody"
    yield "sound of the room", _each(_sound(run) for run in view.runs)
    yield "software", _each(f"voicelist {run.software}" for run in view.runs)
    yield "speech model", _each(_model(run.model) for run in view.runs)
    yield "events", f"{view.events} in {len(view.runs)} run{'s' if len(view.runs) > 1 else ''}"


def time_words(run: RunView) -> str:
    """What the times of a run in tables are."""
    if run.time_base == SOUND:
        return "minutes and seconds into the sound"
    return f"local time, UTC{run.offset}" if run.offset else "time of day (UTC)"


def _sound(run: RunView) -> str:
    """Whether sound was kept. Whether it is there still, the record cannot know."""
    if not run.sound_kept:
        return "not kept"
    return "utterances kept apart from the record, encrypted; they may have been deleted since"


def counts_words(view: CaseView) -> str:
    """How the items stand, those that none stand in left out."""
    return ", ".join(f"{view.counts[one]} {STATUS[one]}" for one in STATUSES if view.counts[one])


def totals_words(view: CaseView) -> str:
    """What adds up over the case, in sentences."""
    totals = view.totals
    return (
        f"Mismatches read back: {len(view.mismatches)}. Utterances heard: {totals.utterances}, of "
        f"which not understood {totals.not_understood}, other talk {totals.ignored}. Asked again: "
        f"{totals.asked_again}. Prompts after silence: {totals.prompts}. The assistant spoke for "
        f"{seconds_words(totals.speech_s)}. Notices about equipment: {totals.notices}."
    )


def _each(texts: Iterable[str]) -> str:
    """Different texts of several runs, in order."""
    return ", then ".join(dict.fromkeys(texts))


def _model(model: Mapping[str, Any] | None) -> str:
    """Whatever says which model it was; long fingerprints by their beginning (the journal has the
    rest)."""
    if not model:
        return "none, typed"
    shown = {name: str(value) for name, value in model.items() if value}
    return ", ".join(
        f"{name} {text[:12]}\N{HORIZONTAL ELLIPSIS}" if len(text) > 40 else f"{name} {text}"
        for name, text in shown.items()
    )


def details_words(item: ItemView) -> Iterator[str]:
    """What is told below an item, whatever became of it."""
    if item.agreed and not item.answered:
        yield f"so far: {', '.join(item.agreed)}"
    if item.times_asked_again:
        yield f"asked again: {item.times_asked_again}"
    if item.made_due_by:
        yield f"made due by {', '.join(item.made_due_by)}"
    if item.values:
        yield quantities_words(item.values)
    if item.expected:
        yield f"expected {quantities_words(item.expected)}"
    yield from (one.words for one in item.corrections)
    for one in item.late:
        yield f'after the end: "{one.text}", {one.origin}entered late'
