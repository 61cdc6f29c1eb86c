"""A phrase as people read it: its words, what may be left out, a choice; numbers as a word."""

from __future__ import annotations

from collections.abc import Iterator

from voicelist.grammar.ruleset import RuleSet, is_number_rule
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Sequence, Tag, Token

# Stands for any number in its words.
NUMBER = "NUMBER"
SIGNED_NUMBER = f"(plus | minus) {NUMBER}"
# Choices of words longer than this are numbers or names in all but form: the first ones stand for
# the others.
_SHOWN_AT_MOST = 12


def written(node: Node, rules: RuleSet, scope: str | None = None) -> str:
    """The phrase on one line: `[left out or not]`, `(one | another)`, `...` for what may follow in
    the same manner. `scope` is the rule file it stands in, None for a checklist."""
    return _written(node, rules, scope, inner=False)


def _written(node: Node, rules: RuleSet, scope: str | None, *, inner: bool) -> str:
    match node:
        case Token():
            return node.text
        case Reference():
            return _named(node, rules, scope, inner=inner)
        case Sequence():
            return " ".join(filter(None, _parts(node.parts, rules, scope)))
        case Choice():
            parts = list(
                dict.fromkeys(_written(one, rules, scope, inner=False) for one in node.parts)
            )
            more = ["..."] if len(parts) > _SHOWN_AT_MOST else []
            text = " | ".join((*parts[:_SHOWN_AT_MOST], *more))
            return f"({text})" if inner and len(parts) > 1 else text
        case Repeat(least=0, most=1):
            return f"[{_written(node.part, rules, scope, inner=False)}]"
        case Repeat(least=0):
            return "[...]"
        case Repeat():
            return f"{_written(node.part, rules, scope, inner=True)} [...]"
        case _:
            return ""


def _parts(parts: tuple[Node, ...], rules: RuleSet, scope: str | None) -> Iterator[str]:
    for part in parts:
        yield _written(part, rules, scope, inner=True)


def _named(node: Reference, rules: RuleSet, scope: str | None, *, inner: bool) -> str:
    rule = rules.find(node.name, scope)
    if rule is None:
        return f"${node.name}"
    if is_number_rule(rule):
        return SIGNED_NUMBER if _holds_tag(rule.body, "plus") else NUMBER
    return _written(rule.body, rules, rule.place.file, inner=inner)


def _holds_tag(node: Node, text: str) -> bool:
    match node:
        case Tag():
            return node.text == text
        case Sequence() | Choice():
            return any(_holds_tag(part, text) for part in node.parts)
        case Repeat():
            return _holds_tag(node.part, text)
        case _:
            return False
