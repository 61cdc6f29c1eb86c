"""Cards as tables for a terminal; every one carries the caution."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from voicelist import CAUTION
from voicelist.authoring.comparing import CardDifference, differences
from voicelist.authoring.rows import band_words, rows_of, worked_out
from voicelist.documents.card import Card, GradeBand
from voicelist.documents.loading import load_card
from voicelist.documents.names import PHASES
from voicelist.documents.wording import number


def shown_card(path: Path) -> Iterator[RenderableType]:
    """The card of a file, a table a band. Raises DocumentError."""
    card = load_card(path).document
    yield Text(f"Card {card.id} ({card.language})", style="bold")
    for band in card.grades:
        yield Text()
        yield _band_table(band)
        for phase in PHASES:
            pulses = worked_out(band.phases.get(phase))
            if pulses:
                yield Text(f"Worked out from the pulses for {phase}: {pulses}.")
        without = [phase for phase in PHASES if phase not in band.phases]
        if without:
            yield Text(f"Nothing on the card for: {', '.join(without)}.")
    yield Text()
    yield Text(_incision_words(card))
    for key, words in card.also.items():
        yield Text(f"Also: {key.replace('-', ' ')}, {words}.")
    yield Text(CAUTION)


def compared_cards(first: Path, second: Path) -> Iterator[RenderableType]:
    """What differs between the cards of two files. Raises DocumentError."""
    one, other = load_card(first).document, load_card(second).document
    names = (one.id, other.id) if one.id != other.id else (str(first), str(second))
    found = differences(one, other)
    if found:
        table = Table(title=f"{names[0]} and {names[1]}: {len(found)} differences", title_style="")
        for heading in ("grade", "phase", "quantity", *names):
            table.add_column(Text(heading))
        before = CardDifference("", "", "", "", "")
        for each in found:
            new_grade = each.grade != before.grade
            if new_grade:
                table.add_section()
            grade = (each.grade or "the whole card") if new_grade or before.quantity == "" else ""
            phase = each.phase if new_grade or each.phase != before.phase else ""
            table.add_row(*map(Text, (grade, phase, each.quantity, each.first, each.second)))
            before = each
        yield table
    else:
        yield Text(f"{names[0]} and {names[1]} do not differ.")
    yield Text(CAUTION)


def _band_table(band: GradeBand) -> Table:
    table = Table(title=f"grade {band_words(band)}", title_justify="left", title_style="bold")
    for heading in ("phase", "quantity", "value", "unit", "control", "tolerance"):
        table.add_column(heading, justify="right" if heading in ("value", "tolerance") else "left")
    for phase in PHASES:
        for number_of_row, row in enumerate(rows_of(band.phases.get(phase))):
            if number_of_row == 0:
                table.add_section()
            tolerance = f"± {row.tolerance}" if row.tolerance else ""
            cells = (row.name, row.value, row.unit, row.control, tolerance)
            table.add_row("" if number_of_row else phase, *map(Text, cells))
    return table


def _incision_words(card: Card) -> str:
    if card.incision is None:
        return "Nothing on the card about the incisions."
    return (
        f"Main incision to side port: {number(card.incision.separation_deg)} degrees, "
        f"± {number(card.incision.tolerance_deg)}."
    )
