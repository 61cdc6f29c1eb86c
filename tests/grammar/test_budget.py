"""Phrases have a budget: what goes beyond it is refused with its place, what ships is far below."""

from __future__ import annotations

from collections import defaultdict

import pytest

from voicelist.documents.bundle import load_bundle
from voicelist.grammar import budget
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.budget import BUDGET, Meter, TooLarge
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.linting.check import lint_paths
from voicelist.places import shipped
from voicelist.session.case import compile_case, is_harmless
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.policy import POLICY
from voicelist.understanding.repair import repaired
from voicelist.understanding.room_words import Room

HEADER = "#ABNF 1.0 UTF-8;\n"
# What the largest shipped list takes stands at most at this part of each figure.
MARGIN = 0.12
PLANS = sorted((shipped("grammars") / "plans").glob("*.yaml"))


@pytest.fixture
def spent(monkeypatch: pytest.MonkeyPatch) -> dict[int, int]:
    """The most that any meter came to, by what it may come to."""
    most: dict[int, int] = defaultdict(int)
    plain = Meter.spend

    def spend(meter: Meter, count: int = 1) -> None:
        plain(meter, count)
        most[meter.most] = max(most[meter.most], meter.spent)

    monkeypatch.setattr(budget.Meter, "spend", spend)
    return most


def test_every_shipped_list_stands_at_about_a_tenth_of_the_budget(spent: dict[int, int]) -> None:
    for plan in PLANS:
        case = compile_case(load_bundle(plan))
        hearing_grammar(case.grammar, case.room, None, plain=is_harmless)
        case.grammar.phrase_list()
        for sentence in case.grammar.graph.samples(seed=1, count=200):
            case.grammar.parses(sentence)
            repaired(sentence[:-1], case.grammar.graph, case.room, POLICY.long_words)
        assert len(case.grammar.names) <= MARGIN * BUDGET.roots
    figures = (BUDGET.lexemes, BUDGET.states, BUDGET.nodes, BUDGET.steps, BUDGET.graph_steps)
    for most in (*figures, BUDGET.cover_steps, BUDGET.listed_words, BUDGET.room_words):
        assert 0 < spent[most] <= MARGIN * most
    assert spent[BUDGET.states] > 0.05 * BUDGET.states, "the budget is far from what is needed"


def test_the_searches_of_check_stand_at_about_a_tenth(spent: dict[int, int]) -> None:
    lint_paths([shipped("grammars") / "checklists" / "phaco-full.yaml"], None)
    assert 0 < spent[BUDGET.lint_steps] <= MARGIN * BUDGET.lint_steps
    assert 0 < spent[BUDGET.parse_steps] <= MARGIN * BUDGET.parse_steps


def words(count: int) -> list[str]:
    letters = "abcdefghij"
    return ["w" + "".join(letters[int(one)] for one in str(number)) for number in range(count)]


TOO_LARGE = {
    "repeats in repeats": "(((((yes <0-9>) <0-9>) <0-9>) <0-9>) <0-9>) no",
    "repeats with words between": "((yes <0-32>) <0-32> maybe <0-32>) <0-9> no",
    "a sentence of 60,000 words": " ".join(words(60_000)),
    "60,000 alternatives": " | ".join(words(60_000)),
    "3,000 alternatives, repeated": f"({' | '.join(words(3_000))}) <1-4>",
    "3,000 words that may be left out": " ".join(f"[{word}]" for word in words(3_000)) + " end",
}


@pytest.mark.parametrize("phrase", TOO_LARGE.values(), ids=TOO_LARGE)
def test_phrases_that_multiply_are_refused_where_they_stand(phrase: str) -> None:
    with pytest.raises(TooLarge) as caught:
        Grammar({"r": parse_expansion(phrase, "file", 7, 3)}).phrase_list()
    (problem,) = caught.value.problems
    assert (problem.file, problem.line) == ("file", 7)
    assert problem.column >= 3
    assert "too large together" in problem.found
    assert problem.expected.startswith("expected fewer alternatives")


def test_a_rule_of_the_room_lists_each_sentence_once() -> None:
    rules = RuleSet.from_texts([("room", f"{HEADER}public $talk = (yes <0-5>) <0-5> no;")])
    said = rules.wordings("talk")
    assert said == tuple(" ".join(["yes"] * count + ["no"]) for count in range(26))


@pytest.mark.parametrize("phrase", ["(yes <0-9>) <0-9> no", "((yes | no) <0-32>) <0-32> no"])
def test_a_rule_of_the_room_that_multiplies_is_refused(phrase: str) -> None:
    rules = RuleSet.from_texts([("room", f"{HEADER}public $talk = {phrase};")])
    with pytest.raises(TooLarge) as caught:
        Room.from_rules(rules)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("room", 2, 8)


def test_denials_of_long_sentences_are_refused_before_they_are_made() -> None:
    long = Grammar({"r": parse_expansion(" ".join(words(2_000)), "file")})
    turning = "public $said_inside = not | never; public $said_before = if;"
    room = Room.from_rules(RuleSet.from_texts([("room", HEADER + turning)]))
    with pytest.raises(TooLarge):
        hearing_grammar(long, room)


def test_the_phrase_with_the_most_states_is_named() -> None:
    small = parse_expansion("yes | no", "small", 1, 1)
    large = parse_expansion(" ".join(words(300)), "large", 4, 2)
    grammar = Grammar({"small": small, "large": large})
    assert (grammar.place.file, grammar.place.line, grammar.place.column) == ("large", 4, 2)


@pytest.mark.parametrize(
    "phrase", ["yes <0-" + "9" * 6_000 + ">", "/" + "9" * 6_000 + "/ yes", "yes <1><1><1><1>"]
)
def test_numbers_and_repeats_without_end_are_refused_in_a_short_sentence(phrase: str) -> None:
    with pytest.raises(budget.DocumentError) as caught:
        parse_expansion(phrase, "file", 2, 1)
    (problem,) = caught.value.problems
    assert problem.line == 2
    assert len(str(problem)) < 400


def test_an_utterance_too_long_for_any_sentence_is_not_read() -> None:
    grammar = Grammar({"r": parse_expansion("yes <1-3>", "file")})
    assert grammar.parses(["yes"] * 3)
    assert grammar.parses(["yes"] * 500_000) == ()


def test_a_reading_beyond_the_budget_is_none() -> None:
    phrase = parse_expansion("[[yes] [yes]] <0-32> yes", "file")
    tight = budget.GrammarBudget(parse_steps=40)
    assert Grammar({"r": phrase}).parses(["yes"] * 5)
    assert Grammar({"r": phrase}, budget=tight).parses(["yes"] * 5) == ()
