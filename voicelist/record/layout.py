"""The tables of the store, and the numbered steps from each earlier layout to this one.

A database says its layout by a number. Before anything is written, the steps that it lacks are
taken in one transaction: after a cut of the power or a kill it has the old layout or the new one.

1. `journal`. In its time `voicelist_case_line` was added where it was missing, without a number.
2. `voicelist_case_line` in every store, and `voicelist_erased`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final

from sqlalchemy import (
    BigInteger,
    Column,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    insert,
    inspect,
    select,
    text,
    update,
)
from sqlalchemy.engine import Connection
from sqlalchemy.exc import SQLAlchemyError

from voicelist.errors import RecordError

LAYOUT: Final = 2
METADATA = MetaData()
JOURNAL = Table(
    "journal",
    METADATA,
    Column("case", String(64), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", String(24), nullable=False),
    Column("run", String(32), nullable=False),
    Column("mono_ms", BigInteger, nullable=False),
    Column("kind", String(32), nullable=False),
    Column("body", Text, nullable=False),
    Column("prev", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
)
# What a list says of a case that has ended, up to the event `seq`: worked out once, when its writer
# closes. It is a copy to save time; the journal alone counts, and verification looks there. A row
# whose `line` is empty says only that a run began with the event `seq`.
CASE_LINES = Table(
    "voicelist_case_line",
    METADATA,
    Column("case", String(64), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("hash", String(64), nullable=False),
    Column("line", Text, nullable=False),
)
# What is left of a case that was erased; `case` is "" where even its code was to go.
ERASED = Table(
    "voicelist_erased",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("case", String(64), nullable=False),
    Column("started_at", String(24), nullable=False),
    Column("erased_at", String(24), nullable=False),
    Column("events", Integer, nullable=False),
    Column("head", String(64), nullable=False),
    Column("role", String(32), nullable=False),
    Column("reason", Text, nullable=False),
)
# The table of a department's server, which is not for one theatre to write to or list.
DEPARTMENT: Final = "voicelist_journal"
_LAYOUTS = Table("voicelist_layout", METADATA, Column("version", Integer, primary_key=True))


def _first(connection: Connection) -> None:
    JOURNAL.create(connection, checkfirst=True)


def _second(connection: Connection) -> None:
    CASE_LINES.create(connection, checkfirst=True)
    ERASED.create(connection)


# Each leads from the layout before its number to its number.
STEPS: Final[dict[int, Callable[[Connection], None]]] = {1: _first, 2: _second}


def prepare(connection: Connection) -> None:
    """Makes the tables of a new database, or takes the steps that an older one lacks, all or none.
    Raises RecordError if a newer voicelist made them."""
    with connection.begin():
        _LAYOUTS.create(connection, checkfirst=True)
        found = connection.scalar(select(_LAYOUTS.c.version))
        if found is None:
            connection.execute(insert(_LAYOUTS).values(version=LAYOUT))
        else:
            _refuse_newer(found)
        for number in range((found or 0) + 1, LAYOUT + 1):
            STEPS[number](connection)
        if found not in {None, LAYOUT}:
            connection.execute(update(_LAYOUTS).values(version=LAYOUT))


def holds_records(connection: Connection) -> bool:
    """Whether there are any tables of ours. Raises RecordError if a newer voicelist made them, or
    for a department's server."""
    tables = inspect(connection)
    if not tables.has_table(JOURNAL.name):
        if tables.has_table(DEPARTMENT):
            raise RecordError(
                "This is a department's server, with the records of several theatres: look at them "
                "with voicelist review, or at single ones on the theatre's own computer."
            )
        return False
    _refuse_newer(connection.scalar(select(_LAYOUTS.c.version)))
    return True


def has_table(connection: Connection, table: Table) -> bool:
    """Whether a database, perhaps of an earlier layout, has the table."""
    return inspect(connection).has_table(table.name)


def _refuse_newer(version: int | None) -> None:
    if version is None or version > LAYOUT:
        raise RecordError(
            f"These records have layout {version}; this version of voicelist knows layout "
            f"{LAYOUT}. Use the newer version that wrote them."
        )


def integrity_problems(connection: Connection) -> tuple[str, ...]:
    """What SQLite finds amiss in the tables of the journal and their indexes, at most 20 sentences:
    a damaged page can hide rows without changing any. Nothing for other databases."""
    if connection.dialect.name != "sqlite":
        return ()
    rows = connection.exec_driver_sql("PRAGMA integrity_check(20)").scalars()
    return tuple(f"The database is damaged: {row}." for row in rows if row != "ok")


_LAST_ROW = text('SELECT MAX(rowid) FROM journal WHERE "case" = :case')
# From row to row in the order of writing, without the index that may be damaged.
_BEHIND = text('SELECT seq FROM journal NOT INDEXED WHERE rowid > :last AND "case" = :case LIMIT 1')
_NOTED_END = text(
    f"""SELECT 1 FROM {CASE_LINES.name} AS noted JOIN journal USING ("case", seq, hash)
    WHERE "case" = :case AND noted.line <> ''
    AND seq = (SELECT MAX(seq) FROM journal WHERE "case" = :case)"""
)


def hidden_rows(connection: Connection, case: str) -> str:
    """A sentence if SQLite's file holds events of a case behind those that its index names, or "".

    Events are only ever added, so whatever a damaged index hides at the end of a case lies behind
    the last row that is known. A case whose writer noted its end needs no look, for its events are
    counted. So only an open case costs time, by what was written after it.
    """
    if connection.dialect.name != "sqlite":
        return ""
    try:
        known = has_table(connection, CASE_LINES)
        if known and connection.scalar(_NOTED_END, {"case": case}) is not None:
            return ""
        last = connection.scalar(_LAST_ROW, {"case": case}) or 0
        hidden = connection.scalar(_BEHIND, {"case": case, "last": last})
    except (SQLAlchemyError, sqlite3.Error) as error:
        reason = str(getattr(error, "orig", None) or error).splitlines()[0]
        return f"The database is damaged: {reason}."
    if hidden is None:
        return ""
    return (
        f"The database is damaged: it holds event {hidden} of this case, which its index does not "
        "name."
    )
