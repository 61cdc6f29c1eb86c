"""The ABNF form of the W3C Speech Recognition Grammar Specification 1.0, a stated subset.

Read: `$rule`, sequences, `( a | b )`, `[optional]`, repeats `<n>` and `<n-m>`, `/weight/`, `{tag}`,
`$NULL`, `$VOID`, `public`, `private`, `root`, `language`, `mode voice`, `tag-format`, `meta`,
comments. Everything else of the specification (grammar addresses, unbounded repeats, `$GARBAGE`,
language attachments, recursion) is an error that names its line and column.
Source: W3C Recommendation, 16 March 2004, sections 2 to 4.
"""

from __future__ import annotations

import re
from functools import lru_cache

from voicelist.grammar.budget import BUDGET
from voicelist.grammar.lexer import Lexeme, lex, refuse
from voicelist.grammar.syntax import (
    Choice,
    Node,
    Null,
    PhrasePlace,
    Reference,
    Repeat,
    Rule,
    RuleFile,
    Sequence,
    Tag,
    Token,
    Void,
)

_HEADER = re.compile(r"\s*#ABNF 1\.0(?: [A-Za-z0-9._-]+)?;")
_REPEAT = re.compile(r"<\s*(\d+)\s*(?:(-)\s*(\d+)?)?\s*(/\s*[\d.]+\s*/)?\s*>")
_LONGEST_REPEAT = 40  # signs of a repeat, blanks and weight included
_SET_ASIDE = ("mode", "tag-format", "meta", "http-equiv")


def parse_expansion(text: str, file: str, line: int = 1, column: int = 1) -> Node:
    """The right-hand side of a rule, as it stands in a checklist."""
    reader = _Reader(lex(text, file, line, column))
    node = reader.expansion()
    reader.expect_end("the end of the phrase")
    return node


@lru_cache(maxsize=64)
def parse_rules(text: str, file: str) -> RuleFile:
    """A whole ABNF document; the same text is read once."""
    header = _HEADER.match(text)
    if header is None:
        raise refuse(PhrasePlace(file, 1, 1), "no ABNF header", "expected '#ABNF 1.0 UTF-8;' first")
    line = 1 + header.group().count("\n")
    column = len(header.group()) - header.group().rfind("\n")
    return _Reader(lex(text[header.end() :], file, line, column)).document(file)


