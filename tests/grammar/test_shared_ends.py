"""Phrases that end with the same rule: drawn once, and read as if each had its own."""

from __future__ import annotations

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.phrase_lists import hearing_grammar

RULES = """#ABNF 1.0 UTF-8;
public $tail = $part<1-4>;
$part = {a} vacuum [at] $figure | {b} flow [at] $figure;
$figure = one | two | three | four | five;
"""
PHRASES = {
    "one.value": "$tail",
    "two.value": "$tail",
    "one.by_name": "(carve | carving) [now] $tail",
    "two.by_name": "split $tail",
    "other.done": "line firm",
}


def grammar_of(names: tuple[str, ...]) -> Grammar:
    roots = {name: parse_expansion(PHRASES[name], "phrases", 1, 1) for name in names}
    return Grammar(roots, RuleSet.from_texts([("tail", RULES)]))


WHOLE = grammar_of(tuple(PHRASES))


def test_each_sentence_is_read_as_by_its_phrase_alone() -> None:
    for name in PHRASES:
        alone = grammar_of((name,))
        for sentence in alone.graph.samples(seed=3, count=50):
            expected = set(alone.parses(sentence))
            assert expected <= set(WHOLE.parses(sentence))
            assert {one.rule for one in WHOLE.parses(sentence) if one.rule == name} == {name}


def test_a_name_is_not_lost_and_none_is_made_up() -> None:
    assert {one.rule for one in WHOLE.parses(["vacuum", "two"])} == {"one.value", "two.value"}
    assert {one.rule for one in WHOLE.parses(["split", "vacuum", "two"])} == {"two.by_name"}
    assert {one.rule for one in WHOLE.parses(["carving", "now", "flow", "at", "one"])} == {
        "one.by_name"
    }
    assert WHOLE.parses(["split", "now", "vacuum", "two"]) == ()


def test_they_take_hardly_more_states_than_one_of_them() -> None:
    assert WHOLE.spent < grammar_of(("one.value",)).spent * 1.5


def test_the_recogniser_hears_how_a_name_leads_into_what_follows() -> None:
    listed = set(hearing_grammar(WHOLE).phrase_list())
    pairs = {pair for line in listed for pair in zip(line.split(), line.split()[1:], strict=False)}
    for name in ("carve", "carving", "now", "split"):
        assert {(name, "vacuum"), (name, "flow")} <= pairs
    alone = grammar_of(("one.value",)).phrase_list()
    assert set(alone) <= listed
