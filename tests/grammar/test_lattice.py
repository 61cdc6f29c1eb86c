"""Frames read along a lattice: the cheapest sentence along all of it."""

from __future__ import annotations

import pytest

from voicelist.grammar.frames import Frames
from voicelist.grammar.lattice import Lattice, cheapest
from voicelist.grammar.ruleset import RuleSet

RULES = """#ABNF 1.0 UTF-8;
language en-US;
public $answer = [yes] $thing [is] [very]<0-2> $state;
public $thing = line | sleeve holes;
public $state = firm | level and clear;
"""
FRAMES = Frames(RuleSet.from_texts([("rules.abnf", RULES)]))


def lattice(words: str, *steps: tuple[int, int, str, float]) -> Lattice:
    made = Lattice.of(words.split())
    for start, end, said, cost in steps:
        made.add(start, end, tuple(said.split()), cost)
    return made


@pytest.mark.parametrize("words", ["line firm", "yes line is very very firm", "sleeve holes firm"])
def test_what_was_heard_costs_nothing_where_the_frames_hold_it(words: str) -> None:
    way = cheapest(FRAMES, "answer", lattice(words), 0.0)
    assert way is not None
    assert (way.cost, way.words) == (0.0, tuple(words.split()))
    assert FRAMES.holds("answer", words.split())


def test_several_words_may_stand_for_one_and_one_for_several() -> None:
    made = lattice("sleep hose lever and clear", (0, 2, "sleeve holes", 0.5), (2, 3, "level", 0.25))
    way = cheapest(FRAMES, "answer", made, 1.0)
    assert way is not None
    assert (way.cost, way.words) == (0.75, ("sleeve", "holes", "level", "and", "clear"))


def test_the_cheapest_way_counts_and_none_above_the_limit() -> None:
    steps = ((1, 2, "firm", 0.5), (1, 2, "level and clear", 0.25))
    way = cheapest(FRAMES, "answer", lattice("line film", *steps), 1.0)
    assert way is not None
    assert way.words == ("line", "level", "and", "clear")
    assert cheapest(FRAMES, "answer", lattice("line film", *steps), 0.2) is None


@pytest.mark.parametrize("words", ["line", "line firm firm", "firm line", ""])
def test_all_of_it_must_be_a_sentence(words: str) -> None:
    assert cheapest(FRAMES, "answer", lattice(words, (0, 1, "line", 0.1)), 9.0) is None


def test_a_phrase_is_not_entered_in_its_middle() -> None:
    made = lattice("line x firm", (1, 3, "level and clear", 0.1), (1, 2, "very", 5.0))
    way = cheapest(FRAMES, "answer", made, 1.0)
    assert way is not None
    assert way.words == ("line", "level", "and", "clear")
