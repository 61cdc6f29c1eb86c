"""How values, lists and near misses are put into the sentences of a Problem."""

from __future__ import annotations

from collections.abc import Collection

from rapidfuzz import fuzz, process

_LONGEST_QUOTE = 60
_NEAR = 60.0  # per cent; lower suggests words that nobody meant


def quoted(text: str) -> str:
    """The text in quotes, short and printable whatever it holds."""
    if len(text) > _LONGEST_QUOTE:
        text = text[: _LONGEST_QUOTE - 3] + "..."
    shown = (
        sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text
    )
    return '"' + "".join(shown) + '"'


def described(value: object) -> str:
    """What stands in the document, as words: `the text "no"`, `the number 12`, `a list`."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"the text {quoted(value)}" if value else "an empty text"
    if isinstance(value, int | float):
        return f"the number {number(value)}"
    if isinstance(value, list | tuple):
        return "a list" if value else "an empty list"
    return "keys with values" if value else "no keys and values"


def number(value: float) -> str:
    """A number without a needless `.0`."""
    return str(int(value)) if float(value).is_integer() else str(value)


def one_of(allowed: Collection[str]) -> str:
    words = [quoted(word) for word in allowed]
    return f"one of {', '.join(words)}" if len(words) > 1 else words[0]


def did_you_mean(word: str, allowed: Collection[str]) -> str:
    """`did you mean "...", ` with the nearest allowed word, or nothing if none is near."""
    near = process.extractOne(word, tuple(allowed), scorer=fuzz.ratio, score_cutoff=_NEAR)
    return "" if near is None else f"did you mean {quoted(near[0])}? "
