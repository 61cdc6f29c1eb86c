"""The store: cases in a database. Reading creates nothing and locks nothing; one writer writes.

Nothing here prevents that a whole file is deleted or replaced: keep the heads elsewhere.
"""

from __future__ import annotations

import contextlib
import difflib
import logging
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial, reduce
from itertools import count

from sqlalchemy import select
from sqlalchemy.engine import Connection
from sqlalchemy.exc import SQLAlchemyError

from voicelist.errors import RecordError
from voicelist.record.case_line import CaseLine, case_line, unreadable_line
from voicelist.record.database import place_of, plainly, reading_engine
from voicelist.record.erasure import Tombstone, clean, erase, tombstones
from voicelist.record.journal import Entry, entry_of, parsed, timestamp
from voicelist.record.layout import JOURNAL, hidden_rows, holds_records, integrity_problems
from voicelist.record.outlines import Outline, codes, note, note_backlog, noted_events, outlines
from voicelist.record.sound import SoundFolder, sound_folder
from voicelist.record.store_file import readable
from voicelist.record.verify import (
    Reading,
    Standing,
    Verdict,
    tree_head,
    verify_entries,
    verify_reading,
)
from voicelist.record.writer import Clocks, Holds, Opening, Writer

_LONGEST_CODE = 64
# What rows that something has damaged run into.
_UNREADABLE = (RecordError, AttributeError, TypeError, ValueError, SQLAlchemyError, sqlite3.Error)
_LOG = logging.getLogger(__name__)


