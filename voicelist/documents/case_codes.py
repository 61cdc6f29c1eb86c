"""Whether a case code looks like something that names a patient.

A code stands in every record and export, so it should be a site's own running number. What looks
like a person's number, a date of birth or a name is warned about, never refused: only people know
what it is. Shapes are a project choice; national numbers have 8 to 13 digits (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Final

_MOST_DIGITS: Final = 7
_NEAR_DAYS: Final = 366  # a code may hold the day of the operation
_DAY, _MONTH, _YEAR, _SHORT = r"(\d{1,2})", r"(\d{1,2})", r"((?:19|20)\d\d)", r"(\d\d)"
_GAP = r"([-./ _])"
# Year, month, day; or day and month in either order and the year. Without gaps two digits each.
_DATES: Final = tuple(
    re.compile(rf"(?<!\d){pattern}(?!\d)")
    for pattern in (
        rf"{_YEAR}{_GAP}{_MONTH}\2{_DAY}",
        rf"{_DAY}{_GAP}{_MONTH}\2{_YEAR}",
        rf"{_DAY}{_GAP}{_MONTH}\2{_SHORT}",
        r"((?:19|20)\d\d)(\d\d)(\d\d)",
        r"(\d\d)(\d\d)((?:19|20)\d\d)",
        r"(\d\d)(\d\d)(\d\d)",
    )
)
_DIGITS = re.compile(r"\d+(?:[-./ _]\d+)*")
_WORD = re.compile(r"[^\W\d_]{2,}")
_ORDINARY: Final = frozenset(
    ("left", "right", "first", "second", "eye", "case", "list", "room", "practice", "test")
)


def looks_identifying(code: str, today: date | None = None) -> str:
    """What the code looks like ("a date of birth", "a person's number", "a name"); "" if nothing.
    A date within a year of `today` is taken for the day of the operation."""
    return next(_likenesses(code, today or date.today()), "")


def _likenesses(code: str, today: date) -> Iterator[str]:
    rest = code
    for pattern in _DATES:
        for found in pattern.finditer(rest):
            parts = [part for part in found.groups() if part.isdigit()]
            days = tuple(_days(parts))
            if any(abs((day - today).days) <= _NEAR_DAYS for day in days):
                rest = rest.replace(found[0], " day ")
            elif days:
                yield "a date of birth"
    if any(sum(map(str.isdigit, run)) > _MOST_DIGITS for run in _DIGITS.findall(rest)):
        yield "a person's number"
    if _like_a_name(code):
        yield "a name"


def _like_a_name(code: str) -> bool:
    """Two words, and one of them not ordinary: with a space, a comma or the like between them, with
    capitals, or without any digit."""
    words = _WORD.findall(code)
    if len(words) < 2 or {word.lower() for word in words} <= _ORDINARY:
        return False
    apart = any(mark in code for mark in " ,_.")
    capitals = sum(word.istitle() for word in words) > 1
    return apart or capitals or not any(map(str.isdigit, code))


def _days(parts: list[str]) -> Iterator[date]:
    """The days that three numbers can be."""
    first, middle, last = parts
    orders = [(last, middle, first), (last, first, middle)]
    if len(first) == 4:
        orders = [(first, middle, last)]
    elif len(last) == 2:
        orders.append((first, middle, last))
    for year, month, day in orders:
        for full in (int(year),) if len(year) == 4 else (1900 + int(year), 2000 + int(year)):
            try:
                yield date(full, int(month), int(day))
            except ValueError:
                continue
