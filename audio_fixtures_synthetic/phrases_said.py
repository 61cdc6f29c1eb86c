"""Every sentence that a phrase permits, in the order written."""

from __future__ import annotations

import itertools

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Sequence, Token


def sentences_of(phrase: str) -> tuple[str, ...]:
    """The sentences of a checklist's phrase that refers to no rule."""
    return sentences(parse_expansion(phrase, "checklist"), RuleSet())


def sentences(node: Node, rules: RuleSet, scope: str | None = None) -> tuple[str, ...]:
    """The sentences of a phrase; of what may be repeated only once and, if permitted, none."""
    match node:
        case Token():
            return (node.text,)
        case Choice():
            return tuple(text for part in node.parts for text in sentences(part, rules, scope))
        case Sequence():
            every = itertools.product(*(sentences(part, rules, scope) for part in node.parts))
            return tuple(" ".join(part for part in parts if part) for parts in every)
        case Repeat():
            once = sentences(node.part, rules, scope)
            return (*once, "") if node.least == 0 else once
        case Reference():
            rule = rules.find(node.name, scope)
            return sentences(rule.body, rules, rule.place.file) if rule else ()
        case _:
            return ("",)
