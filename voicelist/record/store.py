"""The store: cases in a database. Reading creates nothing and locks nothing; one writer writes.

Nothing here prevents that a whole file is deleted or replaced: keep the heads elsewhere.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import reduce
from itertools import count, groupby
from typing import Any

from sqlalchemy import select
from sqlalchemy.engine import Connection

from voicelist.errors import RecordError
from voicelist.record.database import JOURNAL, holds_records, place_of, plainly, reading_engine
from voicelist.record.journal import Entry, entry_of, parsed
from voicelist.record.verify import (
    Reading,
    Standing,
    Verdict,
    verify_entries,
    verify_reading,
)
from voicelist.record.view import CaseLine, case_line, unreadable_line
from voicelist.record.writer import Clocks, Holds, Opening, Writer

_LONGEST_CODE = 64


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
        reading = self._reading(case)
        if reading.problem:
            raise RecordError(f"The record of {case} is damaged. {reading.problem}")
        return reading.entries

    def verify(self, case: str, head: str | None = None) -> Verdict:
        """Checks a case, row by row. Raises RecordError for an unknown case, UsageError for a
        `head` that is no hash."""
        return verify_reading(self._reading(case), head)

    def cases(self) -> tuple[CaseLine, ...]:
        """One line for each case, the newest first."""
        lines = [_line(case, reading) for case, reading in self._readings(None)]
        return tuple(sorted(lines, key=lambda line: (line.started_at, line.case), reverse=True))

    def codes(self) -> tuple[str, ...]:
        """The codes of all cases, sorted."""
        with self._connection() as connection:
            if connection is None:
                return ()
            return tuple(sorted(connection.execute(select(JOURNAL.c.case).distinct()).scalars()))

    def free_case_code(self, base: str) -> str:
        """`base`, or the first of base-2, base-3 ... that no case has."""
        taken = set(self.codes())
        candidates = (base if number == 1 else f"{base}-{number}" for number in count(1))
        return next(code for code in candidates if code not in taken)

    def _reading(self, case: str) -> Reading:
        for _, reading in self._readings(case):
            return reading
        raise RecordError(self._unknown(case))

    def _readings(self, case: str | None) -> Iterator[tuple[str, Reading]]:
        query = select(JOURNAL).order_by(JOURNAL.c.case, JOURNAL.c.seq)
        if case is not None:
            query = query.where(JOURNAL.c.case == case)
        with self._connection() as connection:
            if connection is None:
                return
            rows = connection.execute(query).mappings()
            for code, group in groupby(rows, key=lambda row: str(row["case"])):
                yield code, _read_rows(dict(row) for row in group)

    @contextmanager
    def _connection(self) -> Iterator[Connection | None]:
        """A connection in one transaction; None where there are no records yet."""
        if self._place.file is not None and not self._place.file.exists():
            yield None
            return
        engine = reading_engine(self._place)
        with (
            plainly(f"The records in {self.where} cannot be read"),
            engine.connect() as connection,
            connection.begin(),
        ):
            yield connection if holds_records(connection) else None

    def _unknown(self, case: str) -> str:
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
            if case in self.codes():
                raise RecordError(
                    f"There is a case {case} already: go on with it (voicelist resume {case}) or "
                    f"give a new code, such as {self.free_case_code(case)}."
                )
            return self._writer(opening, ())

    def resume(self, case: str) -> Writer:
        """A writer that goes on where the journal of `case` ends; `Resumed` has to come first.

        Raises RecordError for an unknown, damaged, completed or abandoned case, or if another
        writer is at work.
        """
        self._reading(case)  # an unknown case creates nothing, not even a lock file
        with Opening(self._place, case) as opening:
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
            return self._writer(opening, entries)

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
                    f"The case {case} is still open: go on with it (voicelist resume {case})."
                )
            return self._writer(opening, entries)

    def _writer(self, opening: Opening, after: tuple[Entry, ...]) -> Writer:
        return Writer(opening.keep(), after=after, clocks=self._clocks, holds=self._holds)


def _closed_as(entries: tuple[Entry, ...]) -> str:
    return reduce(Standing.after, entries, Standing()).closed


def _read_rows(rows: Iterator[Mapping[str, Any]]) -> Reading:
    entries: list[Entry] = []
    problem = ""
    for row in rows:
        if not problem:  # the rest is still fetched, so that the next case starts at its own rows
            try:
                entries.append(entry_of({**row, "body": parsed(row["body"])}))
            except (RecordError, AttributeError, TypeError) as error:
                problem = f"Event {len(entries) + 1} cannot be read: {error}."
    return Reading(tuple(entries), problem)


def _line(case: str, reading: Reading) -> CaseLine:
    if reading.problem:
        return unreadable_line(case, reading.entries, reading.problem)
    return case_line(reading.entries)
