"""What a sound amounts to that was heard more than once: a doubt may be dispelled, nothing else.

The sentences are our own; how many hearings must agree is a project choice, measured on orders in
noise (tests/benchmarks/orders.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.understanding.small_room import context, ranked
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding import voting
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
    understand,
)
from voicelist.understanding.room_words import Room
from voicelist.understanding.voting import Looks

# By what each is understood as when it is all that is heard; sentences best first, 0.1 apart.
FIRM = ("irrigation line firm",)
LOOSE = ("irrigation line loose",)
TORN = ("irrigation line firm", "irrigation line loose")
TORN_OTHERWISE = ("irrigation line loose", "irrigation line firm")
BESIDE_FIRM = ("irrigation line farm", "irrigation line firm")
NOTHING = ("irrigation line",)
DENIED = ("irrigation line isn't firm",)
TALK = ("good morning",)
TURNED = ("irrigation line firm", "irrigation line firm later")
LONG = ("lay out the tray with salt for eight people sitting down",)
LONG_TURNED = (*LONG, "later lay out the tray with salt for eight people sitting down")
TRAY = ("lay out a tray of salt for the list of this morning",)
TRAY_TORN = (*TRAY, "lay out a tray of almond oil for the list of this morning")
BESIDE_TRAY = ("lay out a tray of salt for the list of this morning tray", *TRAY)
NUMBER_TORN = (*LONG, "lay out the tray with salt for eighty people sitting down")
# While others talk:
AMID_FIRM = ("irrigation line on and firm",)
AMID_LOOSE = ("irrigation line leaking",)
HEARINGS = (
    *(FIRM, LOOSE, TORN, TORN_OTHERWISE, BESIDE_FIRM, NOTHING, DENIED, TALK, TURNED),
    *(AMID_FIRM, AMID_LOOSE),
)
SHORTER = ("count one", "count one two")
APART = {BESIDE_FIRM: 0.9, SHORTER: 1.0}


def settled(hearings: Iterable[Looks | None], where: Context) -> Understanding:
    """By the hearings alone: there is no witness."""
    return voting.settled(hearings, where, lambda *_: None)


def looks(sentences: tuple[str, ...]) -> Looks:
    told = ranked(sentences, APART.get(sentences, 0.1))
    return [replace(one, amid_talk=sentences in (AMID_FIRM, AMID_LOOSE)) for one in told], ()


def by_itself(sentences: tuple[str, ...]) -> Understanding:
    return understand(*looks(sentences), context())


def heard(*hearings: tuple[str, ...] | None, loud: bool = False) -> Understanding:
    told = [looks(one) if one is not None else None for one in hearings]
    if loud:
        best, second = looks(hearings[0] or ())
        told[0] = [replace(one, loud_around=True) for one in best], second
    return settled(told, context())


def test_the_hearings_are_what_they_are_taken_for() -> None:
    for sentences in (FIRM, LOOSE, TRAY, AMID_FIRM, AMID_LOOSE):
        assert isinstance(by_itself(sentences), Understood)
    torn = (TORN, TORN_OTHERWISE, TRAY_TORN, NUMBER_TORN)
    for sentences in (*torn, BESIDE_FIRM, BESIDE_TRAY, NOTHING, TURNED, LONG_TURNED):
        found = by_itself(sentences)
        assert isinstance(found, NotUnderstood)
        assert found.torn is (sentences in torn)
        assert found.turned is (sentences == TURNED)
    assert isinstance(by_itself(DENIED), Denied)
    assert isinstance(by_itself(TALK), NotForUs)


@pytest.mark.parametrize("plain", [FIRM, DENIED, TALK])
def test_what_is_plain_is_not_heard_again(plain: tuple[str, ...]) -> None:
    def hearings() -> Iterator[Looks]:
        yield looks(plain)
        raise AssertionError("it was heard again")

    assert settled(hearings(), context()) == by_itself(plain)


@pytest.mark.parametrize("doubt", [TORN, BESIDE_FIRM])
def test_one_hearing_more_dispels_a_doubt(doubt: tuple[str, ...]) -> None:
    def hearings() -> Iterator[Looks]:
        yield looks(doubt)
        yield looks(FIRM)
        raise AssertionError("it was heard a third time")

    found = settled(hearings(), context())
    assert isinstance(found, Understood)
    assert found.match.rule == "line.done"


@pytest.mark.parametrize(
    "hearings",
    [
        # The first found something else nearest: all are compared.
        (TORN, LOOSE, FIRM, FIRM),
        (TORN, LOOSE, NOTHING, NOTHING),
        (TORN_OTHERWISE, FIRM, TORN_OTHERWISE, TORN_OTHERWISE),
        # Only some, and none of those that were in doubt was torn between answers.
        (NOTHING, FIRM, NOTHING, NOTHING),
        (BESIDE_FIRM, BESIDE_FIRM, BESIDE_FIRM, FIRM),
        # All others were torn, but it is short.
        (TORN, TORN_OTHERWISE, TORN_OTHERWISE, FIRM),
        (TORN, TORN, TORN, FIRM),
        # A denial is no small thing.
        (TORN, DENIED, FIRM, FIRM),
        (NOTHING, FIRM, FIRM, DENIED),
        # Nor that it may have been denied, doubted or asked.
        (TURNED, FIRM, FIRM, FIRM),
        (NOTHING, FIRM, FIRM, TURNED),
        (TORN, TURNED, FIRM, FIRM),
        # As many found the one nearest as the other.
        (TORN_OTHERWISE, FIRM, TORN_OTHERWISE, FIRM),
    ],
)
def test_where_they_do_not_agree_the_doubt_stays(hearings: tuple[tuple[str, ...], ...]) -> None:
    assert heard(*hearings) == by_itself(hearings[0])


@pytest.mark.parametrize(
    "hearings",
    [
        (TORN_OTHERWISE, FIRM, FIRM, NOTHING),
        (NOTHING, FIRM, NOTHING, FIRM),
        (BESIDE_FIRM, BESIDE_FIRM, FIRM, FIRM),
        # Amid talk, twice.
        (AMID_FIRM, FIRM),
        (AMID_FIRM, NOTHING, FIRM, NOTHING),
        (AMID_FIRM, TORN_OTHERWISE, AMID_FIRM, TORN),
    ],
)
def test_what_several_agree_on_is_understood(hearings: tuple[tuple[str, ...], ...]) -> None:
    found = heard(*hearings)
    assert isinstance(found, Understood)
    assert found.match.rule == "line.done"


def test_a_long_answer_is_understood_once_where_all_others_were_torn() -> None:
    torn, otherwise = TRAY_TORN, TRAY_TORN[::-1]
    for hearings in ((torn, otherwise, otherwise, TRAY), (torn, torn, torn, TRAY)):
        found = heard(*hearings)
        assert isinstance(found, Understood)
        assert found.match.rule == "tray.value"
    assert isinstance(heard(torn, otherwise, BESIDE_TRAY, TRAY), NotUnderstood)


@pytest.mark.parametrize("hearings", [(NOTHING, NOTHING), (NOTHING, TALK)])
def test_what_twice_was_nothing_permitted_is_not_heard_again(
    hearings: tuple[tuple[str, ...], ...],
) -> None:
    def further() -> Iterator[Looks]:
        yield from map(looks, hearings)
        raise AssertionError("it was heard a third time")

    assert settled(further(), context()) == by_itself(NOTHING)


def test_where_four_agree_no_more_are_asked_for() -> None:
    def hearings() -> Iterator[Looks]:
        yield from map(looks, (NOTHING, FIRM, NOTHING, FIRM))
        raise AssertionError("it was heard a fifth time")

    assert isinstance(settled(hearings(), context()), Understood)


def test_where_four_do_not_agree_two_more_may_tell() -> None:
    four = (TORN_OTHERWISE, TORN_OTHERWISE, FIRM, FIRM)
    assert isinstance(heard(*four), NotUnderstood)
    assert isinstance(heard(*four, FIRM, TORN), Understood)
    assert isinstance(heard(*four, FIRM, LOOSE), NotUnderstood)
    assert isinstance(heard(*four, FIRM, TURNED), NotUnderstood)
    assert isinstance(heard(*four, None), NotUnderstood)


@pytest.mark.parametrize(
    "further",
    [
        (NOTHING, NOTHING, NOTHING),
        (TORN, TORN, TORN),
        (LOOSE, FIRM, FIRM),
        (TURNED, FIRM, FIRM),
        (TORN_OTHERWISE, TORN_OTHERWISE, FIRM),
        (DENIED, FIRM, FIRM),
        (None,),
    ],
)
def test_amid_talk_an_answer_that_is_heard_but_once_is_asked_for_again(
    further: tuple[tuple[str, ...] | None, ...],
) -> None:
    found = heard(AMID_FIRM, *further)
    assert isinstance(found, NotUnderstood)
    assert found.offers == AMID_FIRM


@pytest.mark.parametrize(
    ("hearings", "understood"),
    [
        ((FIRM,), False),
        ((FIRM, FIRM), False),
        ((FIRM, FIRM, FIRM, NOTHING), True),
        ((FIRM, FIRM, TORN, TORN), False),
        ((FIRM, FIRM, TORN, TORN, FIRM, TORN), True),
        ((FIRM, FIRM, FIRM, LOOSE), False),
        ((TORN, FIRM), False),
        ((TORN, FIRM, FIRM, FIRM), True),
        ((TORN, TORN, TORN, FIRM), False),
        ((AMID_FIRM, FIRM, NOTHING, NOTHING), False),
        ((AMID_FIRM, FIRM, FIRM, NOTHING), True),
    ],
)
def test_where_it_is_loud_an_answer_must_be_understood_three_times(
    hearings: tuple[tuple[str, ...], ...], understood: bool
) -> None:
    assert isinstance(heard(*hearings, loud=True), Understood) is understood


@pytest.mark.parametrize(
    ("hearings", "understood"),
    [
        # Two understood it.
        ((BESIDE_TRAY,) * 2 + (TRAY,) * 2 + (TRAY_TORN,) * 2, True),
        ((BESIDE_TRAY,) * 2 + (TRAY,) * 2 + (TRAY_TORN, NOTHING), False),
        # One did, and none was torn.
        ((BESIDE_TRAY,) * 3 + (TRAY,) + (BESIDE_TRAY,) * 2, True),
        ((BESIDE_TRAY,) * 3 + (TRAY,) + (TRAY_TORN,) * 2, False),
        ((BESIDE_TRAY,) * 6, False),
        ((BESIDE_TRAY,) * 3 + (TRAY,) + (BESIDE_TRAY,), False),
        # All others were torn.
        ((TRAY_TORN,) * 5 + (TRAY,), True),
        ((TRAY_TORN,) * 5, False),
        ((TRAY_TORN,) * 5 + (BESIDE_TRAY,), False),
        ((TRAY_TORN,) * 4 + (TRAY, NOTHING), False),
        ((TRAY_TORN,) * 4 + (TRAY, TRAY_TORN[::-1]), False),
        # A short one is not understood so.
        ((BESIDE_FIRM,) * 3 + (FIRM,) + (BESIDE_FIRM,) * 2, False),
        # Nor one with a number in it.
        ((NUMBER_TORN,) * 5 + (LONG,), False),
    ],
)
def test_where_it_is_loud_a_long_answer_that_all_six_found_nearest_is_understood(
    hearings: tuple[tuple[str, ...], ...], understood: bool
) -> None:
    assert isinstance(heard(*hearings, loud=True), Understood) is understood


def test_where_it_is_not_loud_all_six_may_have_been_torn_if_one_was_nearest_for_all() -> None:
    torn = (TRAY_TORN,) * 6
    assert isinstance(heard(*torn), Understood)
    assert isinstance(heard(*torn, loud=True), NotUnderstood)
    assert isinstance(heard(*torn[1:], TRAY_TORN[::-1]), NotUnderstood)
    for other in (TORN, NUMBER_TORN):
        assert isinstance(heard(*(other,) * 6), NotUnderstood)


def test_a_shorter_answer_must_be_heard_twice_where_a_longer_one_was_as_near() -> None:
    shorter, torn = ("count one",), SHORTER
    assert isinstance(by_itself(shorter), Understood)
    assert isinstance(by_itself(torn), NotUnderstood)
    assert isinstance(heard(torn, shorter, torn, torn), NotUnderstood)
    assert isinstance(heard(torn, shorter, shorter, torn), Understood)


def test_a_number_is_not_settled_where_a_longer_one_was_as_near() -> None:
    rules = RuleSet.from_texts(
        [("numbers", "#ABNF 1.0 UTF-8;\npublic $size = {number} (two {2} | two two {22});\n")]
    )
    grammar = Grammar({"size.value": parse_expansion("size $size", "size.value")}, rules)
    room = Context(grammar, frozenset({"size.value"}), Room.from_rules(rules))
    torn = ranked(("size two", "size two two"), 1.0), ()
    shorter, longer = (ranked((one,), 1.0) for one in ("size two", "size two two"))
    assert isinstance(settled([torn], room), NotUnderstood)
    doubtful = settled([torn, (shorter, ()), (shorter, ()), (shorter, ())], room)
    assert isinstance(doubtful, NotUnderstood)
    plain = settled([torn, (longer, ()), (longer, ()), (longer, ())], room)
    assert isinstance(plain, Understood)
    assert plain.match.values() == {"size": 22}


def test_nor_where_all_six_found_it_nearest() -> None:
    rules = RuleSet.from_texts(
        [("numbers", "#ABNF 1.0 UTF-8;\npublic $size = {number} (two {2} | two two {22});\n")]
    )
    node = parse_expansion("the size of it for this list is $size", "size.value")
    grammar = Grammar({"size.value": node}, rules)
    room = Context(grammar, frozenset({"size.value"}), Room.from_rules(rules))
    shorter = "the size of it for this list is two"
    torn, plain = ranked((shorter, f"{shorter} two"), 1.0), ranked((shorter,), 1.0)
    loud = [replace(one, loud_around=True) for one in torn]
    assert isinstance(settled([(one, ()) for one in (plain, torn)], room), Understood)
    hearings = (loud, plain, plain, torn, torn, torn)
    assert isinstance(settled([(one, ()) for one in hearings], room), NotUnderstood)


def test_a_long_sentence_that_may_have_been_turned_can_be_saved() -> None:
    found = heard(LONG_TURNED, LONG)
    assert isinstance(found, Understood)
    assert found.match.rule == "order.value"


def test_a_command_that_passes_nothing_can_be_saved() -> None:
    hold_on = ("hold on please", "not hold on please")
    hearings = [looks(hold_on), looks(hold_on[:1])]
    assert isinstance(settled(hearings, context()), NotUnderstood)
    harmless = replace(context(), harmless=frozenset({"command.hold_on"}))
    assert isinstance(settled(hearings, harmless), Understood)


@pytest.mark.parametrize("lost_at", [1, 2, 3])
def test_a_hearing_that_cannot_be_had_leaves_the_doubt(lost_at: int) -> None:
    hearings: list[tuple[str, ...] | None] = [TORN, TORN, FIRM, FIRM]
    hearings[lost_at:] = [None]
    assert heard(*hearings) == by_itself(TORN)


@given(st.lists(st.sampled_from(HEARINGS), min_size=1, max_size=6))
def test_nothing_is_understood_that_no_hearing_understood(hearings: list[tuple[str, ...]]) -> None:
    found = heard(*hearings)
    alone = [by_itself(one) for one in hearings]
    if not isinstance(found, Understood):
        assert found == alone[0] or hearings[0] in (AMID_FIRM, AMID_LOOSE)
    elif found != alone[0] and found != alone[1]:
        compared = alone if found != heard(*hearings[:4]) else alone[:4]
        assert not any(isinstance(one, Denied) for one in compared)
        rules = {one.match.rule for one in compared if isinstance(one, Understood)}
        assert rules == {found.match.rule}
