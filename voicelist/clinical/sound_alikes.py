"""Numbers that sound alike: thirteen and thirty, fifteen and fifty, and so on.

The pairs are a fact of English number words (a teen against the ten of the same digit); that they
are confused in rooms is common practice, no source.
"""

from __future__ import annotations

_TEENS = range(13, 20)
# The words of those that are said in one, as the rules of numbers have them.
TWIN_WORDS = {
    "thirteen": "thirty",
    "fourteen": "forty",
    "fifteen": "fifty",
    "sixteen": "sixty",
    "seventeen": "seventy",
    "eighteen": "eighty",
    "nineteen": "ninety",
}


def twin(value: float) -> float | None:
    """The number that `value` may have been heard for, or None.

    The last two digits of the whole part decide: 13 and 30, 115 and 150, 21.5 has none.
    """
    whole = int(abs(value))
    ending, rest = whole % 100, abs(value) - whole % 100
    if ending in _TEENS:
        other = ending % 10 * 10
    elif ending % 10 == 0 and ending // 10 in range(3, 10):
        other = ending // 10 + 10
    else:
        return None
    return (rest + other) * (1 if value >= 0 else -1)
