"""The rules in a text in ABNF form, found without reading what they say: one by one, each with its
place, so that another one may stand in its stead."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from voicelist.documents.marks import Place
from voicelist.errors import DocumentError
from voicelist.grammar.lexer import Lexeme, lex

_LANGUAGE = re.compile(r"^\s*language\s+([A-Za-z]+)", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class RuleText:
    """One public rule: its name, where it stands, its words and marks without blanks and comments,
    and from which character to which it goes."""

    name: str
    place: Place
    lexemes: tuple[str, ...]
    start: int
    end: int


@lru_cache(maxsize=256)
def public_rules(text: str, file: str) -> Mapping[str, RuleText]:
    """The public rules of a text by name; none where it is no ABNF: reading it tells why."""
    begin = text.find(";") + 1
    head = text[:begin]
    line, column = head.count("\n") + 1, len(head) - head.rfind("\n")
    try:
        lexemes = lex(text[begin:], file, line, column)
    except DocumentError:
        return {}
    starts = _line_starts(text)
    found = {}
    for statement in _statements(lexemes):
        if [one.text for one in statement[:1]] == ["public"] and len(statement) > 2:
            first, last = statement[0].place, statement[-1].place
            name = statement[1].text.removeprefix("$")
            start = starts[first.line - 1] + first.column - 1
            end = starts[last.line - 1] + last.column
            words = tuple(one.text for one in statement)
            place = Place(file, first.line, first.column)
            found[name] = RuleText(name, place, words, start, end)
    return found


def without_rules(text: str, file: str, names: Collection[str]) -> str:
    """The text without some public rules; everything else stays where it stands."""
    for rule in public_rules(text, file).values():
        if rule.name in names:
            blank = re.sub(r"[^\n]", " ", text[rule.start : rule.end])
            text = f"{text[: rule.start]}{blank}{text[rule.end :]}"
    return text


def language_of(text: str) -> str:
    """The language that a text names, without its region; "" where it names none."""
    found = _LANGUAGE.search(text)
    return found[1].lower() if found else ""


def _statements(lexemes: list[Lexeme]) -> Iterator[list[Lexeme]]:
    """Up to each `;`, and with it."""
    statement: list[Lexeme] = []
    for one in lexemes:
        statement.append(one)
        if one.kind == "mark" and one.text == ";":
            yield statement
            statement = []


def _line_starts(text: str) -> list[int]:
    return [0, *(match.end() for match in re.finditer("\n", text))]
