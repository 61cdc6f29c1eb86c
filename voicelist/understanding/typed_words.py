"""The words of a typed line, as they would be heard."""

from __future__ import annotations

import re

from num2words import num2words

_NUMBER = re.compile(r"([+-]?)(\d+(?:\.\d+)?)(%?)")
_IN_DIGITS_FROM = 1000
_BETWEEN_WORDS = re.compile(r"[^\w']+")


def typed_words(line: str, language: str) -> tuple[str, ...]:
    """The words of a line: lower case, no punctuation, figures as number words."""

    def in_words(match: re.Match[str]) -> str:
        sign = {"+": "plus ", "-": "minus "}.get(match[1], "")
        percent = " percent" if match[3] else ""
        said = " ".join(num2words(one, lang=language) for one in _parts(match[2]))
        return f" {sign}{said}{percent} "

    spelled = _NUMBER.sub(in_words, line.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'"))
    return tuple(word for word in _BETWEEN_WORDS.split(spelled) if word)


def _parts(figures: str) -> tuple[float | int, ...]:
    """A number as it is said: whole, or, where only the number of a case is as long, its digits."""
    if "." in figures:
        return (float(figures),)
    return (int(figures),) if int(figures) < _IN_DIGITS_FROM else tuple(map(int, figures))
