"""A compiled grammar: strict, complete, and its phrase list covers it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.grammar.small_grammars import (
    PHRASES,
    UTTERANCES,
    Phrase,
    Sentence,
    beginnings,
    word_pairs,
    words_of,
)
from voicelist.grammar.abnf import parse_expansion, parse_rules
from voicelist.grammar.grammar import UNKNOWN, Grammar, grammar_of
from voicelist.grammar.match import Match
from voicelist.grammar.ruleset import RuleSet
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.room_words import Room

HEADER = "#ABNF 1.0 UTF-8;\n"


def small(respellings: dict[str, list[list[str]]] | None = None, **phrases: str) -> Grammar:
    nodes = {name: parse_expansion(text, name) for name, text in phrases.items()}
    return Grammar(nodes, RuleSet(), respellings)


# Every question about a small grammar, against the list of its sentences


@given(PHRASES, UTTERANCES)
def test_the_graph_and_the_parse_agree(phrase: Phrase, utterance: Sentence) -> None:
    grammar = phrase.grammar()
    for words in (utterance, *phrase.sentences):
        assert grammar.graph.accepts(words) == bool(grammar.parses(words))
        assert grammar.graph.accepts(words) == (words in phrase.sentences)


@given(PHRASES, UTTERANCES)
def test_prefixes_and_growth_are_those_of_the_sentences(
    phrase: Phrase, utterance: Sentence
) -> None:
    graph = phrase.grammar().graph
    begun = beginnings(phrase.sentences)
    for words in (utterance, *begun):
        longer = any(one[: len(words)] == words for one in begun if len(one) > len(words))
        assert graph.is_prefix(words) == (words in begun or not words)
        assert graph.can_grow(words) == longer


@given(PHRASES)
def test_the_phrase_list_holds_exactly_the_word_pairs_of_the_sentences(phrase: Phrase) -> None:
    listed = words_of(phrase.grammar().phrase_list())
    assert set(listed) <= phrase.sentences
    assert word_pairs(listed) == word_pairs(phrase.sentences)


@given(PHRASES, st.sets(st.sampled_from(("red", "blue", "green", "left"))))
def test_the_phrase_list_of_known_words_covers_the_sentences_of_known_words(
    phrase: Phrase, known: set[str]
) -> None:
    listed = words_of(phrase.grammar().phrase_list(frozenset(known)))
    sayable = {one for one in phrase.sentences if known.issuperset(one)}
    assert set(listed) <= sayable
    assert word_pairs(listed) == word_pairs(sayable)


@given(PHRASES, PHRASES)
def test_a_shared_sentence_is_a_shortest_one_of_both(one: Phrase, other: Phrase) -> None:
    shared = one.grammar().graph.shared_sentence(other.grammar().graph)
    both = one.sentences & other.sentences
    assert (shared in both) if both else (shared is None)
    if shared is not None:
        assert len(shared) == min(map(len, both))


@given(PHRASES, UTTERANCES)
def test_an_accepted_run_is_any_permitted_sentence_inside_the_words(
    phrase: Phrase, utterance: Sentence
) -> None:
    run = phrase.grammar().graph.accepted_run(utterance)
    runs = {
        utterance[start:end]
        for start in range(len(utterance))
        for end in range(start + 1, len(utterance) + 1)
    }
    inside = runs & phrase.sentences
    assert (run in inside) if inside else (run is None)


@given(PHRASES, PHRASES, UTTERANCES)
def test_two_phrases_in_one_grammar_are_told_apart_by_their_names(
    one: Phrase, other: Phrase, utterance: Sentence
) -> None:
    nodes = {
        "one": parse_expansion(one.text, "one"),
        "other": parse_expansion(other.text, "other"),
    }
    grammar = Grammar(nodes)
    for words in (utterance, *one.sentences):
        named = {match.rule for match in grammar.parses(words)}
        assert ("one" in named) == (words in one.sentences)
        assert ("other" in named) == (words in other.sentences)
    alone = grammar.only("one")
    assert alone.names == ("one",)
    assert alone.graph.accepts(utterance) == (utterance in one.sentences)


@given(PHRASES)
def test_samples_are_sentences(phrase: Phrase) -> None:
    grammar = phrase.grammar()
    samples = grammar.graph.samples(seed=1, count=20)
    assert set(samples) <= phrase.sentences
    assert bool(samples) == bool(phrase.sentences)


@given(PHRASES)
def test_a_parse_has_the_words_as_they_were_said(phrase: Phrase) -> None:
    grammar = phrase.grammar()
    for words in phrase.sentences:
        assert {match.words for match in grammar.parses(words)} == {words}


def test_a_phrase_inside_another_leaves_the_other_whole() -> None:
    rules = RuleSet.from_texts([("r", HEADER + "public $short = a; public $long = a | a b;")])
    grammar = Grammar({"r": parse_expansion("$short | $long", "f")}, rules)
    assert [match.inside[0].rule for match in grammar.parses(["a"])] == ["short", "long"]
    assert [match.inside[0].rule for match in grammar.parses(["a", "b"])] == ["long"]


def test_what_stands_behind_void_is_never_said() -> None:
    grammar = small(x="$VOID b", y="a")
    assert grammar.phrase_list() == ("a",)
    assert not grammar.parses(["b"])


def test_a_grammar_that_permits_nothing_is_one() -> None:
    grammar = small(x="$VOID")
    assert grammar.phrase_list() == ()
    assert grammar.vocabulary() == frozenset()
    assert grammar.graph.samples(seed=1, count=3) == []
    assert not grammar.graph.is_prefix(["a"])


# Words that the speech model lacks


RESPELLED = {"phaco": [["fake", "oh"], ["fay", "co"]], "toric": [["tor", "ick"]]}


def test_a_respelled_word_is_heard_as_respelt_and_written_as_written() -> None:
    grammar = small(RESPELLED, tip="phaco tip (tight | loose)")
    for heard in ("fake oh tip tight", "fay co tip tight"):
        (match,) = grammar.parses(heard.split())
        assert match.text == "phaco tip tight"


def test_a_respelled_word_is_accepted_as_it_is_written_when_it_is_typed() -> None:
    grammar = small(RESPELLED, tip="phaco tip tight")
    (match,) = grammar.parses(["phaco", "tip", "tight"])
    assert match.text == "phaco tip tight"


def test_what_is_heard_is_written_as_anybody_would_though_it_be_no_sentence() -> None:
    grammar = small(RESPELLED, tip="phaco tip tight")
    for heard, written in (
        ("fay co tip tight", "phaco tip tight"),
        ("not tor ick or fake oh", "not toric or phaco"),
        ("fake co tip tor", "fake co tip tor"),
        ("", ""),
    ):
        assert grammar.as_written(heard.split()) == written
    assert small(tip="phaco tip tight").as_written(["fake", "oh"]) == "fake oh"


@pytest.mark.parametrize("words", ["fake tip tight", "oh tip tight", "fake co tip tight"])
def test_half_a_respelling_is_nothing(words: str) -> None:
    assert small(RESPELLED, tip="phaco tip tight").parses(words.split()) == ()


def test_the_phrase_list_and_vocabulary_hold_the_words_that_are_heard() -> None:
    grammar = small(RESPELLED, tip="phaco tip tight", lens="toric lens")
    listed = {word for one in grammar.phrase_list() for word in one.split()}
    assert listed == {"fake", "oh", "fay", "co", "tip", "tight", "tor", "ick", "lens"}
    assert grammar.vocabulary() == listed


def test_a_word_without_respellings_is_heard_as_it_is_written() -> None:
    """A lexicon entry that only says how a voice should say the word."""
    grammar = small({"bottle": []}, bottle="bottle full")
    assert grammar.phrase_list() == ("bottle full",)


def test_the_examples_are_written_as_the_phrase_is() -> None:
    grammar = small(RESPELLED, tip="phaco tip (tight | firm)", other="toric lens")
    assert sorted(grammar.examples("tip")) == ["phaco tip firm", "phaco tip tight"]


# For the recogniser


def _room(negations: str) -> Room:
    text = f"#ABNF 1.0 UTF-8;\nlanguage en-US;\npublic $negations = {negations};\n"
    return Room.from_rules(RuleSet.from_texts([("room", text)]))


def test_the_recogniser_listens_to_some_roots_where_these_are_named() -> None:
    grammar = small(a="line firm", b="bottle full")
    assert hearing_grammar(grammar, roots=("b",)).phrase_list() == ("bottle full", UNKNOWN)


def test_the_recogniser_gets_phrases_single_fillers_and_the_unknown_word() -> None:
    hearing = hearing_grammar(small(a="line firm"), _room("not | yes"))
    assert hearing.phrase_list() == ("line firm", "not", "yes", UNKNOWN)


def test_the_recogniser_gets_known_words_only() -> None:
    grammar = small(a="line firm | line snug")
    known = frozenset({"line", "firm", "yes"})
    hearing = hearing_grammar(grammar, _room("yes | hmm"), known)
    assert hearing.phrase_list() == ("line firm", "yes", UNKNOWN)
    assert hearing.can_grow(["line"])
    assert not hearing.can_grow(["line", "firm"])


# What a parse holds


RULES = RuleSet.from_texts(
    [
        (
            "rules",
            HEADER + "public $side = left {left} | right {right};"
            "public $count = {number} (one {1} | two {2} | $many);"
            "$many = three {3};"
            "public $pair = $side and $side;",
        )
    ]
)


def parsed(phrase: str, words: str) -> Match:
    (match,) = Grammar({"root": parse_expansion(phrase, "f")}, RULES).parses(words.split())
    return match


def test_slots_have_the_words_of_each_rule() -> None:
    match = parsed("eye $side count $count", "eye left count two")
    assert match.slots() == {"root": "eye left count two", "side": "left", "count": "two"}
    assert match.values() == {"count": 2}


def test_a_rule_that_matched_twice_has_a_list_in_the_order_spoken() -> None:
    match = parsed("$pair [and $count and $count]", "right and left and one and two")
    assert match.slots() == {
        "root": "right and left and one and two",
        "pair": "right and left",
        "side": ["right", "left"],
        "count": ["one", "two"],
    }
    assert match.values() == {"count": [1, 2]}
    assert parsed("$pair [and $count]", "right and left and one").values() == {"count": 1}


def test_tags_belong_to_the_rule_that_they_stand_in() -> None:
    match = parsed("{outer} eye $side", "eye right")
    assert match.tags == ("outer",)
    side = match.first("side")
    assert side is not None
    assert side.tags == ("right",)
    assert match.first("count") is None
    assert match.all("side") == (side,)


def test_a_number_has_a_value_and_nothing_inside() -> None:
    number = parsed("$count", "three").first("count")
    assert number == Match("count", ("three",), value=3)


def test_a_sentence_with_two_readings_has_both() -> None:
    grammar = small(done="line firm", other="line (firm | loose)")
    assert [match.rule for match in grammar.parses(["line", "firm"])] == ["done", "other"]
    assert [match.rule for match in grammar.parses(["line", "loose"])] == ["other"]


# A whole grammar of somebody else's


def test_a_grammar_written_elsewhere_loads_and_reads_an_order(shared_speech: Path) -> None:
    path = shared_speech / "coffee.abnf"
    file = parse_rules(path.read_text(encoding="utf-8"), "coffee")
    assert file.root == "order"
    root = file.named("order")
    assert root is not None
    grammar = Grammar({"order": root.body}, RuleSet((file,)), scopes={"order": "coffee"})
    said = "can i get a large dark roast coffee with a little bit of soy milk and brown sugar"
    (match,) = grammar.parses(said.split())
    slots = match.slots()
    assert slots["size"] == "large"
    assert slots["roast"] == "dark roast"
    assert slots["coffeeDrink"] == "coffee"
    assert slots["extra"] == ["a little bit of soy milk", "brown sugar"]
    assert not grammar.parses(said.split()[:-1])


def test_the_same_phrases_are_compiled_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelist.grammar.grammar.KEPT_AT_MOST", 2)

    def made(word: str, rule: str = "firm", **heard: list[list[str]]) -> Grammar:
        rules = RuleSet.from_texts([("r", HEADER + f"language en;\npublic $state = {rule};")])
        return grammar_of({"one": parse_expansion(f"{word} $state", "f", 1, 1)}, rules, heard)

    first = made("line")
    assert made("line") is first
    others = [made("tip"), made("line", "loose"), made("line", line=[["lion"]])]
    assert [one.parses(("line", "firm")) != () for one in others] == [False, False, True]
    assert others[2].parses(("lion", "firm"))
    assert not first.parses(("lion", "firm"))
    again = made("line")
    assert again is not first, "only the last two are kept"
    assert again.phrase_list() == first.phrase_list()


def test_a_phrase_list_is_worked_out_once() -> None:
    grammar = Grammar({"r": parse_expansion("bottle (full | low)", "file")})
    known = frozenset({"bottle", "full"})
    assert grammar.phrase_list() is grammar.phrase_list()
    assert grammar.phrase_list(known) is grammar.phrase_list(frozenset(known))
    assert grammar.phrase_list(known) == ("bottle full",) != grammar.phrase_list()
