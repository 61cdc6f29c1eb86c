"""How the store reaches its database, and what it insists on at every connection."""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, event, func, select
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from voicelist.errors import MissingPart, RecordError, UsageError
from voicelist.places import data_folder

_BUSY_MS = 5000
# SQLite only syncs every commit in WAL mode with FULL; fullfsync matters on macOS alone.
_WRITER_PRAGMAS: Mapping[str, int | str] = {
    "busy_timeout": _BUSY_MS,
    "journal_mode": "wal",
    "synchronous": 2,
    "foreign_keys": 1,
    "fullfsync": 1,
    "checkpoint_fullfsync": 1,
    "secure_delete": 1,
}
_READER_PRAGMAS: Mapping[str, int | str] = {
    "busy_timeout": _BUSY_MS,
    "foreign_keys": 1,
    "query_only": 1,
}


@dataclass(frozen=True, slots=True)
class StorePlace:
    """Where records lie: a URL, and the file if it is SQLite. `name` is for people; `own` says that
    it is voicelist's own file in the user's data folder."""

    url: URL
    file: Path | None
    name: str
    own: bool = False


def place_of(url: str | None, practice: bool) -> StorePlace:
    """The place that a URL names; None is the user's own SQLite file. Raises UsageError."""
    if url is None:
        file = data_folder() / ("practice.sqlite3" if practice else "records.sqlite3")
        return StorePlace(URL.create("sqlite", database=str(file)), file, str(file), own=True)
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise UsageError(
            f"{url!r} is no database URL: write sqlite:///file.sqlite3, for example."
        ) from error
    if parsed.get_backend_name() != "sqlite":
        return StorePlace(parsed, None, parsed.render_as_string(hide_password=True))
    if parsed.database in {None, "", ":memory:"}:
        raise UsageError("A database in memory keeps nothing: name a file, sqlite:///file.sqlite3.")
    file = Path(str(parsed.database))
    return StorePlace(parsed, file, str(file))


def writing_engine(place: StorePlace) -> Engine:
    """An engine whose transactions take the write lock at once."""
    return _engine(place, _WRITER_PRAGMAS, "mode=rwc", "BEGIN IMMEDIATE")


def reading_engine(place: StorePlace, options: str = "mode=ro") -> Engine:
    """An engine that can only read, and never creates a database. `options` are those of an SQLite
    file address (see `store_file.readable`)."""
    return _engine(place, _READER_PRAGMAS, options, "BEGIN")


def _engine(
    place: StorePlace, pragmas: Mapping[str, int | str], options: str, begin: str
) -> Engine:
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


def _server_engine(place: StorePlace, reading: bool) -> Engine:
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
