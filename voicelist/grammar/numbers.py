"""Spoken numbers: the tags of a number rule, in the order spoken, become one value.

How numbers may be read is data (`grammars/rules/numbers.abnf`); what a reading amounts to is here,
so that it is written down once: a whole number tag is a part; `hundred` multiplies; a unit after
tens adds ("twenty five"); anything after `hundred` adds; every other part is set beside what stands
("one fifty" = 150, "three twenty" = 320, "one oh five" = 105, digit by digit). `double` and
`triple` repeat the next part. After `point` parts are decimal digits. `plus`, `minus` are signs.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

NUMBER_TAG = "number"


def value_of(tags: Sequence[str]) -> float | int | None:
    """The value of the tags of one number rule, or None if they hold no number.

    Unknown tags are a defect of the rule file and raise ValueError.
    """
    reading = _NumberReading()
    for tag in tags:
        if tag != NUMBER_TAG:
            reading.take(tag)
    return reading.value()


class _NumberReading:
    def __init__(self) -> None:
        self.sign = 1
        self.whole: int | None = None
        self.decimals: str | None = None
        self.extra = Fraction(0)
        self.times = 1
        self.adds_below = 1  # the next part adds if it is above zero and below this

    def take(self, tag: str) -> None:
        if tag in ("plus", "minus"):
            self.sign = 1 if tag == "plus" else -1
        elif tag in ("double", "triple"):
            self.times = 2 if tag == "double" else 3
        elif tag == "hundred":
            self.whole, self.adds_below = (self.whole or 1) * 100, 100
        elif tag == "point":
            self.decimals = ""
        elif tag.startswith("add "):
            self.extra += Fraction(tag[4:])
        else:
            for _ in range(self.times):
                self.part(int(tag))
            self.times = 1

    def part(self, number: int) -> None:
        if self.decimals is not None:
            self.decimal(number)
        elif self.whole is not None and 0 < number < self.adds_below:
            self.whole += number
            self.adds_below = 10 if number >= 20 else 1
        else:
            self.whole = int(f"{self.whole or 0}{number}")
            self.adds_below = 10 if number >= 20 and number % 10 == 0 else 1

    def decimal(self, number: int) -> None:
        digits = self.decimals or ""
        if self.adds_below == 10 and digits.endswith("0") and 0 < number < 10:
            self.decimals, self.adds_below = digits[:-1] + str(number), 1
        else:
            self.decimals = digits + str(number)
            self.adds_below = 10 if number >= 20 else 1

    def value(self) -> float | int | None:
        if self.whole is None and not self.decimals and not self.extra:
            return None
        amount = Fraction(f"{self.whole or 0}.{self.decimals or 0}") + self.extra
        amount *= self.sign
        return int(amount) if amount.denominator == 1 else float(amount)
