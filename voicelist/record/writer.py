"""The one writer of a case: each event durable before it counts.

When `Writer.append` returns, the event is on disk and chained. After any error of the database the
writer refuses everything; it never tries again, for a failed sync may have lost what it was to
write (as databases learned of `fsync` in 2018, from memory).
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import reduce
from threading import Lock
from types import TracebackType
from typing import Any, Literal, Self

from sqlalchemy import insert
from sqlalchemy.engine import Connection

from voicelist.errors import RecordError
from voicelist.record.database import (
    StorePlace,
    lock_case_on_server,
    plainly,
    writing_engine,
)
from voicelist.record.journal import Entry, chain_line, timestamp
from voicelist.record.layout import JOURNAL, prepare
from voicelist.record.lock import WriterLock
from voicelist.record.mounts import refuse_network
from voicelist.record.outlines import note_begun
from voicelist.record.store_file import StoreFile, make_folder, own_alone
from voicelist.record.verify import Standing, out_of_place
from voicelist.session.record_base import Record
from voicelist.session.records import Opened, Resumed

PRACTICE = "practice"
Holds = Literal["practice", "real", "anything"]


def _now() -> datetime:
    return datetime.now(UTC)


def _nothing(*_: object) -> None:
    """Nothing is wanted as writing ends."""


def _boottime_ns() -> int:
    """Goes on while the computer sleeps; where the system has no such clock, the running one."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic_ns() if clock is None else time.clock_gettime_ns(clock)


@dataclass(frozen=True, slots=True)
class Clocks:
    """Wall-clock time for people, a running clock for durations, and one that goes on in sleep."""

    utc_now: Callable[[], datetime] = _now
    monotonic_ns: Callable[[], int] = time.monotonic_ns
    boottime_ns: Callable[[], int] = _boottime_ns


class _Insert:
    """The statement that adds an event, worked out once for a writer and not once an event."""

    def __init__(self, connection: Connection) -> None:
        compiled = insert(JOURNAL).compile(dialect=connection.dialect)
        self._sql, self._order = str(compiled), compiled.positiontup

    def add(self, connection: Connection, row: dict[str, Any]) -> None:
        in_order = tuple(row[name] for name in self._order or ())
        connection.exec_driver_sql(self._sql, in_order if self._order else row)


class Opening:
    """A connection with its locks: given up on leaving, unless a writer keeps it."""

    def __init__(self, place: StorePlace, case: str) -> None:
        """Raises RecordError if another writer is at work or the database cannot be written."""
        self.case = case
        self.file = place.file
        self._kept = False
        self._lock: WriterLock | None = None
        self._file: StoreFile | None = None
        self._connection: Connection | None = None
        try:
            with plainly(f"The records in {place.name} cannot be written"):
                if place.file is not None:
                    refuse_network(place.file)
                    make_folder(place.file.absolute().parent)
                    lock_file = place.file.with_name(place.file.name + ".lock")
                    self._lock = WriterLock(lock_file, case)
                    self._file = StoreFile(place.file)
                    if place.own:
                        own_alone(place.file)
                self._connection = writing_engine(place).connect()
                lock_case_on_server(self._connection, case)
                prepare(self._connection)
                if self._file is not None:
                    self._file.take_log()
        except BaseException:
            self.close()
            raise

    @property
    def connection(self) -> Connection:
        assert self._connection is not None, "opened in __init__"
        return self._connection

    def keep(self) -> Self:
        self._kept = True
        return self

    def check_place(self) -> None:
        """Raises RecordError if what is written no longer lies where it will be looked for."""
        if self._file is not None:
            self._file.check()

    def close(self) -> None:
        """Closes the connection, then lets the next writer in."""
        try:
            if self._connection is not None:
                with plainly("The records could not be closed"):
                    self._connection.close()
        finally:
            if self._file is not None:
                self._file.release()
            if self._lock is not None:
                self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if not self._kept:
            self.close()