class _Reader:
    def __init__(self, lexemes: list[Lexeme]) -> None:
        self._lexemes = lexemes
        self._at = 0
        self._depth = 0

    @property
    def here(self) -> Lexeme:
        return self._lexemes[self._at]

    def take(self) -> Lexeme:
        lexeme = self.here
        self._at += 1
        return lexeme

    def takes(self, text: str) -> bool:
        if self.here.kind == "mark" and self.here.text == text:
            self._at += 1
            return True
        return False

    def expect(self, text: str, after: str) -> None:
        if not self.takes(text):
            raise self.unexpected(f"'{text}' {after}")

    def expect_end(self, what: str) -> None:
        if self.here.kind != "end":
            raise self.unexpected(what)

    def unexpected(self, expected: str) -> Exception:
        found = f"'{self.here.text}'" if self.here.text else "the end of the text"
        return refuse(self.here.place, found, f"expected {expected}")

    def document(self, file: str) -> RuleFile:
        language, root = "", None
        root_place = self.here.place
        rules: dict[str, Rule] = {}
        while self.here.kind != "end":
            if self.here.kind == "word" and self.here.text == "language":
                self.take()
                language = self.language()
                self.expect(";", "after the language")
            elif self.here.kind == "word" and self.here.text == "root":
                root_place = self.take().place
                root = self.rule_name()
                self.expect(";", "after the root rule")
            elif self.here.kind == "word" and self.here.text in _SET_ASIDE:
                self.declaration()
            else:
                rule = self.rule()
                if rule.name in rules:
                    found = f"rule ${rule.name} again"
                    raise refuse(rule.place, found, "expected each rule name once in a file")
                rules[rule.name] = rule
        if root is not None and root not in rules:
            raise refuse(root_place, f"root ${root}", "expected a rule of that name in this file")
        return RuleFile(file, language, root, tuple(rules.values()))

    def language(self) -> str:
        if self.here.kind != "word":
            raise self.unexpected("a language tag such as en-US")
        return self.take().text

    def declaration(self) -> None:
        first = self.take()
        if first.text == "mode" and self.here.text != "voice":
            raise self.unexpected("'voice' (other modes are outside the subset)")
        while not self.takes(";"):
            if self.here.kind == "end":
                raise self.unexpected(f"';' after {first.text}")
            self.take()

    def rule_name(self) -> str:
        if self.here.kind != "rule":
            raise self.unexpected("a rule name such as $order")
        return self.take().text[1:]

    def rule(self) -> Rule:
        public = False
        if self.here.kind == "word" and self.here.text in ("public", "private"):
            public = self.take().text == "public"
        place = self.here.place
        name = self.rule_name()
        self.expect("=", f"after ${name}")
        body = self.expansion()
        self.expect(";", f"at the end of rule ${name}")
        return Rule(name, public, body, place)

    def expansion(self) -> Node:
        parts, weights = [], []
        while True:
            weights.append(self.weight())
            parts.append(self.sequence())
            if not self.takes("|"):
                break
        return parts[0] if len(parts) == 1 else Choice(tuple(parts), tuple(weights))

    def weight(self) -> float:
        if self.here.kind != "weight":
            return 1.0
        lexeme = self.take()
        value = float(lexeme.text.strip("/ "))
        if value <= 0.0:
            raise refuse(lexeme.place, f"weight {value}", "expected a weight above zero")
        return value

    def sequence(self) -> Node:
        parts: list[Node] = []
        while (part := self.element()) is not None:
            parts.append(self.repeated(part))
        if not parts:
            raise self.unexpected("a word, $rule, group or tag")
        return parts[0] if len(parts) == 1 else Sequence(tuple(parts))

    def element(self) -> Node | None:
        here = self.here
        if here.kind == "word":
            return self.word()
        if here.kind == "quoted":
            return self.quoted()
        if here.kind == "rule":
            return self.reference()
        if here.kind == "tag":
            text = self.take().text
            return Tag((text[3:-3] if text.startswith("{!{") else text[1:-1]).strip())
        if self.takes("("):
            return self.bracketed(")", "to close the group")
        if self.takes("["):
            return Repeat(self.bracketed("]", "to close the optional part"), 0, 1)
        return None

    def bracketed(self, closing: str, why: str) -> Node:
        self._depth += 1
        deepest = BUDGET.brackets_deep
        if self._depth > deepest:
            raise refuse(self.here.place, f"more than {deepest} brackets", "expected fewer")
        inner = self.expansion()
        self.expect(closing, why)
        self._depth -= 1
        return inner

    def word(self) -> Token:
        lexeme = self.take()
        if lexeme.text.endswith("!"):
            raise refuse(
                lexeme.place, f"'{lexeme.text}'", "expected no language attached to a word"
            )
        return Token(lexeme.text.lower(), lexeme.place)

    def quoted(self) -> Node:
        lexeme = self.take()
        words = lexeme.text[1:-1].lower().split()
        if not words:
            raise refuse(lexeme.place, '""', "expected at least one word between the quotes")
        tokens = tuple(Token(word, lexeme.place) for word in words)
        return tokens[0] if len(tokens) == 1 else Sequence(tokens)

    def reference(self) -> Node:
        lexeme = self.take()
        name = lexeme.text[1:]
        if name == "NULL":
            return Null()
        if name == "VOID":
            return Void()
        if name == "GARBAGE":
            raise refuse(lexeme.place, "$GARBAGE", "expected words: it is outside the subset")
        return Reference(name, lexeme.place)

    def repeated(self, part: Node) -> Node:
        stacked = 0
        while self.here.kind == "repeat":
            lexeme = self.take()
            stacked += 1
            if stacked > BUDGET.repeats_stacked:
                found = f"more than {BUDGET.repeats_stacked} repeats one behind the other"
                raise refuse(lexeme.place, found, "expected one repeat such as <1-3>")
            part = Repeat(part, *_counts(lexeme))
        return part


def _counts(lexeme: Lexeme) -> tuple[int, int]:
    """The least and the most of a repeat."""
    short = lexeme.text if len(lexeme.text) <= _LONGEST_REPEAT else ""
    match = _REPEAT.fullmatch(short)
    if match is None or (match[2] and match[3] is None):
        raise refuse(lexeme.place, lexeme.text, "expected a bounded repeat such as <1-3>")
    least = int(match[1])
    most = int(match[3]) if match[2] else least
    if not least <= most <= BUDGET.repeats:
        expected = f"expected <least-most> with least <= most <= {BUDGET.repeats}"
        raise refuse(lexeme.place, lexeme.text, expected)
    return least, most
