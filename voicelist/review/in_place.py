"""Reviews in place: the tables of the cases beside a department's journal, made and read there.

Making them is a step of its own, for a login that may (`voicelist_tables`): each case that is new,
or went on, is verified and its rows take the place of its earlier ones, all in one transaction. Who
reviews only reads.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import inspect, text
from sqlalchemy.engine import Connection
from sqlalchemy.exc import SQLAlchemyError

from voicelist.department.cases import reading_of
from voicelist.department.server import connection, name_of, why
from voicelist.errors import RecordError
from voicelist.review.countable import KeptCase, LeftOut, rows_of
from voicelist.review.projection import Rows
from voicelist.review.tables import TABLES, VERSION
from voicelist.review.written import needed

if TYPE_CHECKING:
    import ibis.expr.types as ir

_NO_LIMIT: Final = text("SET statement_timeout = 0")
_HEADS: Final = text(
    """
    SELECT last.theatre, last."case", last.hash AS head,
        coalesce(held.head = last.hash AND held.version = :version AND held.problem = '', false)
            AS there
    FROM (
        SELECT DISTINCT ON (theatre, "case") theatre, "case", hash FROM voicelist_journal
        ORDER BY theatre, "case", seq DESC
    ) AS last
    LEFT JOIN voicelist_tabled AS held
        ON held.theatre = last.theatre AND held."case" = last."case"
    ORDER BY last.theatre, last."case"
    """
)
_HOLD: Final = text(
    """
    INSERT INTO voicelist_tabled (theatre, "case", head, version, problem)
    VALUES (:theatre, :case, :head, :version, :problem)
    ON CONFLICT (theatre, "case") DO UPDATE
    SET head = excluded.head, version = excluded.version, problem = excluded.problem
    RETURNING key
    """
)
_GONE: Final = text(
    """
    DELETE FROM voicelist_tabled AS held WHERE NOT EXISTS (
        SELECT FROM voicelist_journal AS j
        WHERE j.theatre = held.theatre AND j."case" = held."case")
    """
)
_STANDING: Final = text(
    """
    SELECT (SELECT count(*) FROM voicelist_tabled) AS tabled,
        (SELECT count(*) FROM voicelist_tabled WHERE version <> :version) AS others,
        (SELECT count(*) FROM voicelist_journal AS j WHERE j.seq = 1 AND NOT EXISTS (
            SELECT FROM voicelist_tabled AS held
            WHERE held.theatre = j.theatre AND held."case" = j."case")) AS untabled
    """
)
_PROBLEMS: Final = text(
    "SELECT theatre, \"case\", problem FROM voicelist_tabled WHERE problem <> '' ORDER BY 1, 2"
)
_MAKE: Final = "voicelist department tables"


@dataclass(frozen=True, slots=True)
class Tabled:
    """What a step did. `there` counts cases whose rows were up to date, `gone` those that are no
    longer in the journal."""

    cases: int
    there: int
    gone: int
    left_out: tuple[LeftOut, ...]

    @property
    def words(self) -> str:
        """One line."""
        gone = f", {self.gone} taken out, for the journal has them no longer" if self.gone else ""
        return f"{self.cases} cases put into the tables, {self.there} were up to date{gone}."


def make_tables(url: str, *, again: bool = False) -> Tabled:
    """Brings the tables of a server up to date with its journal; `again` verifies and makes every
    case anew. Raises RecordError if the server cannot be used."""
    left_out: list[LeftOut] = []
    cases = there = 0
    with connection(url) as connected:
        _holds_tables(connected, url)
        connected.execute(_NO_LIMIT)
        gone = int(connected.execute(_GONE).rowcount)
        heads = connected.execute(_HEADS, {"version": VERSION}).all()
        connected.commit()
        for one in heads:
            if one.there and not again:
                there += 1
                continue
            kept = KeptCase(one.case, one.theatre, reading_of(connected, one.theatre, one.case))
            problem = _take(connected, kept, one.head)
            connected.commit()
            if problem:
                left_out.append(LeftOut(kept.name, problem))
            else:
                cases += 1
    return Tabled(cases, there, gone, tuple(left_out))


def _take(connected: Connection, kept: KeptCase, head: str) -> str:
    """One case; returns why it may not be counted, "" if it may."""
    rows: Rows = {}
    problem = ""
    try:
        rows = rows_of(kept)
    except RecordError as error:
        problem = str(error)
    told = {"theatre": kept.theatre, "case": kept.case, "head": head, "version": VERSION}
    key = connected.execute(_HOLD, {**told, "problem": problem}).scalar_one()
    for name in TABLES:
        connected.execute(text(f"DELETE FROM voicelist_{name} WHERE key = :key"), {"key": key})
    add_rows(connected, ((key, rows),))
    return problem


def add_rows(connected: Connection, cases: Sequence[tuple[int, Rows]]) -> None:
    """Copies the rows of cases, each behind its key. Does not commit. Raises RecordError."""
    cursor: Any = connected.connection.cursor()
    try:
        for name, table in TABLES.items():
            columns = ", ".join(f'"{one}"' for one in ("key", *table.names))
            with cursor.copy(f"COPY voicelist_{name} ({columns}) FROM STDIN") as copy:
                for key, rows in cases:
                    for row in rows.get(name, ()):
                        copy.write_row((key, *row))
    except needed("psycopg").Error as error:
        raise RecordError(f"The tables cannot be written ({error}).") from error


def _holds_tables(connected: Connection, url: str) -> None:
    if not inspect(connected).has_table("voicelist_tabled"):
        raise RecordError(
            f"The server {name_of(url)} has no tables yet: its owner makes them with "
            "voicelist department install."
        )


class DepartmentTables:
    """The tables of a server, read there for as long as this lives."""

    def __init__(self, url: str) -> None:
        """Raises RecordError if the server cannot be used, or its tables are of another version."""
        self._open = ExitStack()
        self._connected = self._open.enter_context(connection(url))
        self._connected.execute(_NO_LIMIT)
        standing = self._connected.execute(_STANDING, {"version": VERSION}).one()
        self._connected.commit()
        if standing.others:
            raise RecordError(
                f"The tables of {standing.others} cases are of another version than this "
                f"voicelist knows: {_MAKE}, with the version that reviews."
            )
        self._untabled = int(standing.untabled)

    def close(self) -> None:
        """Lets go of the server."""
        self._open.close()

    def tables(self) -> Mapping[str, ir.Table]:
        """The tables as Ibis has them."""
        raw: Any = self._connected.connection.driver_connection
        raw.autocommit = True
        raw.execute("SET default_transaction_read_only = on")
        database = needed("ibis").postgres.from_connection(raw)
        return {name: database.table(f"voicelist_{name}") for name in TABLES}

    def left_out(self) -> Iterator[LeftOut]:
        """Cases that are not in the tables, each with its reason."""
        for one in self._connected.execute(_PROBLEMS):
            yield LeftOut(f"{one.case} of {one.theatre}", one.problem)
        self._connected.commit()
        if self._untabled:
            cases = "1 case" if self._untabled == 1 else f"{self._untabled} cases"
            yield LeftOut(cases, f"Not in the tables yet: {_MAKE} brings in what came since.")


def has_tables(url: str) -> bool:
    """Whether the server holds tables with cases, which this login may read. Raises RecordError if
    it is away."""
    with connection(url) as connected:
        if not inspect(connected).has_table("voicelist_tabled"):
            return False
        try:
            return (
                connected.execute(text("SELECT 1 FROM voicelist_tabled LIMIT 1")).first()
                is not None
            )
        except SQLAlchemyError as error:
            raise RecordError(
                f"The tables of {name_of(url)} cannot be read ({why(error)}): a reviewer needs "
                "the role voicelist_reads."
            ) from error
