"""The second look at the same sound: it may veto an answer and never make one."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.understanding.small_room import PHRASES, RULES, context, heard, ranked
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import UNKNOWN, Grammar
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Understood,
    understand,
)
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.policy import POLICY


@pytest.mark.parametrize(
    "nearer",
    [
        "bottle full later",
        "is bottle full",
        "almost bottle full",
        "bottle fool",
        "irrigation line firm",
        "bottle",
    ],
)
def test_the_second_look_may_veto(nearer: str) -> None:
    result = heard("bottle full", second_pass=(nearer, "bottle full"))
    assert isinstance(result, NotUnderstood)
    assert f"'{nearer}'" in result.why
    assert result.words == ("bottle", "full")
    assert result.offers == ("bottle full",)


def test_a_denial_that_the_second_look_finds_nearest_is_taken_up() -> None:
    result = heard("bottle full", second_pass=("bottle not full", "bottle full"))
    assert isinstance(result, Denied)
    assert result.rule == "bottle.done"
    behind = heard("bottle full", second_pass=("bottle full", "bottle not full"), apart=0.5)
    assert isinstance(behind, NotUnderstood)


def test_a_denial_that_is_the_answer_must_be_heard_in_both_looks() -> None:
    said, other = "no known allergies", "good known allergies"
    assert isinstance(heard(said, second_pass=(said,)), Understood)
    near = heard(said, second_pass=(said, other), apart=POLICY.clear - 0.1)
    assert isinstance(near, NotUnderstood)
    far = heard(said, second_pass=(said, other), apart=POLICY.clear + 0.1)
    assert isinstance(far, Understood)


def test_an_answer_that_the_second_look_does_not_hold_at_all_is_vetoed() -> None:
    result = heard("bottle full", second_pass=("bottle fool", "battle full"), apart=0.1)
    assert isinstance(result, NotUnderstood)


def test_the_second_look_may_find_the_answer_a_little_behind() -> None:
    near, far = POLICY.close_alike - 0.1, POLICY.close_alike + 0.1
    look = ("bottle fool", "bottle full")
    assert isinstance(heard("bottle full", second_pass=look, apart=near), Understood)
    assert isinstance(heard("bottle full", second_pass=look, apart=far), NotUnderstood)


@pytest.mark.parametrize(
    "turned", ["bottle not full", "bottle full later", "is bottle full", "almost bottle full"]
)
def test_a_denial_doubt_or_question_vetoes_even_from_behind(turned: str) -> None:
    near, far = POLICY.clear - 0.1, POLICY.clear + 0.1
    for look in ((turned, "bottle full"), ("bottle full", turned)):
        assert not isinstance(heard("bottle full", second_pass=look, apart=near), Understood)
    behind = ("bottle full", turned)
    assert isinstance(heard("bottle full", second_pass=behind, apart=far), Understood)


def test_a_denial_that_does_not_hold_what_was_said_is_only_strange() -> None:
    look = ("not full later", "bottle full")
    assert isinstance(heard("bottle full", second_pass=look, apart=0.9), Understood)
    assert isinstance(heard("bottle full", second_pass=look, apart=1.1), NotUnderstood)


@pytest.mark.parametrize("second_look", [(), ("bottle full",), ("bottle full", "bottle not full")])
def test_a_second_look_that_agrees_changes_nothing(second_look: tuple[str, ...]) -> None:
    assert isinstance(heard("bottle full", second_pass=second_look), Understood)


def test_the_same_answer_in_other_words_is_no_veto() -> None:
    look = ("pulses one", "pulses two")
    assert isinstance(heard("pulses at one", second_pass=look), Understood)
    assert isinstance(heard("pulses at two", second_pass=look), NotUnderstood)


@given(st.sampled_from(sorted(PHRASES)), st.data())
def test_a_turn_put_anywhere_into_the_sentence_is_always_a_veto(
    name: str, data: st.DataObject
) -> None:
    room = context().room
    sentence = data.draw(st.sampled_from(context().grammar.examples(name))).split()
    turns = sorted((room.negations | room.doubts).difference(sentence))
    at = data.draw(st.integers(0, len(sentence)))
    turned = [*sentence[:at], data.draw(st.sampled_from(turns)), *sentence[at:]]
    result = heard(" ".join(sentence), second_pass=(" ".join(turned), " ".join(sentence)))
    assert not isinstance(result, Understood)


def test_against_a_command_only_denials_doubts_and_questions_count() -> None:
    said = "hold on please"
    assert isinstance(heard(said, second_pass=("bottle on please", said)), Understood)
    assert isinstance(heard(said, second_pass=("not hold on please", said)), NotUnderstood)
    assert isinstance(heard(said, second_pass=("did hold on please", said)), NotUnderstood)


def test_an_unlikely_number_in_the_second_look_is_no_veto() -> None:
    look = ("pressure eight", "pressure eighty")
    assert isinstance(heard("pressure eighty", second_pass=look, apart=2.0), Understood)
    look = ("pressure fifty", "pressure eighty")
    assert isinstance(heard("pressure eighty", second_pass=look, apart=2.0), NotUnderstood)


def test_a_part_of_a_number_that_leaves_none_in_the_second_look_says_little() -> None:
    said, near, far = (
        "pressure one twenty five",
        POLICY.slack_small - 0.1,
        POLICY.slack_small + 0.1,
    )
    look = ("pressure one eye five", said)
    assert isinstance(heard(said, second_pass=look, apart=near), Understood)
    assert isinstance(heard(said, second_pass=look, apart=far), NotUnderstood)


def test_another_word_in_place_of_a_whole_number_says_much() -> None:
    look = ("pressure good", "pressure eighty")
    near, far = POLICY.close_alike - 0.1, POLICY.close_alike + 0.1
    assert isinstance(heard("pressure eighty", second_pass=look, apart=near), Understood)
    assert isinstance(heard("pressure eighty", second_pass=look, apart=far), NotUnderstood)


def test_what_says_the_same_in_words_that_are_not_permitted_is_no_veto() -> None:
    look = ("irrigation line and the firm", "bottle")
    assert isinstance(heard("irrigation line firm", second_pass=look), Understood)


def test_of_a_long_sentence_a_denial_a_little_nearer_is_outweighed_by_a_sure_first_look() -> None:
    said = "pressure one twenty five pulses at two"
    turned = said.replace("one", "not one")
    second = ranked((turned, said), POLICY.close_alike - 0.1)
    enough = POLICY.clear + POLICY.close_alike
    for apart, taken in ((enough, True), (enough - 0.3, False)):
        first = ranked((said, turned), apart)
        assert isinstance(understand(first, second, context()), Understood) is taken
    second = ranked((turned, said), POLICY.close_alike + 0.1)
    assert isinstance(understand(ranked((said,), 1.0), second, context()), NotUnderstood)
    behind = ranked((said, turned), POLICY.tie + 0.1)
    assert isinstance(understand(ranked((said, turned), 0.5), behind, context()), Understood)


def test_the_second_look_never_makes_an_answer() -> None:
    assert isinstance(heard("good morning", second_pass=("bottle full",)), NotForUs)
    assert isinstance(heard("bottle fool", second_pass=("bottle full",)), NotUnderstood)


# What it listens for


def test_beside_an_answer_of_one_word_the_first_look_has_none_of_the_rooms_words() -> None:
    ours = context("digit.value")
    hearing = hearing_grammar(ours.grammar, ours.room, roots=("digit.value",))
    assert hearing.phrase_list() == ("eight", "six", UNKNOWN)
    assert set(ours.room.fillers).issubset(hearing.second_phrase_list())


def test_each_answer_stands_beside_what_makes_it_none() -> None:
    ours = context("bottle.done")
    hearing = hearing_grammar(ours.grammar, ours.room, roots=("bottle.done",))
    assert hearing.phrase_list()[0] == "bottle full"
    assert hearing.phrase_list()[-1] == UNKNOWN
    beside = set(hearing.second_phrase_list()).difference(hearing.phrase_list())
    assert beside == {
        "if bottle full",
        "is the bottle full",
        "bottle not full",
        "bottle will be full",
        "bottle should be full",
        "bottle full later",
        "bottle full in a minute",
    }
    assert set(hearing.phrase_list()) <= set(hearing.second_phrase_list())


def test_a_sentence_that_is_a_denial_itself_is_not_denied_once_more() -> None:
    ours = context()
    grammar = Grammar({"line.fault": parse_expansion("line not firm", "here")}, RULES)
    listed = hearing_grammar(grammar, ours.room).second_phrase_list()
    assert "line not firm later" in listed
    assert not any("not not" in one or "not be" in one for one in listed)


def test_what_is_plain_stands_without_its_denials() -> None:
    ours = context()
    roots = ("bottle.done", "command.hold_on")
    hearing = hearing_grammar(
        ours.grammar, ours.room, roots=roots, plain=lambda name: name.startswith("command.")
    )
    listed = hearing.second_phrase_list()
    assert "bottle not full" in listed
    assert not any("hold" in one and one != "hold on please" for one in listed)


def test_only_words_that_the_model_knows_are_listened_for() -> None:
    ours = context()
    known = frozenset({"bottle", "full", "not", "later", "if"})
    hearing = hearing_grammar(ours.grammar, ours.room, known)
    listed = {word for one in hearing.second_phrase_list() for word in one.split()}
    assert listed == known | {UNKNOWN}
    assert "bottle not full" in hearing.second_phrase_list()


def test_without_a_room_there_is_no_second_look() -> None:
    assert hearing_grammar(context().grammar).second_phrase_list() == ()


def test_what_passes_nothing_is_not_kept_from_it() -> None:
    ours = context()
    free = dataclasses.replace(ours, harmless=frozenset({"command.hold_on"}))
    said, look = (
        [Hypothesis(("hold", "on", "please"))],
        [Hypothesis(("is", "hold", "on", "please"))],
    )
    assert isinstance(understand(said, look, ours), NotUnderstood)
    assert isinstance(understand(said, look, free), Understood)
    bottle, look = [Hypothesis(("bottle", "full"))], [Hypothesis(("bottle", "not", "full"))]
    assert isinstance(understand(bottle, look, free), Denied)
