"""Practice with the pedal, and with settings, as a sheet for the wall."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from statistics import median

from voicelist.documents.embedded import Bundle
from voicelist.practice.quiz import AskedOnce, Score
from voicelist.practice.settings import SettingsQuestion, case_words, phases_asked
from voicelist.practice.sheet import (
    NO_PEOPLE,
    SheetPart,
    SheetPicture,
    WallSheet,
    seconds_words,
)

_MACHINES = (
    "Machines differ in what they sound like, in how wide a position is, and in the order with a "
    "cutter: the maker's instructions decide."
)
_NEVER_KNOWS = "The figures are the card's; what a machine delivers is never known here."


def pedal_sheet(
    score: Score, card: str, grade: tuple[str, float], pictures: Sequence[SheetPicture]
) -> WallSheet:
    """`pictures` are the travel of the pedal in each phase that was asked about."""
    facts = (("card", f"{card}, grade {grade[0]} {grade[1]:g}"), *_facts(score))
    parts = (_by_kind(score), _again(score), _all(score))
    return WallSheet(
        "Practice with the foot pedal",
        facts,
        parts,
        tuple(pictures),
        (_MACHINES, NO_PEOPLE),
    )


def settings_sheet(score: Score, bundle: Bundle) -> WallSheet:
    said = case_words(bundle)
    # Of a plan no eye and no lens hangs on a wall: they are read from the mark and from the box.
    case = f"grade {said['grade']}, card {bundle.card.id}"
    facts = (("case", case), *_facts(score))
    return WallSheet(
        "Practice with settings",
        facts,
        (_again(score), _all(score), _of_card(bundle)),
        (),
        (_NEVER_KNOWS, NO_PEOPLE),
    )


def _facts(score: Score) -> Iterator[tuple[str, str]]:
    asked = len(score.asked)
    whole = f"{asked} of {score.questions}: ended early" if score.ended_early else str(asked)
    yield "asked", whole
    yield "answered at the first try", f"{score.at_once} of {asked}"
    if score.later:
        yield "answered at the second try", str(score.later)
    first = [one.seconds[0] for one in score.asked if one.seconds]
    if first:
        yield "half of the answers came within", seconds_words(median(first))


def _by_kind(score: Score) -> SheetPart:
    kinds = dict.fromkeys(one.kind for one in score.asked)
    rows = []
    for kind in kinds:
        of_kind = [one for one in score.asked if one.kind == kind]
        first = [one.seconds[0] for one in of_kind if one.seconds]
        at_once = f"{sum(one.at_once for one in of_kind)} of {len(of_kind)}"
        rows.append((kind, at_once, f"{median(first):.1f}" if first else "-"))
    return SheetPart(
        "By kind of question",
        "Seconds: half of the first answers came within.",
        ("kind", "at the first try", "seconds"),
        tuple(rows),
        "Nothing was asked.",
        (2,),
    )


def _again(score: Score) -> SheetPart:
    rows = tuple(
        (
            one.text,
            "; then: ".join(one.answers) or "no answer that was understood",
            "\n".join(one.reasons) or "-",
        )
        for one in score.asked
        if not one.at_once
    )
    return SheetPart(
        "To look at again",
        "What was answered, and why it is otherwise, each reason with its source.",
        ("asked", "answered", "why"),
        rows,
        "All was answered at the first try." if score.asked else "Nothing was asked.",
    )


def _all(score: Score) -> SheetPart:
    rows = tuple((one.text, _ended(one), _seconds(one)) for one in score.asked)
    return SheetPart(
        "All questions",
        "Seconds from the end of the question to the answer.",
        ("asked", "answered", "seconds"),
        rows,
        "Nothing was asked.",
        (2,),
        in_text=0,
    )


def _ended(one: AskedOnce) -> str:
    if one.at_once:
        return "at the first try"
    return "at the second try" if one.right else "not yet"


def _seconds(one: AskedOnce) -> str:
    return ", ".join(f"{each:.1f}" for each in one.seconds) or "-"


def _of_card(bundle: Bundle) -> SheetPart:
    rows = []
    before: Mapping[str, Mapping[str, object]] = {}
    for phase in phases_asked(bundle):
        question = SettingsQuestion(bundle, phase, before)
        rows.append((question.about, "; ".join(question.of_card())))
    return SheetPart(
        "What the card has",
        "At the grade of this case.",
        ("phase", "settings"),
        tuple(rows),
        "The card has nothing at this grade.",
    )