class Writer:
    """Appends to one case. One start of the program, one run. Close it to let another writer in."""

    def __init__(
        self,
        opening: Opening,
        *,
        after: Sequence[Entry],
        clocks: Clocks,
        holds: Holds,
        on_close: Callable[[Connection, str, int], None] = _nothing,
    ) -> None:
        """`after` are the entries that the case has already. `on_close` gets the connection, the
        case and its last event as writing ends, if nothing failed before."""
        self.case = opening.case
        self.run = secrets.token_hex(8)
        self._last = after[-1] if after else None
        self._standing = reduce(Standing.after, after, Standing())
        self._opening = opening
        self._insert = _Insert(opening.connection)
        self._clocks = clocks
        self._started_ns = clocks.monotonic_ns()
        self._holds = holds
        self._on_close = on_close
        self._refusal = ""
        self._turn = Lock()

    @property
    def last(self) -> Entry | None:
        """The last entry that is on disk."""
        return self._last

    @property
    def head(self) -> str:
        """The hash of the last entry, "" before the first."""
        return self._last.hash if self._last else ""

    def append(self, record: Record) -> Entry:
        """Puts `record` on disk as the next entry, and returns when it is there.

        Raises RecordError: if it may not stand here or is not JSON, then nothing has changed; if
        the database fails, then the entry may or may not be there, and every later call fails.
        """
        with self._turn:
            if self._refusal:
                raise RecordError(self._refusal)
            entry, body = self._next(record)
            try:
                with plainly(f"Not recorded: {record.kind} could not be written"):
                    self._commit(entry, body)
            except BaseException as error:
                self._refusal = (
                    f"Not recorded: an earlier write failed ({error!r:.200}). Go on with the "
                    f"printed checklist, then start again with: voicelist resume {self.case}"
                )
                raise
            self._last, self._standing = entry, self._standing.after(entry)
            return entry

    def close(self) -> None:
        """Ends writing. Harmless when repeated."""
        with self._turn:
            if self._refusal == _CLOSED:
                return
            failed, self._refusal = bool(self._refusal), _CLOSED
            try:
                if self._last is not None and not failed:
                    self._on_close(self._opening.connection, self.case, self._last.seq)
            finally:
                self._opening.close()

    def _next(self, record: Record) -> tuple[Entry, str]:
        body = record.body()
        amiss = out_of_place(self._standing, self.run, record.kind, body)
        if amiss:
            raise RecordError(f"Not recorded: {record.kind} may not stand here, for {amiss}.")
        self._refuse_mixing(record)
        mono_ms = (self._clocks.monotonic_ns() - self._started_ns) // 1_000_000
        earlier = self._last.mono_ms if self._last and self._last.run == self.run else 0
        if mono_ms < earlier:
            raise RecordError("Not recorded: the running clock went back, which it must never do.")
        return chain_line(
            self._last,
            case=self.case,
            at=timestamp(self._clocks.utc_now()),
            run=self.run,
            mono_ms=mono_ms,
            kind=record.kind,
            body=body,
        )

    def _refuse_mixing(self, record: Record) -> None:
        """Practice and real cases never share a store."""
        if self._holds == "anything" or not isinstance(record, Opened | Resumed):
            return
        if (record.source == PRACTICE) != (self._holds == "practice"):
            kept = "practice alone" if self._holds == "practice" else "no practice"
            raise RecordError(
                f"Not recorded: these records hold {kept}, and the source is {record.source}."
            )

    def _commit(self, entry: Entry, body: str) -> None:
        row = {**entry.fields(), "body": body}
        connection = self._opening.connection
        self._opening.check_place()
        with connection.begin():
            self._insert.add(connection, row)
            if self._last is None or self._last.run != entry.run:
                note_begun(connection, entry)
        self._opening.check_place()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()


_CLOSED = "Not recorded: this writer was closed. Resume the case to go on."
