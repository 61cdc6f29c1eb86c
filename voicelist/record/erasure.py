"""A whole case erased: its events are overwritten, and a tombstone says that there was one.

The one exception to the rule that rows are only ever added. SQLite overwrites what it deletes
(`secure_delete`), but where it moves rows about in a page it leaves remains of them; so the whole
file is written anew, and the write-ahead log emptied. Then nothing of the events is left in the
store's files. What a file system, a disk or a backup holds of earlier states is not reached.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from sqlalchemy import delete, func, insert, select
from sqlalchemy.engine import Connection

from voicelist.errors import RecordError
from voicelist.record.database import plainly
from voicelist.record.layout import CASE_LINES, ERASED, JOURNAL, has_table
from voicelist.record.writer import Opening

_COPIES: Final = "SQLITE_TMPDIR"


@dataclass(frozen=True, slots=True)
class Tombstone:
    """What is left of an erased case; `case` is "" where even its code was to go. `started_at` and
    `head` keep the one hash over all heads what it was."""

    case: str
    started_at: str
    erased_at: str
    events: int
    head: str
    role: str
    reason: str

    @property
    def words(self) -> str:
        """One line of it."""
        role = self.role.replace("-", " ")
        return f"erased {self.erased_at[:16]}Z by {role}, {self.events} events: {self.reason}"


def tombstones(connection: Connection) -> tuple[Tombstone, ...]:
    """All of them, the oldest erasure first."""
    if not has_table(connection, ERASED):
        return ()
    rows = connection.execute(select(ERASED).order_by(ERASED.c.number)).mappings()
    return tuple(
        Tombstone(**{name: row[name] for name in Tombstone.__dataclass_fields__}) for row in rows
    )


def erase(
    opening: Opening, cases: Sequence[str], *, at: str, role: str, reason: str, code_too: bool
) -> None:
    """Erases these cases in one transaction, with `code_too` their codes as well, and whatever the
    files still hold of them after it. Raises RecordError if one of both fails."""
    connection = opening.connection
    with plainly("The cases were not erased"):
        opening.check_place()
        with connection.begin():
            for case in cases:
                row = _row(connection, case) | {"erased_at": at, "role": role, "reason": reason}
                connection.execute(insert(ERASED), row | ({"case": ""} if code_too else {}))
                connection.execute(delete(JOURNAL).where(JOURNAL.c.case == case))
                connection.execute(delete(CASE_LINES).where(CASE_LINES.c.case == case))
    clean(opening)


def _row(connection: Connection, case: str) -> dict[str, object]:
    of_case = JOURNAL.c.case == case
    first = connection.scalar(select(JOURNAL.c.at).where(of_case, JOURNAL.c.seq == 1))
    events = connection.scalar(select(func.count()).select_from(JOURNAL).where(of_case))
    last = select(JOURNAL.c.hash).where(of_case).order_by(JOURNAL.c.seq.desc()).limit(1)
    return {
        "case": case,
        "started_at": str(first or ""),
        "events": events,
        "head": str(connection.scalar(last) or ""),
    }


def clean(opening: Opening) -> None:
    """Writes SQLite's file anew, and empties its log into it. Nothing on other databases. Raises
    RecordError if what was erased is still in the files."""
    connection, file = opening.connection, opening.file
    if file is None:
        return
    raw = connection.connection.driver_connection
    assert raw is not None, "a connection is open"
    again = "voicelist record erase --clean"
    with plainly(f"The cases are erased, but the files still hold them; try {again}"):
        with _copies_in(file.absolute().parent):
            raw.execute("VACUUM")
        busy, *_ = raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if busy:
        raise RecordError(
            "The cases are erased, but another program reads the records, so the log still holds "
            f"them: end that program, then: {again}"
        )


@contextlib.contextmanager
def _copies_in(folder: Path) -> Iterator[None]:
    """SQLite's own copy of the file, which it makes meanwhile, lies in the store's folder and not
    in one that others share (sqlite.org/tempfiles.html, section 5)."""
    before = os.environ.get(_COPIES)
    os.environ[_COPIES] = str(folder)
    try:
        yield
    finally:
        if before is None:
            del os.environ[_COPIES]
        else:
            os.environ[_COPIES] = before
