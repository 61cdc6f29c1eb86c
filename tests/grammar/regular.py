"""Phrases as regular expressions of Python's own engine: another judge of what is permitted."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import (
    Choice,
    Node,
    Null,
    Reference,
    Repeat,
    Tag,
    Token,
    Void,
)
from voicelist.grammar.syntax import Sequence as InSequence

Respellings = Mapping[str, Sequence[Sequence[str]]]


def expression(
    node: Node, rules: RuleSet, respellings: Respellings, scope: str | None = None
) -> re.Pattern[str]:
    """Matches the permitted sentences, each word followed by one space."""
    return re.compile(_pattern(node, rules, respellings, scope))


def matches(pattern: re.Pattern[str], words: Sequence[str]) -> bool:
    return pattern.fullmatch("".join(f"{word} " for word in words)) is not None


def _pattern(node: Node, rules: RuleSet, respellings: Respellings, scope: str | None) -> str:
    def inner(part: Node) -> str:
        return _pattern(part, rules, respellings, scope)

    match node:
        case Token():
            ways = [(node.text,), *respellings.get(node.text, ())]
            spelled = ["".join(f"{re.escape(word)} " for word in way) for way in ways]
            return f"(?:{'|'.join(spelled)})"
        case InSequence():
            return "".join(map(inner, node.parts))
        case Choice():
            return f"(?:{'|'.join(map(inner, node.parts))})"
        case Repeat():
            return f"(?:{inner(node.part)}){{{node.least},{node.most}}}"
        case Reference():
            rule = rules.find(node.name, scope)
            assert rule is not None
            return _pattern(rule.body, rules, respellings, rule.place.file)
        case Tag() | Null():
            return ""
        case Void():
            return "(?!)"
