"""Two cards side by side: what differs, by grade, phase and quantity. Pure.

Bands of two cards may be cut differently. So each scale is cut wherever either card begins or ends
a band, and neighbouring pieces that differ in the same way are told as one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from voicelist.authoring.rows import rows_of
from voicelist.documents.card import Card, GradeBand
from voicelist.documents.names import PHASES, SCALE_LIMITS
from voicelist.documents.wording import number

NOTHING = "not on the card"


@dataclass(frozen=True, slots=True)
class CardDifference:
    """`grade` and `phase` are "" where the difference is not about one."""

    grade: str
    phase: str
    quantity: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class _Piece:
    """Grades of one scale from `low` to `high`; an open end does not belong to it."""

    scale: str
    low: float
    high: float
    low_open: bool
    high_open: bool

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2

    @property
    def words(self) -> str:
        if self.low == self.high:
            return f"{self.scale} {number(self.low)}"
        if self.low_open or self.high_open:
            low = f"{'above' if self.low_open else 'from'} {number(self.low)}"
            return f"{self.scale} {low} {'below' if self.high_open else 'to'} {number(self.high)}"
        return f"{self.scale} {number(self.low)} to {number(self.high)}"


def differences(first: Card, second: Card) -> tuple[CardDifference, ...]:
    """Everything that differs but the cards' ids; empty if nothing does."""
    return (
        *_graded(first, second),
        *_of_incision(first, second),
        *_of_what_else(first, second),
        *_of_language(first, second),
    )


def _graded(first: Card, second: Card) -> Iterator[CardDifference]:
    for scale in SCALE_LIMITS:
        told: list[tuple[_Piece, tuple[CardDifference, ...]]] = []
        for piece in _pieces(scale, (*first.grades, *second.grades)):
            here = _at(first, second, piece)
            if told and told[-1][1] == here:
                last = told[-1][0]
                grown = replace(last, high=piece.high, high_open=piece.high_open)
                told[-1] = (grown, here)
            else:
                told.append((piece, here))
        for piece, found in told:
            for one in found:
                yield replace(one, grade=piece.words)


def _pieces(scale: str, bands: Sequence[GradeBand]) -> Iterator[_Piece]:
    """Every bound by itself, and what lies between two of them."""
    mine = [band for band in bands if band.scale == scale]
    bounds = sorted({end for band in mine for end in (band.from_value, band.to_value)})
    for low, high in pairwise(bounds):
        yield _Piece(scale, low, low, False, False)
        yield _Piece(scale, low, high, True, True)
    for last in bounds[-1:]:
        yield _Piece(scale, last, last, False, False)


def _at(first: Card, second: Card, piece: _Piece) -> tuple[CardDifference, ...]:
    found: list[CardDifference] = []
    for phase in PHASES:
        one, other = (
            {
                row.quantity: row
                for row in rows_of(card.settings_for(piece.scale, piece.middle, phase))
            }
            for card in (first, second)
        )
        if bool(one) != bool(other):
            words = ["settings" if rows else NOTHING for rows in (one, other)]
            found.append(CardDifference("", phase, "the whole phase", *words))
            continue
        for quantity in dict.fromkeys((*one, *other)):
            left, right = one.get(quantity), other.get(quantity)
            if left != right:
                name = (left or right).name  # type: ignore[union-attr] # one of them is there
                words = [row.words if row else NOTHING for row in (left, right)]
                found.append(CardDifference("", phase, name, *words))
    return tuple(found)


def _of_incision(first: Card, second: Card) -> Iterator[CardDifference]:
    words = []
    for card in (first, second):
        one = card.incision
        words.append(
            f"{number(one.separation_deg)} ± {number(one.tolerance_deg)} degrees"
            if one
            else NOTHING
        )
    if words[0] != words[1]:
        yield CardDifference("", "", "main incision to side port", *words)


def _of_what_else(first: Card, second: Card) -> Iterator[CardDifference]:
    for key in dict.fromkeys((*first.also, *second.also)):
        one, other = first.also.get(key, NOTHING), second.also.get(key, NOTHING)
        if one != other:
            yield CardDifference("", "", key.replace("-", " "), one, other)


def _of_language(first: Card, second: Card) -> Iterator[CardDifference]:
    if first.language != second.language:
        yield CardDifference("", "", "language", first.language, second.language)
