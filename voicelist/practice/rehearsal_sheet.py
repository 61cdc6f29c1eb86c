"""A rehearsal as a sheet for the wall."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from statistics import median

from voicelist.practice.better import Addition, Better
from voicelist.practice.sheet import (
    NOT_TO_CONCLUDE,
    SheetPart,
    WallSheet,
    seconds_words,
)
from voicelist.practice.told import (
    DIFFERS,
    LEFT_ALONE,
    NOT_UNDERSTOOD,
    OTHERWISE,
    QUESTION,
    READ_BACK,
    TAKEN,
    UNHEARD,
    Exchange,
    ItemTimes,
    Phrase,
    RehearsalTold,
)
from voicelist.session.case import Case

_ANSWERS = {
    "said-done": "said",
    "said-fault": "reported",
    "value": "value said",
    "stated": "stated",
    "deferred": "left for later",
    "not-applicable": "does not apply",
    "": "open",
}
_OUTCOMES = {
    TAKEN: "taken",
    READ_BACK: "read back first",
    DIFFERS: "understood; it did not fit",
    QUESTION: "asked about",
    NOT_UNDERSTOOD: "asked again",
    LEFT_ALONE: "let pass as talk",
    OTHERWISE: "taken for another answer",
    UNHEARD: "not heard at all",
}
_TYPED = "Seconds are by the clock, with the time that typing took."
_TALKED = "Seconds are of talk: what the assistant spoke and what it listened to."


def rehearsal_sheet(
    case: Case,
    told: RehearsalTold,
    better: Sequence[Better],
    names: Mapping[str, str],
    played: frozenset[str],
    *,
    typed: bool,
    where: str,
) -> WallSheet:
    """`names` are the roles in words, `played` those of the partner, `where` its record. Where
    nobody but a partner types, seconds say nothing."""
    timed = not (typed and played >= set(names))
    return WallSheet(
        f"Rehearsal: {case.bundle.checklist.title}",
        tuple(_facts(told, names, played, where, timed=timed)),
        (
            _say(case, better, names),
            _add(case, better),
            _times(case, told, timed=timed),
            _slips(case, told.slips, names),
            _phrases(case, told.phrases(), names),
        ),
        notes=(*_clock(typed=typed, timed=timed), NOT_TO_CONCLUDE),
    )


def _clock(*, typed: bool, timed: bool) -> tuple[str, ...]:
    """What the seconds are, if there are any."""
    return (_TYPED if typed else _TALKED,) if timed else ()


def _facts(
    told: RehearsalTold,
    names: Mapping[str, str],
    played: frozenset[str],
    where: str,
    *,
    timed: bool,
) -> Iterator[tuple[str, str]]:
    answered = [one for one in told.items if one.answer]
    yield "the partner played", ", ".join(words for role, words in names.items() if role in played)
    ends = {"completed": "to its end", "": "broken off"}
    yield "held", ends.get(told.closed, "broken off; what was said so far is told")
    yield "items answered", f"{len(answered)} of {len(told.items)} that were called"
    if timed:
        yield "it took", seconds_words(told.seconds)
    if timed and answered:
        yield "half of the items took at most", seconds_words(median(i.seconds for i in answered))
    yield "record", where


def _say(case: Case, better: Sequence[Better], names: Mapping[str, str]) -> SheetPart:
    rows = tuple(
        (
            case.items[one.item].call,
            "; ".join(f"{phrase.said} ({names[phrase.role]})" for phrase in one.phrases),
            one.say or "nothing was understood",
        )
        for one in better
    )
    return SheetPart(
        "Say it like this",
        "What was not understood, and a wording that was.",
        ("call", "not understood", "say"),
        rows,
        "All that was said was understood.",
    )


def _add(case: Case, better: Sequence[Better]) -> SheetPart:
    rows = tuple(
        (
            case.items[one.item].name,
            addition.spoken,
            _tried(addition),
            "\n".join(addition.lines),
        )
        for one in better
        for addition in one.additions
    )
    return SheetPart(
        "What the list could permit besides",
        "For whoever keeps the list, to be judged and then tried with voicelist check. A wording "
        "is left out where it sounds like another answer.",
        ("item", "so that this is understood", "tried", "lines of the checklist"),
        rows,
        "Nothing to propose.",
    )


def _tried(addition: Addition) -> str:
    if not addition.tried:
        return "not by voice"
    understood = sum(one.understood for one in addition.tried)
    return f"{understood} of {len(addition.tried)} voices understood"


def _times(case: Case, told: RehearsalTold, *, timed: bool) -> SheetPart:
    rows = tuple(_row(case, one, timed=timed) for one in told.items)
    seconds = ("seconds",) if timed else ()
    columns = ("item", *seconds, "turns", "asked again", "answer")
    lead = "From the call to the answer. A turn is one thing that somebody said."
    figures = tuple(range(1, len(columns) - 1))
    return SheetPart("How long it took", lead, columns, rows, "Nothing was called.", figures)


def _row(case: Case, one: ItemTimes, *, timed: bool) -> tuple[str, ...]:
    seconds = (f"{one.seconds:.1f}",) if timed else ()
    answer = _ANSWERS.get(one.answer, one.answer)
    name = case.items[one.item].name
    return name, *seconds, str(one.turns), str(one.asked_again), answer


def _slips(case: Case, slips: Sequence[Exchange], names: Mapping[str, str]) -> SheetPart:
    rows = tuple(
        (
            case.items[one.item].name,
            one.slip,
            f"{one.said} ({names[one.role]})",
            _OUTCOMES[one.outcome],
        )
        for one in slips
        if one.item
    )
    return SheetPart(
        "Slips that the partner made on purpose",
        "None of them may count as an answer.",
        ("item", "kind", "said", "what became of it"),
        rows,
        "It made none.",
    )


def _phrases(case: Case, phrases: Sequence[Phrase], names: Mapping[str, str]) -> SheetPart:
    rows = tuple(
        (
            case.items[one.item].name,
            one.said,
            names.get(one.role, one.role),
            f"{one.understood} of {one.times}",
            "; ".join(one.heard_as) or ", ".join(_OUTCOMES[each] for each in one.outcomes),
        )
        for one in phrases
    )
    return SheetPart(
        "What was understood, by phrase and speaker",
        "Those understood least come first.",
        ("item", "said", "by", "understood", "heard as, or what became of it"),
        rows,
        "Nothing was said.",
        in_text=sum(one.understood < one.times for one in phrases),
    )
