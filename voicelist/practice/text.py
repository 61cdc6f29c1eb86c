"""A sheet as text for a terminal: 80 columns, rows that go on below their own words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from voicelist import CAUTION
from voicelist.practice.sheet import BANNER, SheetPart, WallSheet

_WIDTH = 80
_INDENT = "  "


def as_text(sheet: WallSheet) -> str:
    """The whole sheet, without its pictures."""
    return "\n".join(_lines(sheet)) + "\n"


def _lines(sheet: WallSheet) -> Iterator[str]:
    yield BANNER
    yield sheet.title
    yield "=" * min(len(sheet.title), _WIDTH)
    for name, value in sheet.facts:
        yield from _wrapped(f"{name}: {value}", "")
    for part in sheet.parts:
        yield ""
        yield part.title
        yield "-" * len(part.title)
        yield from (textwrap.wrap(part.lead, _WIDTH) if part.rows else [part.empty])
        yield from _rows(part)
    yield ""
    for note in (*sheet.notes, CAUTION):
        yield from textwrap.wrap(note, _WIDTH)


def _rows(part: SheetPart) -> Iterator[str]:
    rows = part.rows[: part.in_text]
    if rows:
        yield from _table(part, rows)
    if len(rows) < len(part.rows):
        yield f"{len(part.rows) - len(rows)} more stand on the page (-o PAGE.html)."


def _table(part: SheetPart, rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Short cells as columns; where a row is too wide, cell below cell."""
    every = (part.columns, *rows)
    widths = [max(len(row[at]) for row in every) for at in range(len(part.columns))]
    whole = not any("\n" in cell for row in rows for cell in row)
    if whole and sum(widths) + 2 * len(widths) <= _WIDTH:
        for row in every:
            yield _INDENT.join(
                cell.rjust(width) if at in part.figures else cell.ljust(width)
                for at, (cell, width) in enumerate(zip(row, widths, strict=True))
            ).rstrip()
        return
    for row in rows:
        yield from _wrapped(row[0], "")
        for name, cell in zip(part.columns[1:], row[1:], strict=True):
            first, *more = cell.splitlines() or [""]
            yield from _wrapped(f"{name}: {first}", _INDENT)
            for line in more:
                yield from _wrapped(line, _INDENT * 2)


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        text, _WIDTH, initial_indent=indent, subsequent_indent=indent + _INDENT
    ) or [indent]
