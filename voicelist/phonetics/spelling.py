"""Phones of an English word from its spelling alone, for words that no table has: near enough to
say what it sounds like, and no more. The rules are from memory."""

from __future__ import annotations

import re
from collections.abc import Iterator

from voicelist.phonetics.phones import Phones, by_letters

# The first that fits at a place counts: letters, and the phones that they stand for.
_RULES = (
    *(("tion", "SH AX N"), ("sion", "ZH AX N"), ("ough", "AO"), ("igh", "AY"), ("tch", "CH")),
    *(("dge", "JH"), ("th", "TH"), ("sh", "SH"), ("ch", "CH"), ("ph", "F"), ("ck", "K")),
    *(("qu", "K W"), ("wh", "W"), ("ng", "NG"), ("kn", "N"), ("wr", "R"), ("gh", "G")),
    *(("ee", "IY"), ("ea", "IY"), ("oo", "UW"), ("ou", "AW"), ("ow", "OW"), ("oa", "OW")),
    *(("ai", "EY"), ("ay", "EY"), ("oi", "OY"), ("oy", "OY"), ("au", "AO"), ("aw", "AO")),
    *(("ew", "UW"), ("ie", "IY"), ("er", "AX R"), ("ir", "AX R"), ("ur", "AX R")),
    *(("ar", "AA R"), ("or", "AO R")),
)
_LONG = {"a": "EY", "e": "IY", "i": "AY", "o": "OW", "u": "UW"}
_LONG_VOWEL = re.compile(r"([aeiou])([^aeiouwxy])(e)(?=s?$)")


def by_spelling(word: str) -> Phones:
    """The phones of a word, unstressed vowels and silent letters guessed."""
    return tuple(" ".join(_phones(word.lower().replace("'", ""))).split())


def _phones(word: str) -> Iterator[str]:
    at = 0
    while at < len(word):
        long_vowel = _LONG_VOWEL.match(word, at)
        if long_vowel is not None:
            yield _LONG[long_vowel[1]]
            yield " ".join(by_letters(long_vowel[2])) if long_vowel[2] != "s" else "Z"
            at += 3
            continue
        letters, phones = next((one for one in _RULES if word.startswith(one[0], at)), ("", ""))
        if not letters:
            letters = word[at]
            doubled = word[at + 1 : at + 2] == letters and letters not in _LONG
            at += doubled
            phones = " ".join(by_letters(letters))
        yield phones
        at += len(letters)
