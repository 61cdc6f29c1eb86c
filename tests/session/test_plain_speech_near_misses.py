"""Frames are wide, so each is turned round: what asks, denies, doubts, puts off, reports what
others said, or tells of another thing or state is no answer to any item of a shipped checklist."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.session.talk import shipped_case
from voicelist.documents.checklist import Item
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Sequence, Token
from voicelist.session.natural import NOTHING
from voicelist.understanding.interpretation import Unconfirmed, Understood

CASE = shipped_case("practice-101")
ITEMS = [item for item in CASE.items.values() if item.thing and item.good]
RULES = CASE.natural.rules

TURNED = {
    "question": ("is the {thing} {state}", "are they {state}", "did you say {state}"),
    "denial": ("the {thing} is not {state}", "it isn't {state}", "not {state}"),
    "doubt": ("i think the {thing} is {state}", "maybe it's {state}", "it should be {state}"),
    "later": (
        "the {thing} will be {state} soon",
        "when it's {state}",
        "once the {thing} is {state}",
    ),
    "reported": (
        "she said the {thing} is {state}",
        "they said it is {state}",
        "he told me it was {state}",
    ),
    "order": ("make sure the {thing} is {state}", "tell me when it is {state}"),
    "choice": ("{state} or not", "is it {state} or not", "{state} with what", "{state} or what"),
    "told another": ("maria push the {thing} {state}", "joseph get that {thing} {state}"),
    "assumed": ("i assume the {thing} is {state}", "presumably it's {state}"),
    "told as done, and not so": (
        "i pulled on it and it is not {state}",
        "i have looked at it and i think it's {state}",
        "i looked at it and it will be {state} soon",
        "we did it yesterday and she said it was {state}",
    ),
}


def first_words(node: Node, scope: str | None = None) -> tuple[str, ...]:
    """The first wording of a phrase."""
    match node:
        case Token(text):
            return (text,)
        case Sequence(parts):
            return tuple(word for part in parts for word in first_words(part, scope))
        case Choice(parts, _):
            return first_words(parts[0], scope)
        case Repeat(part, least, _):
            return first_words(part, scope) * least
        case Reference(name):
            rule = RULES.find(name, scope)
            return () if rule is None else first_words(rule.body, rule.place.file)
        case _:
            return ()


def said(phrase: str | None) -> str:
    return " ".join(first_words(parse_expansion(phrase or "", "test", 1, 1)))


def turned(item: Item, kind: str) -> Iterator[str]:
    nothing = any(one in (item.good or "") for one in NOTHING)
    state = "there" if nothing else said(item.good)
    for way in TURNED[kind]:
        yield way.format(thing=said(item.thing), state=state)


def is_answer(item_id: str, words: str) -> bool:
    active = frozenset(f"{item_id}.{kind}" for kind in ("done", "fault", "value"))
    found = CASE.natural.understand(tuple(words.split()), item_id, active)
    return isinstance(found, Understood | Unconfirmed) and not found.match.rule.endswith(".fault")


def test_the_plain_way_to_say_it_is_an_answer() -> None:
    """Otherwise nothing below would be tried."""
    for item in ITEMS:
        if "$none" not in (item.good or ""):
            assert is_answer(item.id, f"the {said(item.thing)} is {said(item.good)}"), item.id
    assert len(ITEMS) > 50


@pytest.mark.parametrize("kind", TURNED)
def test_no_turned_frame_is_an_answer(kind: str) -> None:
    taken = [
        (item.id, words)
        for item in ITEMS
        for words in turned(item, kind)
        if is_answer(item.id, words)
    ]
    assert taken == []


def test_another_state_is_no_answer() -> None:
    taken = [
        item.id
        for item in ITEMS
        if item.bad and is_answer(item.id, f"the {said(item.thing)} is {said(item.bad)}")
    ]
    assert taken == []


def test_another_thing_is_no_answer() -> None:
    things = {item.id: said(item.thing) for item in ITEMS}
    for item in ITEMS:
        for other in ("coffee", "trolley wheel", "microscope", "door"):
            assert other not in things[item.id]
            assert not is_answer(item.id, f"the {other} is {said(item.good)}"), (item.id, other)


def test_rules_that_are_named_in_the_program_are_there() -> None:
    assert isinstance(RULES, RuleSet)
    for name in ("full", "short", "answer", "none", "later", "reported", "doubtful", "negated"):
        assert RULES.find(name, None) is not None
