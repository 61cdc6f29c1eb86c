"""ABNF text to lexemes with line and column."""

from __future__ import annotations

import re
from dataclasses import dataclass

from voicelist.errors import DocumentError, Problem
from voicelist.grammar.budget import BUDGET, Meter
from voicelist.grammar.syntax import PhrasePlace

_PATTERN = re.compile(
    r"""
      (?P<space>\s+)
    | (?P<comment>//[^\n]*|/\*.*?\*/)
    | (?P<weight>/\s*(?:[0-9]{1,6}(?:\.[0-9]{0,6})?|\.[0-9]{1,6})\s*/)
    | (?P<tag>\{!\{.*?\}!\}|\{[^{}]*\})
    | (?P<repeat><\s*[0-9][^<>\n]*>)
    | (?P<address><[^<>\s]+>)
    | (?P<quoted>"[^"\n]*")
    | (?P<header>'[^'\n]*')
    | (?P<rule>\$[A-Za-z_][A-Za-z0-9_]*)
    | (?P<mark>[=|;()\[\]])
    | (?P<word>[^\W_][\w'.-]*!?)
    """,
    re.VERBOSE | re.DOTALL,
)

_TOLD_AT_MOST = 120

_REFUSED = {
    "$": "a rule name after $, such as $integer (grammar addresses are outside the subset)",
    "<": "a repeat such as <0-1> or <1-3>",
    "/": "a weight such as /2.5/ of at most six digits, or a comment",
    "{": "a tag closed by }",
    '"': "a quoted phrase closed on its line",
    "*": "a bounded repeat such as <0-3> (the star is outside the subset)",
    "+": "a bounded repeat such as <1-3> (the plus is outside the subset)",
}


@dataclass(frozen=True, slots=True)
class Lexeme:
    """`kind` is word, quoted, rule, tag, weight, repeat, mark or end; address and header (a text in
    single quotes) have their place in declarations only."""

    kind: str
    text: str
    place: PhrasePlace


def refuse(place: PhrasePlace, found: str, expected: str) -> DocumentError:
    """A one-problem error at a place; of a long text that was found only the beginning is told."""
    told = found if len(found) <= _TOLD_AT_MOST else f"{found[:_TOLD_AT_MOST]}..."
    return DocumentError((Problem(place.file, place.line, place.column, told, expected),))


def lex(text: str, file: str, line: int = 1, column: int = 1) -> list[Lexeme]:
    """All lexemes of `text`, which stands at `line`, `column` of `file`, and a closing `end`."""
    lexemes: list[Lexeme] = []
    meter = Meter(BUDGET.lexemes, "words and marks", PhrasePlace(file, line, column))
    position = 0
    while position < len(text):
        place = PhrasePlace(file, line, column)
        match = _PATTERN.match(text, position)
        if match is None:
            found = text[position]
            expected = _REFUSED.get(found, "a word, $rule, [ ], ( ), |, <n-m>, /weight/ or {tag}")
            raise refuse(place, f"'{found}'", f"expected {expected}")
        kind = match.lastgroup or ""
        if kind not in ("space", "comment"):
            meter.place = place
            meter.spend(len(match.group().split()) if kind == "quoted" else 1)
            lexemes.append(Lexeme(kind, match.group(), place))
        line, column = _advance(match.group(), line, column)
        position = match.end()
    lexemes.append(Lexeme("end", "", PhrasePlace(file, line, column)))
    return lexemes


def _advance(text: str, line: int, column: int) -> tuple[int, int]:
    breaks = text.count("\n")
    return (line + breaks, len(text) - text.rfind("\n")) if breaks else (line, column + len(text))
