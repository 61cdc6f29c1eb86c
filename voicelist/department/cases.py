"""The cases of a department as the server holds them, for reviews."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import text
from sqlalchemy.engine import Connection

from voicelist.department.server import connection
from voicelist.errors import RecordError
from voicelist.record.journal import entry_of, parsed
from voicelist.record.verify import Reading

_LISTED = text(
    'SELECT DISTINCT ON (theatre, "case") theatre, "case", seq, hash FROM voicelist_journal '
    'ORDER BY theatre, "case", seq DESC'
)
_EVENTS = text(
    'SELECT "case", seq, at, run, mono_ms, kind, body, prev, hash FROM voicelist_journal '
    'WHERE theatre = :theatre AND "case" = :case ORDER BY seq'
)


def readings(url: str) -> Iterator[tuple[str, str, Reading]]:
    """Theatre, code and events of each case, in the order of theatres and codes, as far as they can
    be read. Raises RecordError if the server is away."""
    with connection(url) as connected:
        for one in connected.execute(_LISTED).all():
            yield one.theatre, one.case, reading_of(connected, one.theatre, one.case)


def reading_of(connected: Connection, theatre: str, case: str) -> Reading:
    """The events of one case, as far as they can be read."""
    events, problem = [], ""
    rows = connected.execute(_EVENTS, {"theatre": theatre, "case": case})
    try:
        for row in rows.mappings():
            events.append(entry_of({**row, "body": parsed(row["body"])}))
    except RecordError as error:
        problem = f"Event {len(events) + 1} cannot be read: {error}."
    return Reading(tuple(events), problem)
