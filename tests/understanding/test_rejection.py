"""How readings of the same sound are weighed against each other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.understanding.small_room import context, heard, ranked
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.context import Context
from voicelist.understanding.interpretation import (
    Denied,
    NotUnderstood,
    Understood,
    understand,
)
from voicelist.understanding.policy import POLICY
from voicelist.understanding.room_words import Room


def test_a_lower_ranked_sentence_is_taken_if_the_better_ones_mean_the_same() -> None:
    result = heard("the bottle is full", "bottle full please", "bottle full")
    assert isinstance(result, Understood)
    assert result.words == ("bottle", "full")


@pytest.mark.parametrize(
    "better",
    ["bottle full later", "bottle fool", "bottle [unk] full", "irrigation line"],
)
def test_a_better_ranked_sentence_with_another_meaning_stands_in_the_way(better: str) -> None:
    result = heard(better, "bottle full")
    assert isinstance(result, NotUnderstood)
    assert result.words == tuple(better.split())
    assert "nearer" in result.why


def test_a_worse_ranked_sentence_changes_nothing() -> None:
    result = heard("bottle full", "bottle not full", "irrigation line loose")
    assert isinstance(result, Understood)
    assert result.match.rule == "bottle.done"


def test_two_answers_that_are_about_as_near_are_both_offered() -> None:
    result = heard("bottle full", "irrigation line loose", apart=POLICY.close - 0.1)
    assert isinstance(result, NotUnderstood)
    assert result.offers == ("bottle full", "irrigation line loose")
    assert isinstance(
        heard("bottle full", "irrigation line loose", apart=POLICY.close + 0.1), Understood
    )


def test_a_denial_that_is_nearer_is_taken_up() -> None:
    result = heard("bottle not full", "bottle full")
    assert isinstance(result, Denied)
    assert result.rule == "bottle.done"


def test_a_denial_that_is_hardly_less_near_stands_in_the_way() -> None:
    assert isinstance(heard("bottle full", "bottle not full", apart=0.2), NotUnderstood)
    assert isinstance(heard("bottle full", "is bottle full", apart=0.2), NotUnderstood)
    assert isinstance(heard("bottle full", "bottle fool", apart=0.2), Understood)


def test_an_answer_hardly_less_near_than_something_strange_is_taken() -> None:
    assert isinstance(heard("bottle fool", "bottle full", apart=POLICY.tie - 0.1), Understood)
    assert isinstance(heard("bottle fool", "bottle full", apart=POLICY.tie + 0.1), NotUnderstood)
    assert isinstance(heard("bottle not full", "bottle full", apart=0.0), NotUnderstood)


def test_the_words_of_an_answer_in_another_order_say_little_against_it() -> None:
    assert isinstance(
        heard("full bottle", "bottle full", apart=POLICY.slack_misplaced - 0.1), Understood
    )
    assert isinstance(
        heard("full bottle", "bottle full", apart=POLICY.slack_misplaced + 0.1), NotUnderstood
    )


def test_words_of_other_answers_alone_are_another_sentence() -> None:
    assert POLICY.tie > 0.0
    for other in ("irrigation line consent", "model eye"):
        assert isinstance(heard(other, "bottle full", apart=0.1), NotUnderstood)
        assert isinstance(heard("bottle full", other, apart=0.1), Understood)
    lacks_most = heard("allergies model", "no known allergies", apart=POLICY.tie + 0.1)
    assert isinstance(lacks_most, NotUnderstood)


def test_other_words_in_a_number_that_leave_no_number_say_little_against_it() -> None:
    left, said = "pressure one eye five", "pressure one twenty five"
    assert isinstance(heard(left, said, apart=POLICY.slack_small - 0.1), Understood)
    assert isinstance(heard(left, said, apart=POLICY.slack_small + 0.1), NotUnderstood)


def test_other_words_in_place_of_the_whole_number_say_much() -> None:
    assert isinstance(heard("pressure good", "pressure fifty", apart=1.0), NotUnderstood)


def test_one_or_two_other_words_in_a_long_sentence_say_little() -> None:
    said = "pressure one twenty five pulses at two"
    other = said.replace("pulses", "pencils")
    assert isinstance(heard(other, said, apart=POLICY.slack_small - 0.1), Understood)
    assert isinstance(heard(other, said, apart=POLICY.slack_small + 0.1), NotUnderstood)
    assert isinstance(heard(other.replace("one", "what"), said, apart=1.0), NotUnderstood)


@pytest.mark.parametrize(("words", "found"), [(7, Understood), (8, NotUnderstood)])
def test_a_sentence_of_as_many_words_as_the_limit_is_long(words: int, found: type) -> None:
    said = "pressure one twenty five pulses at two"
    assert len(said.split()) == 7
    looks = ranked((said.replace("pulses", "pencils"), said), POLICY.slack_small - 0.1)
    told = understand(looks, (), context(), replace(POLICY, long_words=words))
    assert isinstance(told, found)


def test_a_denial_in_place_of_its_last_word_says_much_against_a_long_one() -> None:
    said = "pressure one twenty five pulses at two"
    for last, found in (("tune", Understood), ("no", NotUnderstood)):
        other = f"pressure one twenty five pulses at {last}"
        assert isinstance(heard(other, said, apart=POLICY.tie + 0.1), found)
    inside = said.replace("pulses", "not")
    assert isinstance(heard(inside, said, apart=POLICY.slack_small - 0.1), Understood)


def test_the_beginning_alone_must_not_be_much_nearer() -> None:
    """Half a sentence is bent to a whole one."""
    assert POLICY.close_alike < POLICY.slack_misplaced
    half, said = "marked eye", "marked eye right"
    assert isinstance(heard(half, said, apart=POLICY.close_alike - 0.1), Understood)
    assert isinstance(heard(half, said, apart=POLICY.close_alike + 0.1), NotUnderstood)


def test_a_rival_with_words_more_must_be_farther_than_one_with_words_less() -> None:
    fuller, shorter = "count one two", "count one"
    assert isinstance(heard(fuller, shorter, apart=0.1), Understood)
    assert isinstance(heard(shorter, fuller, apart=POLICY.lost - 0.1), NotUnderstood)
    assert isinstance(heard(shorter, fuller, apart=POLICY.lost + 0.1), Understood)


def test_sentences_that_differ_in_how_something_is_asked_for_are_no_rivals() -> None:
    assert isinstance(heard("give me tea", "get me tea", apart=0.1), Understood)
    assert isinstance(heard("give me tea", "get me milk", apart=0.1), NotUnderstood)


def test_of_two_as_near_as_that_the_fuller_is_meant() -> None:
    result = heard("count one", "count one two", apart=POLICY.close - 0.1)
    assert isinstance(result, Understood)
    assert result.words == ("count", "one", "two")


def test_a_teen_and_its_ten_are_told_apart_by_more() -> None:
    near, far = POLICY.close_alike - 0.1, POLICY.close_alike + 0.1
    assert near > POLICY.close
    assert isinstance(heard("pressure fifty", "pressure fifteen", apart=near), NotUnderstood)
    assert isinstance(heard("pressure fifty", "pressure fifteen", apart=far), Understood)
    assert isinstance(heard("pressure fifty", "pressure eighty", apart=near), Understood)


def test_answers_of_one_word_are_told_apart_by_much_more() -> None:
    near, far = POLICY.slack_small - 0.1, POLICY.slack_small + 0.1
    only = ("digit.value",)
    assert isinstance(heard("six", "eight", apart=near, active=only), NotUnderstood)
    assert isinstance(heard("six", "eight", apart=far, active=only), Understood)


def test_another_word_of_the_room_says_less_against_an_answer_of_one_word() -> None:
    only = ("digit.value",)
    assert isinstance(heard("good", "six", apart=POLICY.slack_small - 0.1, active=only), Understood)
    assert isinstance(
        heard("good", "six", apart=POLICY.slack_small + 0.1, active=only), NotUnderstood
    )
    assert isinstance(heard("good morning", "six", apart=1.0, active=only), NotUnderstood)


def test_a_word_said_twice_and_heard_once_does_not_stand_in_the_way() -> None:
    assert isinstance(heard("count one", "count one one", apart=3.0), Understood)


def test_words_with_which_something_is_asked_for_may_be_lost() -> None:
    assert isinstance(heard("tea", "get me tea", apart=2.0), Understood)
    assert isinstance(heard("get bottle full", "bottle full", apart=0.1), NotUnderstood)


def test_a_word_with_which_something_is_asked_for_makes_no_question() -> None:
    rules = ("negations = not", "questions = can | is", "asking = can | get")
    room = Room.from_rules(
        RuleSet.from_texts(
            [("room", "#ABNF 1.0 UTF-8;\n" + "".join(f"public ${one};\n" for one in rules))]
        )
    )
    said = ("get", "tea")
    assert room.turns(("can", *said), said) == ()
    assert room.turns(("is", *said), said) == ("is",)
    assert room.turns(("not", *said), said) == ("not",)
    assert room.turns(("can", "tea", "be", "full"), ("tea", "full")) == ("can",)
    assert room.turns((), said) == ()


def test_a_word_more_at_an_edge_stands_in_the_way_unless_the_answer_is_as_near() -> None:
    for other in ("get bottle full", "bottle full there"):
        assert isinstance(heard("bottle full", other), Understood)
        assert isinstance(heard(other, "bottle full", apart=0.1), NotUnderstood)


def test_of_two_numbers_that_sound_alike_the_likely_one_was_said() -> None:
    result = heard("pressure eight", "pressure eighty", apart=POLICY.unlikely - POLICY.close - 0.1)
    assert isinstance(result, Understood)
    assert result.match.values() == {"amount": 80}


def test_an_unlikely_teen_is_told_apart_from_its_ten_as_any_two_are() -> None:
    """That it is unlikely has been counted already."""
    rules = RuleSet.from_texts(
        [
            (
                "rules",
                "#ABNF 1.0 UTF-8;\n"
                "public $dose = {infusion_mmHg} {likely 20 to 150} dose $many;\n"
                "public $many = {number} (fifty {50} | fifteen {15});\n",
            )
        ]
    )
    grammar = Grammar({"dose.value": parse_expansion("$dose", "dose")}, rules)
    doses = Context(grammar, frozenset({"dose.value"}), Room.from_rules(rules))
    apart = POLICY.unlikely - (POLICY.close + POLICY.close_alike) / 2
    found = understand(ranked(("dose fifteen", "dose fifty"), apart), (), doses)
    assert isinstance(found, Understood)
    assert found.match.values() == {"many": 50}


def test_an_unlikely_number_may_be_said() -> None:
    result = heard("pressure eight", "pressure eighty", apart=POLICY.unlikely + POLICY.close + 0.1)
    assert isinstance(result, Understood)
    assert result.match.values() == {"amount": 8}
    assert isinstance(heard("pressure eight"), Understood)


def test_between_a_likely_and_a_nearer_unlikely_number_it_is_asked_again() -> None:
    result = heard("pressure eight", "pressure eighty", apart=POLICY.unlikely)
    assert isinstance(result, NotUnderstood)
    assert set(result.offers) == {"pressure eight", "pressure eighty"}


def test_an_empty_better_alternative_says_nothing() -> None:
    assert isinstance(heard("", "bottle full"), Understood)


def test_where_others_talk_two_answers_are_told_apart_by_more() -> None:
    near, far = POLICY.clear - 0.1, POLICY.clear + 0.1
    assert near > POLICY.close
    one, other = "bottle full", "irrigation line loose"
    assert isinstance(heard(one, other, apart=near), Understood)
    assert isinstance(heard(one, other, apart=near, amid_babble=True), NotUnderstood)
    assert isinstance(heard(one, other, apart=far, amid_babble=True), Understood)


def test_where_others_talk_an_answer_must_be_nearer_to_the_best() -> None:
    near, far = POLICY.close_alike - 0.1, POLICY.close_alike + 0.1
    for apart in (near, far):
        assert isinstance(heard("full bottle", "bottle full", apart=apart), Understood)
    assert isinstance(heard("full bottle", "bottle full", apart=near, amid_babble=True), Understood)
    assert isinstance(
        heard("full bottle", "bottle full", apart=far, amid_babble=True), NotUnderstood
    )
