"""How the store reaches its database, and what it insists on at every connection."""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    Column,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    create_engine,
    event,
    func,
    insert,
    inspect,
    select,
)
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from voicelist.errors import MissingPart, RecordError, UsageError
from voicelist.places import data_folder

LAYOUT: Final = 1
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
# closes. It is a copy to save time; the journal alone counts, and verification looks there.
CASE_LINES = Table(
    "voicelist_case_line",
    METADATA,
    Column("case", String(64), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("hash", String(64), nullable=False),
    Column("line", Text, nullable=False),
)
# The table of a department's server, which is not for one theatre to write to or list.
DEPARTMENT: Final = "voicelist_journal"
_LAYOUTS = Table("voicelist_layout", METADATA, Column("version", Integer, primary_key=True))

_BUSY_MS = 5000
# SQLite only syncs every commit in WAL mode with FULL; fullfsync matters on macOS alone.
_WRITER_PRAGMAS: Mapping[str, int | str] = {
    "busy_timeout": _BUSY_MS,
    "journal_mode": "wal",
    "synchronous": 2,
    "foreign_keys": 1,
    "fullfsync": 1,
    "checkpoint_fullfsync": 1,
}
_READER_PRAGMAS: Mapping[str, int | str] = {
    "busy_timeout": _BUSY_MS,
    "foreign_keys": 1,
    "query_only": 1,
}


@dataclass(frozen=True, slots=True)
class Place:
    """Where records lie: a URL, and the file if it is SQLite. `name` is for people; `own` says that
    it is voicelist's own file in the user's data folder."""

    url: URL
    file: Path | None
    name: str
    own: bool = False


def place_of(url: str | None, practice: bool) -> Place:
    """The place that a URL names; None is the user's own SQLite file. Raises UsageError."""
    if url is None:
        file = data_folder() / ("practice.sqlite3" if practice else "records.sqlite3")
        return Place(URL.create("sqlite", database=str(file)), file, str(file), own=True)
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise UsageError(
            f"{url!r} is no database URL: write sqlite:///file.sqlite3, for example."
        ) from error
    if parsed.get_backend_name() != "sqlite":
        return Place(parsed, None, parsed.render_as_string(hide_password=True))
    if parsed.database in {None, "", ":memory:"}:
        raise UsageError("A database in memory keeps nothing: name a file, sqlite:///file.sqlite3.")
    file = Path(str(parsed.database))
    return Place(parsed, file, str(file))


def writing_engine(place: Place) -> Engine:
    """An engine whose transactions take the write lock at once."""
    return _engine(place, _WRITER_PRAGMAS, "mode=rwc", "BEGIN IMMEDIATE")


def reading_engine(place: Place, options: str = "mode=ro") -> Engine:
    """An engine that can only read, and never creates a database. `options` are those of an SQLite
    file address (see `store_file.readable`)."""
    return _engine(place, _READER_PRAGMAS, options, "BEGIN")


def _engine(place: Place, pragmas: Mapping[str, int | str], options: str, begin: str) -> Engine:
    if place.file is None:
        return _server_engine(place, reading=pragmas is _READER_PRAGMAS)
    file = place.file

    def connect() -> sqlite3.Connection:
        address = f"{file.absolute().as_uri()}?{options}"
        raw = sqlite3.connect(address, uri=True, isolation_level=None, check_same_thread=False)
        # Damaged text comes out as text that fits no hash, instead of stopping all that is read.
        raw.text_factory = lambda data: data.decode("utf-8", "surrogateescape")
        return raw

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)
    event.listen(engine, "connect", lambda raw, _: insist(raw, pragmas))
    event.listen(engine, "begin", lambda connection: _driver(connection).execute(begin))
    return engine


def _driver(connection: Connection) -> Any:
    """The connection that SQLite's own driver made."""
    return connection.connection.driver_connection


