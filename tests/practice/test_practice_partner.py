"""The partner of a rehearsal. What may be said and what passes is decided by the case; that nothing
is passed by a slip is the design's rule (safety rule 1), of which the kinds are common practice, no
source."""

from __future__ import annotations

import pytest

from tests.team.room import Room, case_of
from voicelist.listening.typed import typed_words
from voicelist.practice.from_call import asked_for
from voicelist.practice.partner import (
    LISTED,
    OWN,
    SLIP,
    TRIES,
    TYPED,
    Before,
    Part,
    PartnerLine,
    items_for_slips,
    next_line,
    own_answer,
)
from voicelist.practice.slips import SLIPS, planned_slips, slip_line
from voicelist.practice.told import Happened, RehearsalTold, told_of
from voicelist.session.case import Case
from voicelist.session.events import Utterance, Voice
from voicelist.session.machine import context_of
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import understand
from voicelist.understanding.plain_speech import Amounts


def everyone(case: Case, slips: int = 0, seed: int = 1) -> Part:
    roles = frozenset(case.bundle.checklist.role_names)
    items = items_for_slips(case, Part(roles))
    return Part(roles, planned_slips(items, slips, seed), everyone=True)


def says(room: Room, line: PartnerLine) -> None:
    """A line as the typed one that it is, with its role."""
    words = typed_words(line.text, "en")
    context = context_of(room.case, room.state)
    strict = understand([Hypothesis(words)], (), context)
    found = room.case.natural.unless_permitted(strict, words, room.state.asked, context.active)
    room.take(Utterance(found, Voice("typed", line.role, "typed")))


def rehearsed(case: Case, part: Part) -> tuple[Room, RehearsalTold, tuple[PartnerLine, ...]]:
    """The partner plays its part to the end."""
    room, before = Room(case), Before()
    happened = [Happened(0.0, record=one) for one in room.records]
    while not room.state.closed:
        line, before = next_line(case, room.state, part, before)
        assert line is not None, room.state
        count = len(room.records)
        says(room, line)
        happened.append(Happened(0.0, line=line))
        happened += [Happened(0.0, record=one) for one in room.records[count:]]
    return room, told_of(case, happened), before.lines


@pytest.mark.parametrize("plan", ["practice-007", "practice-301"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_partner_of_all_roles_holds_a_list_to_its_end_and_no_slip_passes_anything(
    plan: str, seed: int
) -> None:
    case = case_of(plan)
    room, told, lines = rehearsed(case, everyone(case, 6, seed))
    assert room.state.closed == "completed"
    slips = [one for one in told.slips if one.item]
    assert len(slips) == 6
    assert {one.purpose for one in lines} >= {OWN, LISTED, SLIP}
    assert [one for one in slips if one.passed or not one.good] == []
    assert all(one.answer for one in told.items)


@pytest.mark.parametrize("plan", ["practice-007", "practice-201"])
def test_no_answer_in_the_words_of_a_call_reports_a_fault(plan: str) -> None:
    """What the partner makes of a call has to be the good state, or it is not made."""
    case = case_of(plan)
    made = {
        item_id: asked
        for item_id, item in case.items.items()
        if (asked := own_answer(case, item)) is not None
    }
    assert len(made) >= 9
    for item_id, asked in made.items():
        for text in (asked.whole, asked.with_is):
            words = tuple(text.split())
            about = case.natural.about(item_id)
            read = None if about is None else case.natural.answers.read(words, about)
            assert read is not Amounts.FAULT, text
            if f"{item_id}.fault" in case.grammar.names:
                assert not case.grammar.only(f"{item_id}.fault").parses(words), text


def test_a_surgeon_leaves_what_is_the_nurses_to_people() -> None:
    case = case_of("practice-007")
    part = Part(frozenset({"surgeon"}))
    line, before = next_line(case, Room(case).state, part, Before())
    assert line is None
    assert before == Before()


def test_what_was_never_understood_is_typed_once_and_then_left_to_people() -> None:
    case = case_of("practice-007")
    room, before, lines = Room(case), Before(), []
    for _ in range(TRIES + 2):
        line, before = next_line(case, room.state, everyone(case), before)
        lines.append(line)
    *spoken, last, nothing = lines
    assert {one.purpose for one in spoken if one is not None} == {OWN, LISTED}
    assert last is not None
    assert last.purpose == TYPED
    assert nothing is None


def test_a_read_back_is_agreed_to_after_an_answer_and_not_after_a_slip() -> None:
    case = case_of("practice-007")
    for purpose, agreed in ((OWN, True), (SLIP, False)):
        room = Room(case)
        answer = PartnerLine("circulating-nurse", "it is firm", purpose, "irrigation-line")
        says(room, answer)
        assert room.state.pending is not None
        line, _ = next_line(case, room.state, everyone(case), Before(lines=(answer,)))
        assert line is not None
        assert (line.text == "yes that is correct") is agreed


@pytest.mark.parametrize(
    ("call", "done", "fault", "said"),
    [
        # The words of the call in the order of the trade: thing, then state (common practice).
        ("Firm or loose: the line?", ["line firm"], [], "line firm"),
        ("Firm or loose: the line?", ["conduit patent"], ["line loose"], "line firm"),
        ("Some or none: allergies?", ["no allergies"], ["allergies known"], "no allergies"),
        ("Passed or not: tray?", ["tray passed"], [], "tray passed"),
        ("Out or in: gel at the tip?", ["gel out"], ["gel still in"], "gel at the tip out"),
    ],
)
def test_a_call_gives_the_good_state_by_what_the_item_takes(
    call: str, done: list[str], fault: list[str], said: str
) -> None:
    found = asked_for(call, done, fault)
    assert found is not None
    assert found.whole == said


@pytest.mark.parametrize(
    ("call", "done", "fault"),
    [
        ("Firm or loose: the irrigation line?", ["conduit patent"], ["conduit blocked"]),
        ("Which case number?", ["case number one"], []),
        ("Airway risk or none?", ["no airway risk"], ["airway risk"]),
    ],
)
def test_which_state_is_good_is_never_guessed(call: str, done: list[str], fault: list[str]) -> None:
    assert asked_for(call, done, fault) is None


def test_slips_are_spread_by_a_seed_and_each_kind_comes_before_one_comes_twice() -> None:
    items = [f"item-{number}" for number in range(20)]
    planned = planned_slips(items, len(SLIPS), 3)
    assert planned == planned_slips(items, len(SLIPS), 3)
    assert planned != planned_slips(items, len(SLIPS), 4)
    assert sorted(planned.values()) == sorted(SLIPS)
    assert len(planned_slips(items[:2], 9, 1)) == 2


def test_what_is_too_short_is_not_mangled() -> None:
    assert slip_line("cut off", "none") == ""
    assert slip_line("put off", "irrigation line firm") == "irrigation line firm later"
