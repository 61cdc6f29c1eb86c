"""Word pairs of phrases, against what the automaton of the same phrases permits."""

from __future__ import annotations

import pytest

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Void
from voicelist.grammar.word_pairs import EDGE, Pair, WordPairs, sentences_of

RULES = RuleSet.from_texts(
    [("r.abnf", "#ABNF 1.0 UTF-8;\npublic $how = nice and | very;\n$mine = no;\n")]
)


def pairs_of(phrase: str, rules: RuleSet = RULES) -> frozenset[Pair]:
    return WordPairs(rules, {}).of(parse_expansion(phrase, "phrase", 1, 1))


def permitted(phrase: str) -> set[Pair]:
    """The pairs in all sentences that the automaton gives for a phrase without number or repeat
    without end."""
    grammar = Grammar({"it": parse_expansion(phrase, "phrase", 1, 1)}, RULES)
    found: set[Pair] = set()
    for sentence in (*grammar.sentences("it"), *map(" ".join, grammar.graph.samples(1, 500))):
        words = sentence.split()
        found.update(zip((EDGE, *words), (*words, EDGE), strict=True))
    return found


@pytest.mark.parametrize(
    "phrase",
    [
        "the line is firm",
        "[the] line (is | looks) [very] (firm | tight)",
        "(a | b)<1-3> c",
        "a<0-2> b<0-1> c",
        "[a] [b] [c] d",
        "$how (firm | tight [$how])",
    ],
)
def test_they_are_those_of_the_automaton(phrase: str) -> None:
    assert pairs_of(phrase) == permitted(phrase)


def test_names_that_are_bound_stand_for_phrases_and_what_is_unknown_for_nothing() -> None:
    state = parse_expansion("firm | on $thing", "phrase", 1, 1)
    thing = parse_expansion("line", "phrase", 1, 1)
    pairs = WordPairs(RULES, {"state": state, "thing": thing})
    found = pairs.of(parse_expansion("it is $state | a $nowhere | $mine", "phrase", 1, 1))
    words = {word for pair in found for word in pair}
    assert words == {EDGE, "it", "is", "firm", "on", "line"}
    assert ("on", "line") in found


def test_what_cannot_be_said_has_none() -> None:
    phrase = parse_expansion("it is $state", "phrase", 1, 1)
    assert WordPairs(RULES, {"state": Void()}).of(phrase) == frozenset()


def test_sentences_hold_every_pair_that_leads_to_an_end() -> None:
    pairs = pairs_of("[the] line (is | looks) [$how] (firm | tight) [now]")
    held: set[Pair] = set()
    for sentence in sentences_of(pairs):
        words = sentence.split()
        held.update(zip((EDGE, *words), (*words, EDGE), strict=True))
    assert held == pairs


def test_a_pair_that_leads_nowhere_is_left_out() -> None:
    dead = {(EDGE, "a"), ("a", EDGE), ("a", "b"), ("c", "a")}
    assert sentences_of(dead) == ("a",)
