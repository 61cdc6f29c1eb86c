"""Numbers and lists as they are shown and spoken."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from num2words import num2words

from voicelist.documents.lexicon import Lexicon
from voicelist.documents.sentences import Sentences
from voicelist.session.case import Case

_NUMBER = re.compile(r"(?<![\w.])([+-]?)(\d+(?:\.\d+)?)(?![\w])")
_NAMES_AT_MOST = 3


def shown(value: object, *, signed: bool = False) -> str:
    """A value for a sentence: 350, 21.5, +21.5, fixed."""
    if isinstance(value, int | float):
        return f"{value:+g}" if signed else f"{value:g}"
    return str(value)


def shown_whole(number: int) -> str:
    """A whole number with all its digits, as it is written on a list."""
    return f"{number:d}"


@cache
def _digit_word(digit: str, language: str) -> str:
    return str(num2words(int(digit), lang=language))


def spoken(sentences: Sentences, lexicon: Lexicon, text: str) -> str:
    """The text for a voice: numbers digit by digit ("350" as "three five zero"), the lexicon's
    words as they should be said."""
    language = sentences.language.partition("-")[0]

    def by_digit(match: re.Match[str]) -> str:
        sign = {"+": "number.plus", "-": "number.minus"}.get(match[1])
        words = [sentences.text(sign)] if sign else []
        for character in match[2]:
            words.append(
                sentences.text("number.point")
                if character == "."
                else _digit_word(character, language)
            )
        return " ".join(words)

    return lexicon.to_speech(_NUMBER.sub(by_digit, text))


def listed(case: Case, names: Sequence[str]) -> str:
    """A short list of names: at most three, then how many more."""
    few = ", ".join(names[:_NAMES_AT_MOST])
    more = len(names) - _NAMES_AT_MOST
    return few if more <= 0 else case.bundle.sentences.text("and-more", names=few, count=more)
