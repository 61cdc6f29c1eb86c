"""What a sound amounts to that was heard more than once: a doubt may be dispelled, nothing else.

The sentences are our own; how many hearings must agree is a project choice, measured on orders in
noise (tests/benchmarks/studies/orders.py).
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
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
    interpreted,
    is_ambiguous,
    is_negated,
    understand,
)
from voicelist.understanding.policy import POLICY, Policy
from voicelist.understanding.room_words import Room
from voicelist.understanding.voting import is_doubtful, voted

# By what each is understood as when it is all that is heard; sentences best first, 0.1 apart.
FIRM = ("irrigation line firm",)
LOOSE = ("irrigation line loose",)
AMBIGUOUS = ("irrigation line firm", "irrigation line loose")
AMBIGUOUS_OTHERWISE = ("irrigation line loose", "irrigation line firm")
BESIDE_FIRM = ("irrigation line farm", "irrigation line firm")
NOTHING = ("irrigation line",)
DENIED = ("irrigation line isn't firm",)
TALK = ("good morning",)
NEGATED = ("irrigation line firm", "irrigation line firm later")
LONG = ("lay out the tray with salt for eight people sitting down",)
LONG_NEGATED = (*LONG, "later lay out the tray with salt for eight people sitting down")
TRAY = ("lay out a tray of salt for the list of this morning",)
TRAY_AMBIGUOUS = (*TRAY, "lay out a tray of almond oil for the list of this morning")
BESIDE_TRAY = ("lay out a tray of salt for the list of this morning tray", *TRAY)
NUMBER_AMBIGUOUS = (*LONG, "lay out the tray with salt for eighty people sitting down")
# While others talk:
AMID_FIRM = ("irrigation line on and firm",)
AMID_LOOSE = ("irrigation line leaking",)
HEARINGS = (
    *(FIRM, LOOSE, AMBIGUOUS, AMBIGUOUS_OTHERWISE, BESIDE_FIRM, NOTHING, DENIED, TALK, NEGATED),
    *(AMID_FIRM, AMID_LOOSE),
)
SHORTER = ("count one", "count one two")
APART = {BESIDE_FIRM: 0.9, SHORTER: 1.0}


def settled(
    decodings: Iterable[Passes | None], where: Context, policy: Policy = POLICY
) -> Understanding:
    """By what is decoded alone."""
    further = iter(decodings)
    first = next(further)
    assert first is not None
    decoded = [interpreted(first, where, policy)]
    if not is_doubtful(decoded[0]):
        return decoded[0].found
    return voted(decoded, further, where, policy)


def looks(sentences: tuple[str, ...]) -> Passes:
    told = ranked(sentences, APART.get(sentences, 0.1))
    amid_babble = sentences in (AMID_FIRM, AMID_LOOSE)
    return Passes(tuple(replace(one, amid_babble=amid_babble) for one in told))


def by_itself(sentences: tuple[str, ...]) -> Understanding:
    return understand(looks(sentences).first, (), context())


def heard(
    *decodings: tuple[str, ...] | None, low_snr: bool = False, policy: Policy = POLICY
) -> Understanding:
    told = [looks(one) if one is not None else None for one in decodings]
    if low_snr and told[0] is not None:
        told[0] = Passes(tuple(replace(one, low_snr=True) for one in told[0].first))
    return settled(told, context(), policy)


def test_the_hearings_are_what_they_are_taken_for() -> None:
    for sentences in (FIRM, LOOSE, TRAY, AMID_FIRM, AMID_LOOSE):
        assert isinstance(by_itself(sentences), Understood)
    ambiguous = (AMBIGUOUS, AMBIGUOUS_OTHERWISE, TRAY_AMBIGUOUS, NUMBER_AMBIGUOUS)
    for sentences in (*ambiguous, BESIDE_FIRM, BESIDE_TRAY, NOTHING, NEGATED, LONG_NEGATED):
        found = by_itself(sentences)
        assert isinstance(found, NotUnderstood)
        assert is_ambiguous(found) is (sentences in ambiguous)
        assert is_negated(found) is (sentences == NEGATED)
    assert isinstance(by_itself(DENIED), Denied)
    assert isinstance(by_itself(TALK), NotForUs)


@pytest.mark.parametrize("plain", [FIRM, DENIED, TALK])
def test_what_is_plain_is_not_heard_again(plain: tuple[str, ...]) -> None:
    def decodings() -> Iterator[Passes]:
        yield looks(plain)
        raise AssertionError("it was heard again")

    assert settled(decodings(), context()) == by_itself(plain)


@pytest.mark.parametrize("doubt", [AMBIGUOUS, BESIDE_FIRM])
def test_one_hearing_more_dispels_a_doubt(doubt: tuple[str, ...]) -> None:
    def decodings() -> Iterator[Passes]:
        yield looks(doubt)
        yield looks(FIRM)
        raise AssertionError("it was heard a third time")

    found = settled(decodings(), context())
    assert isinstance(found, Understood)
    assert found.match.rule == "line.done"


@pytest.mark.parametrize(
    "hearings",
    [
        # The first found something else nearest: all are compared.
        (AMBIGUOUS, LOOSE, FIRM, FIRM),
        (AMBIGUOUS, LOOSE, NOTHING, NOTHING),
        (AMBIGUOUS_OTHERWISE, FIRM, AMBIGUOUS_OTHERWISE, AMBIGUOUS_OTHERWISE),
        # Only some, and none of those that were in doubt was ambiguous between answers.
        (NOTHING, FIRM, NOTHING, NOTHING),
        (BESIDE_FIRM, BESIDE_FIRM, BESIDE_FIRM, FIRM),
        # All others were ambiguous, but it is short.
        (AMBIGUOUS, AMBIGUOUS_OTHERWISE, AMBIGUOUS_OTHERWISE, FIRM),
        (AMBIGUOUS, AMBIGUOUS, AMBIGUOUS, FIRM),
        # A denial is no small thing.
        (AMBIGUOUS, DENIED, FIRM, FIRM),
        (NOTHING, FIRM, FIRM, DENIED),
        # Nor that it may have been denied, doubted or asked.
        (NEGATED, FIRM, FIRM, FIRM),
        (NOTHING, FIRM, FIRM, NEGATED),
        (AMBIGUOUS, NEGATED, FIRM, FIRM),
        # As many found the one nearest as the other.
        (AMBIGUOUS_OTHERWISE, FIRM, AMBIGUOUS_OTHERWISE, FIRM),
    ],
)
def test_where_they_do_not_agree_the_doubt_stays(hearings: tuple[tuple[str, ...], ...]) -> None:
    assert heard(*hearings) == by_itself(hearings[0])


@pytest.mark.parametrize(
    "hearings",
    [
        (AMBIGUOUS_OTHERWISE, FIRM, FIRM, NOTHING),
        (NOTHING, FIRM, NOTHING, FIRM),
        (BESIDE_FIRM, BESIDE_FIRM, FIRM, FIRM),
        # Amid talk, twice.
        (AMID_FIRM, FIRM),
        (AMID_FIRM, NOTHING, FIRM, NOTHING),
        (AMID_FIRM, AMBIGUOUS_OTHERWISE, AMID_FIRM, AMBIGUOUS),
    ],
)
def test_what_several_agree_on_is_understood(hearings: tuple[tuple[str, ...], ...]) -> None:
    found = heard(*hearings)
    assert isinstance(found, Understood)
    assert found.match.rule == "line.done"


def test_a_long_answer_is_understood_once_where_all_others_were_ambiguous() -> None:
    ambiguous, otherwise = TRAY_AMBIGUOUS, TRAY_AMBIGUOUS[::-1]
    for hearings in (
        (ambiguous, otherwise, otherwise, TRAY),
        (ambiguous, ambiguous, ambiguous, TRAY),
    ):
        found = heard(*hearings)
        assert isinstance(found, Understood)
        assert found.match.rule == "tray.value"
    assert isinstance(heard(ambiguous, otherwise, BESIDE_TRAY, TRAY), NotUnderstood)


@pytest.mark.parametrize("hearings", [(NOTHING, NOTHING), (NOTHING, TALK)])
def test_what_twice_was_nothing_permitted_is_not_heard_again(
    hearings: tuple[tuple[str, ...], ...],
) -> None:
    def further() -> Iterator[Passes]:
        yield from map(looks, hearings)
        raise AssertionError("it was heard a third time")

    assert settled(further(), context()) == by_itself(NOTHING)


def test_where_four_agree_no_more_are_asked_for() -> None:
    def decodings() -> Iterator[Passes]:
        yield from map(looks, (NOTHING, FIRM, NOTHING, FIRM))
        raise AssertionError("it was heard a fifth time")

    assert isinstance(settled(decodings(), context()), Understood)


def test_where_four_do_not_agree_two_more_may_tell() -> None:
    four = (AMBIGUOUS_OTHERWISE, AMBIGUOUS_OTHERWISE, FIRM, FIRM)
    assert isinstance(heard(*four), NotUnderstood)
    assert isinstance(heard(*four, FIRM, AMBIGUOUS), Understood)
    assert isinstance(heard(*four, FIRM, LOOSE), NotUnderstood)
    assert isinstance(heard(*four, FIRM, NEGATED), NotUnderstood)
    assert isinstance(heard(*four, None), NotUnderstood)


@pytest.mark.parametrize(
    "further",
    [
        (NOTHING, NOTHING, NOTHING),
        (AMBIGUOUS, AMBIGUOUS, AMBIGUOUS),
        (LOOSE, FIRM, FIRM),
        (NEGATED, FIRM, FIRM),
        (AMBIGUOUS_OTHERWISE, AMBIGUOUS_OTHERWISE, FIRM),
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
        ((FIRM, FIRM, AMBIGUOUS, AMBIGUOUS), False),
        ((FIRM, FIRM, AMBIGUOUS, AMBIGUOUS, FIRM, AMBIGUOUS), True),
        ((FIRM, FIRM, FIRM, LOOSE), False),
        ((AMBIGUOUS, FIRM), False),
        ((AMBIGUOUS, FIRM, FIRM, FIRM), True),
        ((AMBIGUOUS, AMBIGUOUS, AMBIGUOUS, FIRM), False),
        ((AMID_FIRM, FIRM, NOTHING, NOTHING), False),
        ((AMID_FIRM, FIRM, FIRM, NOTHING), True),
    ],
)
def test_where_it_is_loud_an_answer_must_be_understood_three_times(
    hearings: tuple[tuple[str, ...], ...], understood: bool
) -> None:
    assert isinstance(heard(*hearings, low_snr=True), Understood) is understood


@pytest.mark.parametrize(
    ("hearings", "understood"),
    [
        # Two understood it.
        ((BESIDE_TRAY,) * 2 + (TRAY,) * 2 + (TRAY_AMBIGUOUS,) * 2, True),
        ((BESIDE_TRAY,) * 2 + (TRAY,) * 2 + (TRAY_AMBIGUOUS, NOTHING), False),
        # One did, and none was ambiguous.
        ((BESIDE_TRAY,) * 3 + (TRAY,) + (BESIDE_TRAY,) * 2, True),
        ((BESIDE_TRAY,) * 3 + (TRAY,) + (TRAY_AMBIGUOUS,) * 2, False),
        ((BESIDE_TRAY,) * 6, False),
        ((BESIDE_TRAY,) * 3 + (TRAY,) + (BESIDE_TRAY,), False),
        # All others were ambiguous.
        ((TRAY_AMBIGUOUS,) * 5 + (TRAY,), True),
        ((TRAY_AMBIGUOUS,) * 5, False),
        ((TRAY_AMBIGUOUS,) * 5 + (BESIDE_TRAY,), False),
        ((TRAY_AMBIGUOUS,) * 4 + (TRAY, NOTHING), False),
        ((TRAY_AMBIGUOUS,) * 4 + (TRAY, TRAY_AMBIGUOUS[::-1]), False),
        # A short one is not understood so.
        ((BESIDE_FIRM,) * 3 + (FIRM,) + (BESIDE_FIRM,) * 2, False),
        # Nor one with a number in it.
        ((NUMBER_AMBIGUOUS,) * 5 + (LONG,), False),
    ],
)
def test_where_it_is_loud_a_long_answer_that_all_six_found_nearest_is_understood(
    hearings: tuple[tuple[str, ...], ...], understood: bool
) -> None:
    assert isinstance(heard(*hearings, low_snr=True), Understood) is understood


@pytest.mark.parametrize(
    ("hearings", "low_snr"),
    [
        # All six found it nearest, two understood it.
        ((BESIDE_TRAY,) * 2 + (TRAY,) * 2 + (TRAY_AMBIGUOUS,) * 2, True),
        # All six were ambiguous.
        ((TRAY_AMBIGUOUS,) * 6, False),
        # One understood it, all others were ambiguous.
        ((TRAY_AMBIGUOUS[::-1], TRAY, TRAY_AMBIGUOUS, TRAY_AMBIGUOUS), False),
    ],
)
def test_a_sentence_of_as_many_words_as_the_limit_is_long(
    hearings: tuple[tuple[str, ...], ...], low_snr: bool
) -> None:
    words = len(TRAY[0].split())
    for limit, long in ((words, True), (words + 1, False)):
        found = heard(*hearings, low_snr=low_snr, policy=replace(POLICY, long_words=limit))
        assert isinstance(found, Understood) is long


def test_where_it_is_not_loud_all_six_may_have_been_torn_if_one_was_nearest_for_all() -> None:
    ambiguous = (TRAY_AMBIGUOUS,) * 6
    assert isinstance(heard(*ambiguous), Understood)
    assert isinstance(heard(*ambiguous, low_snr=True), NotUnderstood)
    assert isinstance(heard(*ambiguous[1:], TRAY_AMBIGUOUS[::-1]), NotUnderstood)
    for other in (AMBIGUOUS, NUMBER_AMBIGUOUS):
        assert isinstance(heard(*(other,) * 6), NotUnderstood)


def test_a_shorter_answer_must_be_heard_twice_where_a_longer_one_was_as_near() -> None:
    shorter, ambiguous = ("count one",), SHORTER
    assert isinstance(by_itself(shorter), Understood)
    assert isinstance(by_itself(ambiguous), NotUnderstood)
    assert isinstance(heard(ambiguous, shorter, ambiguous, ambiguous), NotUnderstood)
    assert isinstance(heard(ambiguous, shorter, shorter, ambiguous), Understood)


def test_a_number_is_not_settled_where_a_longer_one_was_as_near() -> None:
    rules = RuleSet.from_texts(
        [("numbers", "#ABNF 1.0 UTF-8;\npublic $size = {number} (two {2} | two two {22});\n")]
    )
    grammar = Grammar({"size.value": parse_expansion("size $size", "size.value")}, rules)
    room = Context(grammar, frozenset({"size.value"}), Room.from_rules(rules))
    ambiguous = Passes(ranked(("size two", "size two two"), 1.0))
    shorter, longer = (Passes(ranked((one,), 1.0)) for one in ("size two", "size two two"))
    assert isinstance(settled([ambiguous], room), NotUnderstood)
    doubtful = settled([ambiguous, shorter, shorter, shorter], room)
    assert isinstance(doubtful, NotUnderstood)
    plain = settled([ambiguous, longer, longer, longer], room)
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
    ambiguous, plain = ranked((shorter, f"{shorter} two"), 1.0), ranked((shorter,), 1.0)
    loud = [replace(one, low_snr=True) for one in ambiguous]
    assert isinstance(settled([Passes(tuple(one)) for one in (plain, ambiguous)], room), Understood)
    hearings = (loud, plain, plain, ambiguous, ambiguous, ambiguous)
    assert isinstance(settled([Passes(tuple(one)) for one in hearings], room), NotUnderstood)


def test_a_long_sentence_that_may_have_been_negated_can_be_saved() -> None:
    found = heard(LONG_NEGATED, LONG)
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
    hearings: list[tuple[str, ...] | None] = [AMBIGUOUS, AMBIGUOUS, FIRM, FIRM]
    hearings[lost_at:] = [None]
    assert heard(*hearings) == by_itself(AMBIGUOUS)


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