class Reader:
    """Records for reading: creates no database, takes no lock, can be used beside a writer.

    Every method raises RecordError with a sentence if the database cannot be read.
    """

    def __init__(self, url: str | None = None, *, practice: bool = False) -> None:
        self._place = place_of(url, practice)

    @property
    def where(self) -> str:
        """The file or address of the records, for people; without passwords."""
        return self._place.name

    def entries(self, case: str) -> tuple[Entry, ...]:
        """All entries of a case, in order. Raises RecordError for an unknown case (naming near
        ones), and for rows that cannot be read."""
        reading = self._reading(case, beyond=True)
        problems = " ".join(reading.problems())
        if problems:
            raise RecordError(f"The record of {case} is damaged. {problems}")
        return reading.entries

    def kept(self, case: str) -> Reading:
        """A case as far as it can be read. Raises RecordError for an unknown case."""
        return self._reading(case)

    def verify(self, case: str, head: str | None = None) -> Verdict:
        """Checks a case, row by row, and whether the file holds more of it than its index names.
        Raises RecordError for an unknown case, UsageError for a `head` that is no hash."""
        return verify_reading(self._reading(case, beyond=True), head)

    def verify_all(self) -> Iterator[tuple[str, Verdict]]:
        """Every case, the newest first; the whole database is checked once, for the first."""
        beside: tuple[str, ...] = ()
        with self._connection() as connection:
            if connection is not None:
                beside = integrity_problems(connection)
        for one in self.outlines():
            yield one.case, verify_reading(self._reading(one.case), None, beside)
            beside = ()

    def tree_head(self, case: str) -> str:
        """The root of the Merkle tree over the events of a case, "" if it cannot be read."""
        try:
            return tree_head(self._reading(case).entries)
        except RecordError:
            return ""

    def cases(self) -> tuple[CaseLine, ...]:
        """One line for each case, the newest first. They are not verified."""
        return tuple(self.lines(self.outlines()))

    def outlines(self) -> tuple[Outline, ...]:
        """Where each case begins and ends, the newest first."""
        with self._connection() as connection:
            return outlines(connection) if connection is not None else ()

    def lines(self, of: Sequence[Outline]) -> Iterator[CaseLine]:
        """One line for each of these cases: as its writer noted it, or from its events."""
        with self._connection() as connection:
            for one in of:
                if connection is not None:
                    yield one.line or _line_of(connection, one.case)

    def codes(self) -> tuple[str, ...]:
        """The codes of all cases, sorted."""
        with self._connection() as connection:
            return codes(connection) if connection is not None else ()

    def holds(self, case: str) -> bool:
        """Whether there is such a case."""
        query = select(JOURNAL.c.seq).where(JOURNAL.c.case == case).limit(1)
        with self._connection() as connection:
            return connection is not None and connection.execute(query).first() is not None

    def free_case_code(self, base: str) -> str:
        """`base`, or the first of base-2, base-3 ... that no case has or had."""
        erased = {one.case for one in self.erased()}
        candidates = (base if number == 1 else f"{base}-{number}" for number in count(1))
        return next(code for code in candidates if code not in erased and not self.holds(code))

    def sound_folder(self, case: str) -> SoundFolder:
        """Where the sound of a case is, if any was kept."""
        return sound_folder(self._place, case)

    def erased(self) -> tuple[Tombstone, ...]:
        """What is left of cases that were erased, the oldest erasure first."""
        with self._connection() as connection:
            return tombstones(connection) if connection is not None else ()

    def _reading(self, case: str, *, beyond: bool = False) -> Reading:
        with self._connection() as connection:
            reading = _read_case(connection, case) if connection is not None else Reading(())
            if beyond and connection is not None and not reading.problem:
                reading = replace(reading, hidden=hidden_rows(connection, case))
        if not (reading.entries or reading.problem or reading.expected or reading.hidden):
            raise RecordError(self._unknown(case))
        return reading

    @contextmanager
    def _connection(self) -> Iterator[Connection | None]:
        """A connection in one transaction; None where there are no records yet."""
        file = self._place.file
        with contextlib.ExitStack() as stack:
            stack.enter_context(plainly(f"The records in {self.where} cannot be read"))
            if file is None:
                engine = reading_engine(self._place)
            elif file.exists():
                path, options = stack.enter_context(readable(file))
                engine = reading_engine(replace(self._place, file=path), options)
            else:
                yield None
                return
            connection = stack.enter_context(engine.connect())
            stack.enter_context(connection.begin())
            yield connection if holds_records(connection) else None

    def _unknown(self, case: str) -> str:
        stone = next((one for one in self.erased() if one.case == case), None)
        if stone is not None:
            return f"The case {case} is no longer in {self.where}: it was {stone.words}."
        codes = self.codes()
        if not codes:
            return f"There is no case {case}: {self.where} holds no records."
        near = difflib.get_close_matches(case, codes, n=3, cutoff=0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else "See voicelist record list."
        return f"There is no case {case} in {self.where}. {hint}"


class Store(Reader):
    """Records for reading and writing. Nothing is created before the first case is opened."""

    def __init__(
        self,
        url: str | None = None,
        practice: bool = False,
        *,
        clocks: Clocks | None = None,
    ) -> None:
        """`url` is an SQLAlchemy URL, None the user's own file. `practice` has a file of its own
        and holds practice alone, wherever it is; the user's own real file never holds any."""
        super().__init__(url, practice=practice)
        own: Holds = "real" if url is None else "anything"
        self._holds: Holds = "practice" if practice else own
        self._clocks = clocks or Clocks()

    def open_case(self, case: str) -> Writer:
        """A writer for a new case; the record appended first has to be `Opened`.

        Raises RecordError if the case exists or another writer is at work.
        """
        if not case or len(case) > _LONGEST_CODE or not case.isprintable():
            raise RecordError(
                f"{case!r} is no case code: give 1 to {_LONGEST_CODE} letters, digits and dashes."
            )
        with Opening(self._place, case) as opening:
            if self.holds(case):
                raise RecordError(
                    f"There is a case {case} already: go on with it (voicelist resume {case}) or "
                    f"give a new code, such as {self.free_case_code(case)}."
                )
            if any(one.case == case for one in self.erased()):
                raise RecordError(
                    f"{self._unknown(case)} Give a new code, such as {self.free_case_code(case)}."
                )
            return self._writer(opening, ())

    def erase(self, cases: Sequence[str], *, role: str, reason: str, code_too: bool) -> None:
        """Erases these cases for good, whatever their state; a tombstone stays of each.

        Raises RecordError, with everything as it was, for an unknown case or if another writer is
        at work; or if they are erased and the files still hold them.
        """
        for case in cases:
            if not self.holds(case):
                raise RecordError(self._unknown(case))
        at = timestamp(self._clocks.utc_now())
        with Opening(self._place, "erasing") as opening:
            with plainly("The sound of the cases was not deleted, and nothing else"):
                for case in cases:
                    self.sound_folder(case).delete()
            erase(opening, cases, at=at, role=role, reason=reason, code_too=code_too)

    def clean(self) -> None:
        """Writes the files anew without what an erasure may have left in them."""
        if self._place.file is None or self._place.file.exists():
            with Opening(self._place, "erasing") as opening:
                clean(opening)

    def resume(self, case: str) -> Writer:
        """A writer that goes on where the journal of `case` ends; `Resumed` has to come first.

        Raises RecordError for an unknown, damaged, completed or abandoned case, or if another
        writer is at work.
        """
        self._reading(case)  # an unknown case creates nothing, not even a lock file
        with Opening(self._place, case) as opening:
            return self._writer(opening, self.to_go_on_with(case))

    def to_go_on_with(self, case: str) -> tuple[Entry, ...]:
        """The entries of a case that may be gone on with. Raises RecordError for an unknown,
        damaged, completed or abandoned case."""
        entries = self.entries(case)
        verdict = verify_entries(entries)
        if not verdict.ok:
            raise RecordError(
                f"The record of {case} does not verify, so it cannot be gone on with. "
                f"{verdict.problems[0]} Keep it as it is and open a new case."
            )
        state = _closed_as(entries)
        if state in {"completed", "abandoned"}:
            raise RecordError(f"The case {case} was {state}: open a new case.")
        return entries

    def amend(self, case: str) -> Writer:
        """A writer for late entries (`Amended`) after the end of a case.

        Raises RecordError for an unknown or damaged case, for one that is still open, or if another
        writer is at work.
        """
        self._reading(case)
        with Opening(self._place, case) as opening:
            entries = self.entries(case)
            verdict = verify_entries(entries)
            if not verdict.ok:
                raise RecordError(
                    f"The record of {case} does not verify, so nothing is added to it. "
                    f"{verdict.problems[0]}"
                )
            if not _closed_as(entries):
                raise RecordError(
                    f"The case {case} is still open: go on with it (voicelist resume {case}), or "
                    "end it there with Ctrl-C, and then enter what stands on paper."
                )
            return self._writer(opening, entries)

    def _writer(self, opening: Opening, after: tuple[Entry, ...]) -> Writer:
        return Writer(
            opening.keep(),
            after=after,
            clocks=self._clocks,
            holds=self._holds,
            on_close=_note_lines,
        )


def _note_lines(connection: Connection, case: str, seq: int) -> None:
    """What a list says of the case that ends, and of earlier ones that lack it. The record is
    complete without; a list is only slower."""
    try:
        with connection.begin():
            line = _line_of(connection, case)
        note(connection, seq, line)
        note_backlog(connection, partial(_line_of, connection))
    except (RecordError, SQLAlchemyError, sqlite3.Error) as error:
        _LOG.warning("The list's note of %s was not kept (%s).", case, error)


def _closed_as(entries: tuple[Entry, ...]) -> str:
    return reduce(Standing.after, entries, Standing()).closed


def _read_case(connection: Connection, case: str) -> Reading:
    """A case, row by row, up to the first that cannot be read."""
    query = select(JOURNAL).where(JOURNAL.c.case == case).order_by(JOURNAL.c.seq)
    entries: list[Entry] = []
    problem, expected = "", 0
    try:
        expected = noted_events(connection, case)
        for row in connection.execute(query).mappings():
            entries.append(entry_of({**row, "body": parsed(row["body"])}))
    except _UNREADABLE as error:
        problem = f"Event {len(entries) + 1} cannot be read: {_first_line(error)}."
    return Reading(tuple(entries), problem, expected)


def _first_line(error: Exception) -> str:
    return (str(getattr(error, "orig", None) or error).splitlines() or [type(error).__name__])[0]


def _line_of(connection: Connection, case: str) -> CaseLine:
    """The line of a case from its events."""
    reading = _read_case(connection, case)
    if reading.problem or not reading.entries:
        return unreadable_line(case, reading.entries, reading.problem)
    return case_line(reading.entries)