def insist(raw: Any, pragmas: Mapping[str, int | str]) -> None:
    """Sets SQLite pragmas and reads them back. Raises RecordError for one that is not in force."""
    for name, wanted in pragmas.items():
        # Fetched to its end: an error in the last step of a pragma comes with its last row.
        raw.execute(f"PRAGMA {name} = {wanted}").fetchall()
        rows = raw.execute(f"PRAGMA {name}").fetchall()
        found = rows[0][0] if rows else None
        if found != wanted:
            raise RecordError(
                f"SQLite keeps {name} at {found}, not {wanted}, so records would not be safe: "
                "keep them on a local disk, not on a network share."
            )


def _server_engine(place: Place, reading: bool) -> Engine:
    try:
        engine = create_engine(place.url, poolclass=NullPool)
    except NoSuchModuleError as error:
        raise UsageError(f"There is no kind of database for {place.name}.") from error
    except ModuleNotFoundError as error:
        raise MissingPart(
            f"{place.name} needs the Python package {error.name}: install it."
        ) from error
    if engine.dialect.name == "postgresql":
        event.listen(engine, "connect", lambda raw, _: _insist_on_server(raw, reading))
    return engine


def _insist_on_server(raw: Any, reading: bool) -> None:
    """PostgreSQL: a commit waits for its disk, and readers cannot write."""
    settings = {"synchronous_commit": "on"}
    if reading:
        settings["default_transaction_read_only"] = "on"
    cursor = raw.cursor()
    for name, wanted in settings.items():
        cursor.execute(f"SET SESSION {name} = {wanted}")
        cursor.execute(f"SHOW {name}")
        if cursor.fetchone()[0] != wanted:
            raise RecordError(f"The database does not keep {name} on, so records are not safe.")
    cursor.close()
    raw.commit()


def lock_case_on_server(connection: Connection, case: str) -> None:
    """PostgreSQL: one writer a case, until the connection ends. Raises RecordError if taken.

    Elsewhere the primary key lets only one of two writers go on.
    """
    if connection.dialect.name != "postgresql":
        return
    digest = hashlib.sha256(f"voicelist case {case}".encode()).digest()
    key = int.from_bytes(digest[:8], "big", signed=True)
    with connection.begin():
        taken = connection.scalar(select(func.pg_try_advisory_lock(key)))
    if not taken:
        raise RecordError(f"Another voicelist is writing the case {case}: end that one first.")


def prepare(connection: Connection) -> None:
    """Makes the tables of a new database. Raises RecordError if a newer voicelist made them."""
    with connection.begin():
        METADATA.create_all(connection)
        if connection.scalar(select(_LAYOUTS.c.version)) is None:
            connection.execute(insert(_LAYOUTS).values(version=LAYOUT))
        _refuse_newer(connection)


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
    _refuse_newer(connection)
    return True


def integrity_problems(connection: Connection) -> tuple[str, ...]:
    """What SQLite finds amiss in the tables of the journal and their indexes, at most 20 sentences:
    a damaged page can hide rows without changing any. Nothing for other databases."""
    if connection.dialect.name != "sqlite":
        return ()
    rows = connection.exec_driver_sql("PRAGMA integrity_check(20)").scalars()
    return tuple(f"The database is damaged: {row}." for row in rows if row != "ok")


def _refuse_newer(connection: Connection) -> None:
    version = connection.scalar(select(_LAYOUTS.c.version))
    if version is None or version > LAYOUT:
        raise RecordError(
            f"These records have layout {version}; this version of voicelist knows layout "
            f"{LAYOUT}. Use the newer version that wrote them."
        )


@contextlib.contextmanager
def plainly(what: str) -> Iterator[None]:
    """Turns the database's and the system's errors into a RecordError that begins with `what`.

    Where a damaged name stands in SQLite's own message, its driver fails over the message.
    """
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError, UnicodeDecodeError) as error:
        cause = getattr(error, "orig", None) or error
        reason = str(cause).strip().splitlines()[0] if str(cause).strip() else type(cause).__name__
        raise RecordError(f"{what} ({reason}).") from error
