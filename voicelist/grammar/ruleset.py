"""All rule files together: whose `$name` is visible where."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from voicelist.errors import DocumentError, Problem
from voicelist.grammar.abnf import parse_rules
from voicelist.grammar.budget import BUDGET, Meter
from voicelist.grammar.numbers import NUMBER_TAG
from voicelist.grammar.syntax import (
    Choice,
    Node,
    Reference,
    Repeat,
    Rule,
    RuleFile,
    Sequence,
    Tag,
    Token,
)


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rule files by name. Public rules are visible everywhere, private ones in their own file."""

    files: tuple[RuleFile, ...] = ()

    @classmethod
    def from_texts(cls, texts: Iterable[tuple[str, str]]) -> RuleSet:
        """From (file name, ABNF text) pairs; every file's problems are reported at once."""
        files: list[RuleFile] = []
        problems: list[Problem] = []
        for name, text in texts:
            try:
                files.append(parse_rules(text, name))
            except DocumentError as error:
                problems.extend(error.problems)
        rules = cls(tuple(files))
        problems.extend(rules.clashes())
        if problems:
            raise DocumentError(tuple(problems))
        return rules

    def clashes(self) -> list[Problem]:
        """Public names that two files define."""
        seen: dict[str, Rule] = {}
        problems = []
        for rule in (rule for file in self.files for rule in file.rules if rule.public):
            if rule.name in seen:
                other = seen[rule.name].place
                expected = (
                    f"expected another name: it is public in {other.file}:{other.line} already"
                )
                place = rule.place
                problems.append(
                    Problem(place.file, place.line, place.column, f"public ${rule.name}", expected)
                )
            seen[rule.name] = rule
        return problems

    def find(self, name: str, scope: str | None) -> Rule | None:
        """The rule that `$name` means in file `scope` (None: in a checklist); a file's own rule
        goes before a public one of another file."""
        found = None
        for file in self.files:
            rule = file.named(name)
            if rule is not None and file.file == scope:
                return rule
            if rule is not None and rule.public:
                found = found or rule
        return found

    def words(self, name: str) -> tuple[str, ...]:
        """The single words of a public rule that is a plain choice of words; () if it is absent."""
        spoken = (word for text in self.wordings(name) for word in text.split())
        return tuple(dict.fromkeys(spoken))

    def wordings(self, name: str) -> tuple[str, ...]:
        """The sentences of a public rule that holds no other rule; () if it is absent. Raises
        TooLarge where there are too many."""
        rule = self.find(name, None)
        if rule is None:
            return ()
        unit = f"words in the sentences of ${name}"
        return tuple(_wordings(rule.body, Meter(BUDGET.room_words, unit, rule.place)))

    def vocabulary(self) -> frozenset[str]:
        """Every word of every rule."""
        bodies = (rule.body for file in self.files for rule in file.rules)
        return frozenset(word for body in bodies for word in _words(body))

    def public_names(self) -> tuple[str, ...]:
        """All public rules, in file order."""
        return tuple(rule.name for file in self.files for rule in file.rules if rule.public)


def is_number_rule(rule: Rule) -> bool:
    """Whether the rule's body starts with the tag {number}."""
    first = rule.body.parts[0] if isinstance(rule.body, Sequence) else rule.body
    return isinstance(first, Tag) and first.text == NUMBER_TAG


def is_signed(rule: Rule) -> bool:
    """Whether a number rule has a sign."""
    return _holds_tag(rule.body, "plus")


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


def _words(node: Node) -> Iterator[str]:
    match node:
        case Token():
            yield node.text
        case Sequence() | Choice():
            for part in node.parts:
                yield from _words(part)
        case Repeat():
            yield from _words(node.part)


def _wordings(node: Node, meter: Meter) -> list[str]:
    """The different sentences of a phrase, in order."""
    match node:
        case Token():
            return [node.text]
        case Sequence():
            said = [""]
            for part in node.parts:
                said = _followed(said, _wordings(part, meter), meter)
            return said
        case Choice():
            return _once(text for part in node.parts for text in _wordings(part, meter))
        case Repeat():
            once = _wordings(node.part, meter)
            so_often = [[""]]
            for _ in range(node.most):
                so_often.append(_followed(so_often[-1], once, meter))
            return _once(text for said in so_often[node.least :] for text in said)
        case _:
            return [""]


def _followed(said: list[str], more: list[str], meter: Meter) -> list[str]:
    """Each of the first with each of the others behind it."""
    followed: dict[str, None] = {}
    for before in said:
        for behind in more:
            meter.spend(1 + before.count(" ") + behind.count(" "))
            followed[f"{before} {behind}" if before and behind else before or behind] = None
    return list(followed)


def _once(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))


def references(node: Node) -> list[Reference]:
    """Every `$name` in a phrase."""
    match node:
        case Reference():
            return [node]
        case Sequence() | Choice():
            return [found for part in node.parts for found in references(part)]
        case Repeat():
            return references(node.part)
        case _:
            return []
