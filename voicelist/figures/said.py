"""What was said of a profile, beside what the card had: the rows of a picture. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from voicelist.clinical.profile import UNITS
from voicelist.record.view import ItemView


@dataclass(frozen=True, slots=True)
class SaidRow:
    """One quantity in its unit: the card's value with its tolerance, what stands at the end, and
    `earlier`, what was said before that. `controls` are as said ("" if not) and as on the card."""

    quantity: str
    unit: str
    card: float
    tolerance: float
    said: float
    earlier: tuple[float, ...]
    controls: tuple[str, str]
    accepted: bool

    @property
    def fits(self) -> bool:
        return abs(self.said - self.card) <= self.tolerance

    @property
    def room(self) -> tuple[float, float]:
        """From where to where the row is drawn: all that was said, and twice the tolerance."""
        apart = [abs(one - self.card) for one in (self.said, *self.earlier)]
        widest = max(*apart, 2 * self.tolerance)
        widest = max(widest * 1.15, abs(self.card) * 0.1, 1.0)
        return max(self.card - widest, 0.0), self.card + widest


def said_rows(item: ItemView) -> tuple[SaidRow, ...]:
    """The settings of an answered profile that the card has a number for."""
    return tuple(_rows(item))


def _rows(item: ItemView) -> Iterator[SaidRow]:
    for quantity in UNITS:
        said, expected = item.values.get(quantity) or {}, item.expected.get(quantity) or {}
        if not (_is_setting(said) and _is_setting(expected)):
            continue
        heard = [
            one.heard
            for one in item.mismatches
            if one.quantity == quantity and isinstance(one.heard, int | float)
        ]
        yield SaidRow(
            quantity,
            UNITS[quantity],
            float(expected["value"]),
            float(expected.get("tolerance") or 0.0),
            float(said["value"]),
            tuple(dict.fromkeys(float(one) for one in heard if one != said["value"])),
            (str(said.get("control") or ""), str(expected.get("control") or "")),
            any(one.outcome == "accepted" for one in item.mismatches if one.quantity == quantity),
        )


def _is_setting(value: Any) -> bool:
    return isinstance(value, Mapping) and isinstance(value.get("value"), int | float)
