"""The YAML parser's complaints as sentences with a remedy."""

from __future__ import annotations

import re

import yaml

from voicelist.documents.marks import Mark
from voicelist.documents.wording import quoted

_IN_QUOTES = 'expected a text in quotes where it holds ": " or starts with one of [ { * & ! % @ `'
_SENTENCES: tuple[tuple[str, str, str], ...] = (
    (r"found character '\\t'", "a tab", "expected spaces: YAML is indented with spaces"),
    (r"found character '(.)' that", r"the character \1 at the start of a text", _IN_QUOTES),
    (r"mapping values are not allowed", "a colon where none may stand", _IN_QUOTES),
    (
        r"found unexpected end of stream",
        "the end of the file inside quotes",
        "expected the closing quote",
    ),
    (r"could not find expected ':'", "a line without a colon", "expected key: value"),
    (r"found undefined alias", "an alias", "expected the value itself: write it out"),
    (
        r"expected <block end>, but found '<block",
        "a line whose indentation fits nothing above it",
        "expected the same indentation as the lines it belongs to",
    ),
    (r"expected <block end>, but found '<scalar>'", "text after a value has ended", _IN_QUOTES),
    (
        r"expected ',' or '([\]}])', but got '<stream end>'",
        r"the end of the file inside a bracket",
        r"expected the closing \1",
    ),
    (
        r"expected ',' or '([\]}])', but got",
        "something that does not belong inside a bracket",
        r"expected a comma or the closing \1; a text that starts with [ or { goes in quotes",
    ),
)


def sentence_of(error: yaml.YAMLError) -> tuple[str, str]:
    """What was found and what was expected."""
    if isinstance(error, yaml.reader.ReaderError):
        return (
            f"the character U+{_code_of(error.character):04X}, which no text document holds",
            "expected a plain text file",
        )
    problem = str(getattr(error, "problem", None) or "something that is not YAML")
    for pattern, found, expected in _SENTENCES:
        match = re.search(pattern, problem)
        if match:
            return match.expand(found), match.expand(expected)
    context = getattr(error, "context", None)
    where = f" ({context})" if context else ""
    return f"broken YAML: {quoted(problem)}{where}", "expected key: value lines and - lists"


def reader_mark(text: str, position: int) -> Mark:
    """Line and column of the character at `position`, which the YAML reader refused."""
    before = text[:position]
    return before.count("\n") + 1, position - (before.rfind("\n") + 1) + 1


def _code_of(character: object) -> int:
    return ord(character) if isinstance(character, str) else int(str(character))
