"""The server of a department: reached by libpq's own means, with tables of numbered versions."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import create_engine, inspect, text
from sqlalchemy.engine import URL, Connection, Engine, make_url
from sqlalchemy.exc import ArgumentError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from voicelist.errors import MissingPart, RecordError, UsageError

# The driver warns of each line that is cut; people get one sentence, on the display.
logging.getLogger("psycopg").addHandler(logging.NullHandler())

# So long a theatre's computer waits for an answer, then the server counts as away. Project choice.
CONNECT_S = 5
STATEMENT_MS = 10_000
_EXTRA = "install it with the extra for departments: pip install 'voicelist[department]'"


def is_server(url: str | None) -> bool:
    """Whether an address is that of a server, and not of a file."""
    if url is None:
        return False
    try:
        return make_url(url).get_backend_name() == "postgresql"
    except ArgumentError:
        return False


def name_of(url: str) -> str:
    """The address for people, without passwords."""
    return make_url(url).render_as_string(hide_password=True)


def engine_of(url: str) -> Engine:
    """An engine that keeps no connection open unasked. Raises UsageError or MissingPart."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "postgresql":
        raise UsageError(f"{name_of(url)} is no server: give postgresql://LOGIN@HOST/DATABASE.")
    asked: URL = parsed.set(drivername="postgresql+psycopg")
    told = {
        "connect_timeout": CONNECT_S,
        "options": f"-c statement_timeout={STATEMENT_MS} -c synchronous_commit=on",
        "application_name": "voicelist",
    }
    # What the address or the environment say themselves goes before (libpq's own means).
    told = {name: value for name, value in told.items() if name not in parsed.query}
    try:
        return create_engine(asked, poolclass=NullPool, connect_args=told)
    except ModuleNotFoundError as error:
        raise MissingPart(f"A server needs the Python package {error.name}: {_EXTRA}.") from error


@contextlib.contextmanager
def connection(url: str) -> Iterator[Connection]:
    """A connection for a while. Raises RecordError with a sentence if the server cannot be used."""
    engine = engine_of(url)
    try:
        with engine.connect() as connected:
            yield connected
    except SQLAlchemyError as error:
        raise RecordError(f"The server {name_of(url)} cannot be used ({why(error)}).") from error


def why(error: SQLAlchemyError) -> str:
    """The first line of what the driver says."""
    cause = getattr(error, "orig", None) or error
    return (str(cause).strip().splitlines() or [type(cause).__name__])[0]


def holds_department(url: str) -> bool:
    """Whether the tables of a department are there. Raises RecordError if the server is away."""
    with connection(url) as connected:
        return inspect(connected).has_table("voicelist_journal")


def install(url: str) -> str:
    """Makes or extends the tables; returns the number of the last step. For the owner of the
    database, never a theatre. Raises RecordError, UsageError or MissingPart."""
    try:
        from alembic import command
        from alembic.config import Config
        from alembic.script import ScriptDirectory
    except ModuleNotFoundError as error:
        raise MissingPart(f"A server needs the Python package {error.name}: {_EXTRA}.") from error
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    with connection(url) as connected:
        config.attributes["connection"] = connected
        command.upgrade(config, "head")
        connected.commit()
    return str(ScriptDirectory.from_config(config).get_current_head())


def name_theatre(url: str, login: str, theatre: str) -> None:
    """Binds a login of the database to a theatre, and lets it add. For the owner of the database.
    Raises RecordError."""
    with connection(url) as connected:
        quoted = connected.dialect.identifier_preparer.quote(login)
        connected.execute(
            text("INSERT INTO voicelist_theatre (login, theatre) VALUES (:login, :theatre)"),
            {"login": login, "theatre": theatre},
        )
        connected.exec_driver_sql(f"GRANT voicelist_adds TO {quoted}")
        connected.commit()
