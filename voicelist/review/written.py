"""Tables as files: CSV for people, Arrow for programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from voicelist.errors import MissingPart
from voicelist.record.exports import guarded
from voicelist.review.tables import Cell, Row, Table

if TYPE_CHECKING:
    import pyarrow

_EXTRA = "install it with the extra for reviews: pip install 'voicelist[review]'"


def needed(name: str) -> Any:
    """A package that only a review needs. Raises MissingPart where it is not installed."""
    from importlib import import_module

    try:
        return import_module(name)
    except ModuleNotFoundError as error:
        raise MissingPart(f"A review needs the Python package {error.name}: {_EXTRA}.") from error


def as_csv(names: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A header and rows. No cell begins a formula of a spreadsheet; nothing is an empty cell."""
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    return sheet.getvalue()


def _plain(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.12g}"
    return guarded(str(cell))


def arrow_schema(table: Table) -> pyarrow.Schema:
    """The columns of a table as Arrow types; each keeps its unit and meaning."""
    pa = needed("pyarrow")
    types = {
        "text": pa.string(),
        "integer": pa.int64(),
        "real": pa.float64(),
        "boolean": pa.bool_(),
        "time": pa.timestamp("ms", tz="UTC"),
    }
    return pa.schema(
        [
            pa.field(one.name, types[one.kind], metadata={"unit": one.unit, "about": one.about})
            for one in table.columns
        ]
    )


def arrow_table(table: Table, rows: Sequence[Row]) -> pyarrow.Table:
    """Rows of a table as Arrow."""
    pa = needed("pyarrow")
    columns: list[Sequence[Any]] = list(zip(*rows, strict=True)) or [()] * len(table.columns)
    cells = [
        [_moment(cell) for cell in column] if one.kind == "time" else column
        for one, column in zip(table.columns, columns, strict=True)
    ]
    schema = arrow_schema(table)
    arrays = [
        pa.array(column, type=field.type) for column, field in zip(cells, schema, strict=True)
    ]
    return pa.Table.from_arrays(arrays, schema=schema)


def _moment(cell: Any) -> datetime | None:
    return None if cell is None else datetime.fromisoformat(cell)
