"""The phrases of all shipped checklists: their own sentences parse, changed ones do not."""

from __future__ import annotations

import random
import re
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.grammar.regular import expression, matches
from tests.grammar.small_grammars import Sentence, word_pairs, words_of
from voicelist.documents.bundle import load_bundle
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet
from voicelist.places import shipped
from voicelist.session.case import ANSWER_KINDS, COMMANDS, LATER_COMMANDS, Case, compile_case


@cache
def case(plan: str = "practice-007") -> Case:
    """One plan of each shipped checklist: practice-007, -101, -102 and -201."""
    return compile_case(load_bundle(shipped("grammars") / "plans" / f"{plan}.yaml"))


def phrase_of(plan: str, root: str) -> str:
    name, _, kind = root.rpartition(".")
    return f"${kind}" if name == "command" else str(getattr(case(plan).items[name], kind))


def shipped_roots() -> dict[str, tuple[str, str]]:
    """Plan and root by phrase: what several checklists say alike is looked at once."""
    found: dict[str, tuple[str, str]] = {}
    for plan in ("practice-007", "practice-101", "practice-102", "practice-201"):
        for _, item in case(plan).bundle.checklist.all_items():
            for kind in ANSWER_KINDS:
                if (phrase := getattr(item, kind)) is not None:
                    found.setdefault(phrase, (plan, f"{item.id}.{kind}"))
    for name in (*COMMANDS, *LATER_COMMANDS):
        found[f"${name}"] = ("practice-007", f"command.{name}")
    return found


SHIPPED_ROOTS = list(shipped_roots().values())


def shipped_expression(plan: str, root: str) -> re.Pattern[str]:
    rules = RuleSet.from_texts(case(plan).bundle.rules.items())
    node = parse_expansion(phrase_of(plan, root), root)
    return expression(node, rules, case(plan).bundle.lexicon.respellings())


@cache
def respelt_words() -> frozenset[str]:
    ways = case().bundle.lexicon.respellings().values()
    return frozenset(word for heard in ways for way in heard for word in way)


def one_word_changed(words: Sentence, others: list[str], chance: random.Random) -> list[Sentence]:
    """A word dropped, doubled, replaced or exchanged with its neighbour, each at a random place."""
    at = chance.randrange(len(words))
    before, word, after = words[:at], words[at], words[at + 1 :]
    return [
        before + after,
        (*before, word, word, *after),
        (*before, chance.choice(others), *after),
        (*before, *after[:1], word, *after[1:]),
    ]


@pytest.mark.parametrize(("plan", "root"), SHIPPED_ROOTS)
def test_a_shipped_phrase_permits_its_own_sentences_under_its_own_name(
    plan: str, root: str
) -> None:
    part = case(plan).grammar.only(root)
    pattern = shipped_expression(plan, root)
    for sentence in part.graph.samples(seed=1, count=60):
        assert matches(pattern, sentence)
        assert root in {match.rule for match in case(plan).grammar.parses(sentence)}


@pytest.mark.parametrize(("plan", "root"), SHIPPED_ROOTS)
def test_a_changed_sentence_is_permitted_only_if_the_phrase_says_so_elsewhere(
    plan: str, root: str
) -> None:
    """The judge of "says so" is the written phrase turned into a regular expression: a sentence
    with a word dropped, doubled, replaced or exchanged parses if, and only if, that matches it; and
    no parse mends it."""
    part = case(plan).grammar.only(root)
    pattern = shipped_expression(plan, root)
    others = sorted(case().grammar.vocabulary() | set(case().room.fillers))
    chance = random.Random(root)
    for sentence in part.graph.samples(seed=2, count=60):
        for changed in one_word_changed(sentence, others, chance):
            readings = part.parses(changed)
            assert bool(readings) == matches(pattern, changed), changed
            if not respelt_words().intersection(changed):
                assert {reading.words for reading in readings} <= {changed}


def test_the_shipped_phrase_list_is_made_of_permitted_sentences() -> None:
    listed = case().grammar.phrase_list()
    assert len(listed) == len(set(listed))
    assert all(case().grammar.parses(one.split()) for one in listed)


@given(st.integers(0, 10_000))
@settings(max_examples=20)
def test_every_word_pair_of_a_shipped_sentence_is_in_the_phrase_list(seed: int) -> None:
    assert word_pairs(case().grammar.graph.samples(seed, count=50)) <= shipped_pairs()


@cache
def shipped_pairs() -> set[tuple[str, str]]:
    return word_pairs(words_of(case().grammar.phrase_list()))
