"""A card's settings as rows of text: one quantity a row, each with its unit."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.clinical.profile import TIMING, UNITS, timing_of
from voicelist.documents.card import GradeBand, Modulation, Setting, Settings
from voicelist.documents.wording import number
from voicelist.record.words import named


@dataclass(frozen=True, slots=True)
class CardRow:
    """One quantity of a phase; `value` with `minimum to` before it where the pedal moves it."""

    quantity: str
    name: str
    value: str
    unit: str
    control: str
    tolerance: str

    @property
    def words(self) -> str:
        """All of it in one cell: "0 to 40 % linear, ± 5"."""
        text = " ".join(part for part in (self.value, self.unit, self.control) if part)
        return f"{text}, ± {self.tolerance}" if self.tolerance else text


def rows_of(settings: Settings | None) -> tuple[CardRow, ...]:
    """The quantities that a phase of a card names, in the order of the model."""
    if settings is None:
        return ()
    rows: list[CardRow] = []
    for field in type(settings).model_fields:
        one = getattr(settings, field)
        if isinstance(one, Setting):
            rows.append(_setting(field, one))
        elif isinstance(one, Modulation):
            rows += _modulation(one)
        elif one is not None:
            rows.append(_plain(field, one))
    return tuple(rows)


def band_words(band: GradeBand) -> str:
    """ "clinical 3", "locs3-no 2.5 to 3.4"."""
    return f"{band.scale} {range_words(band.from_value, band.to_value)}"


def range_words(low: float, high: float) -> str:
    return number(low) if low == high else f"{number(low)} to {number(high)}"


def _setting(field: str, one: Setting) -> CardRow:
    value = number(one.value)
    if one.control == "linear":
        value = f"{number(one.minimum or 0)} to {value}"
    return CardRow(
        field, named(field)[0], value, UNITS.get(field, ""), one.control, number(one.tolerance)
    )


def _modulation(modulation: Modulation) -> list[CardRow]:
    rows = []
    for field in type(modulation).model_fields:
        one = getattr(modulation, field)
        if field == "kind":
            rows.append(_plain("modulation", one))
        elif one is not None:
            rows.append(_plain(field, one))
    return rows


def worked_out(settings: Settings | None) -> str:
    """What the card's figures of pulses amount to: "25 ms a pulse, 6 on and 19 off, duty 24 %"; ""
    where they do not settle a train."""
    modulation = settings.modulation if settings is not None else None
    if modulation is None:
        return ""
    given = {name: getattr(modulation, name) for name in TIMING}
    timing = timing_of({name: one for name, one in given.items() if one is not None})
    if timing is None:
        return ""
    on, off = f"{timing.on_time_ms:.3g}", f"{timing.off_time_ms:.3g}"
    duty = f"duty {timing.duty_percent:.3g} %"
    return f"{timing.period_ms:.3g} ms a pulse, {on} on and {off} off, {duty}"


def _plain(field: str, one: object) -> CardRow:
    """A value without control or tolerance: words, true or false, or a number with its unit."""
    if isinstance(one, bool):
        value = "yes" if one else "no"
    else:
        value = number(one) if isinstance(one, int | float) else str(one)
    return CardRow(field, named(field)[0], value, UNITS.get(field, "").removeprefix(" "), "", "")
