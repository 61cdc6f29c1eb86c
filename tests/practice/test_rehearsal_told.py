"""What a rehearsal tells. The records are invented; seconds and turns are reckoned by hand."""

from __future__ import annotations

import pytest

from tests.team.room import case_of
from voicelist.practice.partner import LISTED, OWN, SLIP, PartnerLine
from voicelist.practice.rehearsal_sheet import rehearsal_sheet
from voicelist.practice.text import as_text
from voicelist.practice.told import (
    DIFFERS,
    LEFT_ALONE,
    NOT_UNDERSTOOD,
    OTHERWISE,
    QUESTION,
    READ_BACK,
    TAKEN,
    UNHEARD,
    Happened,
    told_of,
)
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, AskedAgain, Called, Closed, Heard, ReadBack

NURSE, LINE = "circulating-nurse", "irrigation-line"
NAMES = {NURSE: "nurse", "surgeon": "surgeon"}


def of(*steps: tuple[float, PartnerLine | Record]) -> list[Happened]:
    return [
        Happened(at_s, line=one) if isinstance(one, PartnerLine) else Happened(at_s, record=one)
        for at_s, one in steps
    ]


def heard(status: str, words: str = "", rule: str = "") -> Heard:
    return Heard("voice", status, words, rule)


def test_an_item_takes_from_its_call_to_its_answer_with_its_turns() -> None:
    told = told_of(
        case_of("practice-007"),
        of(
            (1.0, Called(LINE, "Firm or loose?")),
            (3.0, heard("not-for-us")),
            (5.0, heard("not-understood", "line good")),
            (5.5, AskedAgain(LINE, 1, "", "Firm or loose?")),
            (8.0, heard("understood", "irrigation line firm", f"{LINE}.done")),
            (8.25, Answered(LINE, "said-done", "irrigation line firm", NURSE)),
            (9.0, Closed("stopped")),
        ),
    )
    (item,) = told.items
    assert (item.seconds, item.turns, item.asked_again, item.answer) == (7.25, 2, 1, "said-done")
    assert (told.seconds, told.closed) == (9.0, "stopped")


@pytest.mark.parametrize(
    ("purpose", "after", "outcome", "good"),
    [
        (OWN, [heard("understood"), Answered(LINE, "said-done", "")], TAKEN, True),
        (OWN, [heard("understood"), ReadBack(LINE, "short-answer", "")], READ_BACK, True),
        (OWN, [heard("not-understood"), AskedAgain(LINE, 1, "", "")], NOT_UNDERSTOOD, False),
        (OWN, [heard("understood"), ReadBack(LINE, "mismatch", "")], DIFFERS, True),
        (OWN, [heard("not-understood"), ReadBack(LINE, "negation", "")], QUESTION, False),
        (OWN, [heard("not-for-us")], LEFT_ALONE, False),
        (OWN, [], UNHEARD, False),
        (OWN, [heard("understood"), Answered(LINE, "said-fault", "")], OTHERWISE, False),
        (LISTED, [heard("understood"), Answered("tip", "said-done", "")], OTHERWISE, False),
        (SLIP, [heard("understood"), Answered(LINE, "said-done", "")], OTHERWISE, False),
        (SLIP, [heard("not-understood"), AskedAgain(LINE, 1, "", "")], NOT_UNDERSTOOD, True),
        (SLIP, [heard("not-for-us")], LEFT_ALONE, True),
    ],
)
def test_what_became_of_a_line(purpose: str, after: list[Record], outcome: str, good: bool) -> None:
    line = PartnerLine(
        NURSE, "the line is firm", purpose, LINE, "put off" if purpose == SLIP else ""
    )
    steps: list[tuple[float, PartnerLine | Record]] = [(0.0, Called(LINE, "")), (1.0, line)]
    told = told_of(case_of("practice-007"), of(*steps, *((2.0, one) for one in after)))
    (exchange,) = told.exchanges
    assert (exchange.outcome, exchange.good) == (outcome, good)
    assert exchange.said == "the line is firm"


def test_a_phrase_is_counted_by_speaker_with_what_was_heard_in_its_place() -> None:
    line = PartnerLine(NURSE, "irrigation line firm", LISTED, LINE)
    told = told_of(
        case_of("practice-007"),
        of(
            (0.0, Called(LINE, "")),
            (1.0, line),
            (2.0, heard("not-understood", "irritation line firm")),
            (2.0, AskedAgain(LINE, 1, "", "")),
            (3.0, line),
            (4.0, heard("understood", "irrigation line firm")),
            (4.0, Answered(LINE, "said-done", "")),
        ),
    )
    (phrase,) = told.phrases()
    assert (phrase.role, phrase.times, phrase.understood) == (NURSE, 2, 1)
    assert phrase.heard_as == ("irritation line firm",)


def test_text_has_no_line_beyond_eighty_columns_and_names_roles_alone() -> None:
    case = case_of("practice-007")
    line = PartnerLine(NURSE, "the irrigation line is firm " * 6, OWN, LINE)
    told = told_of(
        case,
        of((0.0, Called(LINE, "")), (1.0, line), (2.0, heard("not-understood", "line " * 40))),
    )
    sheet = rehearsal_sheet(case, told, (), NAMES, frozenset({NURSE}), typed=False, where="r-1")
    lines = as_text(sheet).splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("PRACTICE")
    assert "held: broken off" in lines
    assert any("not a medical" in one for one in lines)
