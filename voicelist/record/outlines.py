"""What a list needs of each case without reading its events: when it began, where it ends, and what
its writer noted of it as it closed.

The note is a copy to save time. It is believed for a list alone, and only where it is about the
event with which the journal really ends. It also says how many events there were, so that a record
that lost some shows it.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Final

from sqlalchemy import delete, insert, text
from sqlalchemy.engine import Connection

from voicelist.record.case_line import UNREADABLE, CaseLine
from voicelist.record.course import OPEN_CASE
from voicelist.record.journal import Entry
from voicelist.record.layout import CASE_LINES, has_table

# For those that ended before this version, or without a word: at the end of a case, so much time
# for their notes. From memory: people do not notice half a second as a programme ends.
_BACKLOG_S: Final = 0.5

# Goes from case to case by the index; a plain `SELECT DISTINCT` would read an entry for each event.
_CASES = """
WITH RECURSIVE every(code) AS (
    SELECT MIN("case") FROM journal
    UNION ALL
    SELECT (SELECT MIN("case") FROM journal WHERE "case" > every.code)
    FROM every WHERE every.code IS NOT NULL
)
"""
_CODES = text(_CASES + "SELECT code FROM every WHERE code IS NOT NULL")
_ENDS = f"""{_CASES}, ends AS MATERIALIZED (
    SELECT code,
        (SELECT MIN(seq) FROM journal WHERE "case" = code) AS first,
        (SELECT MAX(seq) FROM journal WHERE "case" = code) AS last
    FROM every WHERE code IS NOT NULL
)
SELECT ends.code, began.at AS started_at, ends.last AS seq, ended.hash AS head, %s AS line
FROM ends
LEFT JOIN journal AS began ON began."case" = ends.code AND began.seq = ends.first
LEFT JOIN journal AS ended ON ended."case" = ends.code AND ended.seq = ends.last
"""
_WITHOUT_NOTES = text(_ENDS % "NULL")
_WITH_NOTES = text(
    _ENDS % "noted.line"
    + f"""LEFT JOIN {CASE_LINES.name} AS noted
    ON noted."case" = ends.code AND noted.seq = ends.last AND noted.hash = ended.hash"""
)


@dataclass(frozen=True, slots=True)
class Outline:
    """A case from outside. `noted` is what its writer noted, None where there is no such note."""

    case: str
    started_at: str
    seq: int
    head: str
    noted: str | None

    @property
    def line(self) -> CaseLine | None:
        """The note, read; None where there is none that can be read."""
        if self.noted is None:
            return None
        try:
            return CaseLine(**json.loads(self.noted))
        except (ValueError, TypeError):
            return None


def codes(connection: Connection) -> tuple[str, ...]:
    """The codes of all cases, sorted."""
    return tuple(sorted(str(code) for code in connection.execute(_CODES).scalars()))


def outlines(connection: Connection) -> tuple[Outline, ...]:
    """All cases, the newest first."""
    query = _WITH_NOTES if has_table(connection, CASE_LINES) else _WITHOUT_NOTES
    found = [
        Outline(str(row.code), str(row.started_at), row.seq, str(row.head), row.line)
        for row in connection.execute(query)
    ]
    return tuple(sorted(found, key=lambda one: (one.started_at, one.case), reverse=True))


def noted_events(connection: Connection, case: str) -> int:
    """How many events there are at least, as the writers of a case noted as they began and closed;
    0 if none did."""
    if not has_table(connection, CASE_LINES):
        return 0
    noted = connection.execute(
        text(f'SELECT MAX(seq) FROM {CASE_LINES.name} WHERE "case" = :case'), {"case": case}
    ).scalar()
    return noted if isinstance(noted, int) else 0


def note(connection: Connection, seq: int, line: CaseLine) -> None:
    """Notes what a list says of a case that ends with the event `seq`; nothing of one that is open
    or cannot be read."""
    if line.state in {OPEN_CASE, UNREADABLE} or line.problem:
        return
    row = {"case": line.case, "seq": seq, "hash": line.head, "line": json.dumps(asdict(line))}
    begun = (CASE_LINES.c.case == line.case) & (CASE_LINES.c.seq == seq)
    with connection.begin():
        connection.execute(delete(CASE_LINES).where(begun))
        connection.execute(insert(CASE_LINES), row)


def note_begun(connection: Connection, entry: Entry) -> None:
    """Notes that a run began with `entry`, in the transaction that adds it: so many events there
    have to be, whatever an index says later."""
    row = {"case": entry.case, "seq": entry.seq, "hash": entry.hash, "line": ""}
    connection.execute(insert(CASE_LINES), row)


def note_backlog(connection: Connection, line_of: Callable[[str], CaseLine]) -> None:
    """Notes closed cases that lack it, the newest first, as many as half a second allows."""
    until_s = time.monotonic() + _BACKLOG_S
    with connection.begin():
        lacking = [one for one in outlines(connection) if one.line is None]
    for one in lacking:
        if time.monotonic() > until_s:
            return
        with connection.begin():
            line = line_of(one.case)
        note(connection, one.seq, line)
