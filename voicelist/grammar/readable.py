"""A phrase as people would say it: what may be left out is left out, of a choice its entries, and
`a number` where one is said. No sign of the grammar is in it."""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Sequence as Row

from voicelist.grammar.ruleset import RuleSet, is_number_rule, is_signed
from voicelist.grammar.syntax import Choice, Node, Reference, Repeat, Rule, Sequence, Token

# Stands for any number in its words.
NUMBER = "a number"
SIGNED_NUMBER = f"plus or minus {NUMBER}"
# Of more entries the first stand for all; entries of more words are wordings, of which one is
# enough. Project choice.
_ENTRIES_AT_MOST = 12
_WORDS_AT_MOST = 7
_WORDINGS_AT_MOST = 3
_POINTING = frozenset(("this", "that", "it", "the", "a"))


def written(node: Node, rules: RuleSet, scope: str | None = None) -> str:
    """The phrase on one line: `irrigation line firm, or irrigation line tight`. `scope` is the rule
    file it stands in, None for a checklist."""
    wordings = node.parts if isinstance(node, Choice) else (node,)
    texts = _once(_written(one, rules, scope) for one in wordings)
    if all(len(one.split()) == 1 for one in texts):
        return _listed(texts)
    return ", or ".join(texts[:_WORDINGS_AT_MOST])


def _written(node: Node, rules: RuleSet, scope: str | None) -> str:
    match node:
        case Token():
            return node.text
        case Reference():
            rule = rules.find(node.name, scope)
            return "" if rule is None else _named(rule, rules)
        case Sequence():
            return " ".join(filter(None, (_written(one, rules, scope) for one in node.parts)))
        case Choice():
            return _listed(_once(_written(one, rules, scope) for one in node.parts))
        case Repeat(least=least) if least > 0:
            return _written(node.part, rules, scope)
        case _:
            return ""


def _named(rule: Rule, rules: RuleSet) -> str:
    if is_number_rule(rule):
        return SIGNED_NUMBER if is_signed(rule) else NUMBER
    return _written(rule.body, rules, rule.place.file)


def _listed(texts: Row[str]) -> str:
    """`one, two or three` of those that are short; of words that only point and plurals, one."""
    if not texts or _POINTING.issuperset(texts):
        return texts[0] if texts else ""
    short = [one for one in texts if len(one.split()) <= _WORDS_AT_MOST]
    if SIGNED_NUMBER in short:  # the sign may be left out, and is asked for then
        short = [one for one in short if one != NUMBER]
    texts = [one for one in short if one.removesuffix("s") not in {*short} - {one}] or texts[:1]
    shown = [*texts[:_ENTRIES_AT_MOST], *(["another"] if len(texts) > _ENTRIES_AT_MOST else [])]
    *first, last = shown
    return f"{', '.join(first)} or {last}" if first else last


def _once(texts: Iterable[str]) -> list[str]:
    return [one for one in dict.fromkeys(texts) if one]
