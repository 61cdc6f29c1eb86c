"""The outbox: what the local store holds goes to the server, in order and once.

The local store is written first and is never waited for; nothing here writes to it. How far the
copying has come stands in a small file of its own. It is believed only until the server tells
otherwise: after each cut the server is asked what it holds, and takes an event only behind the one
before it, so that nothing is lost, doubled or turned round, whenever either side stops.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, closing, nullcontext, suppress
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from sqlalchemy import text
from sqlalchemy.engine import Connection
from sqlalchemy.exc import SQLAlchemyError

from voicelist.department.server import engine_of, is_server, name_of, why
from voicelist.errors import RecordError, UsageError, VoicelistError
from voicelist.record.database import place_of
from voicelist.settings import read_settings, settings_file

_FIELDS: Final = ("case", "seq", "at", "run", "mono_ms", "kind", "body", "prev", "hash")
_AT_ONCE = 200
# Waits after a failure: doubled each time between these. Project choice.
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 60.0
_LOOKS_EVERY_S = 0.5
# So long something may be under way before people are told.
_TELL_AFTER_S = 10.0
_INSERT = text(
    'INSERT INTO voicelist_journal (theatre, "case", seq, at, run, mono_ms, kind, body, prev, hash)'
    " VALUES (:theatre, :case, :seq, :at, :run, :mono_ms, :kind, :body, :prev, :hash)"
)
_HELD = text("SELECT seq, hash FROM voicelist_held(:case)")
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class OutboxStanding:
    """How far it is: events that wait here, and why the last try failed ("" if it did not).
    `refused` names cases that the server will not take, with the reason."""

    waiting: int
    problem: str = ""
    refused: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """One sentence for people, "" where all is there."""
        parts = []
        if self.waiting:
            events = "1 event" if self.waiting == 1 else f"{self.waiting} events"
            parts.append(f"Kept here, not yet there: {events}.")
        parts += [
            f"Kept here alone: {case}, for {reason}." for case, reason in self.refused.items()
        ]
        return " ".join(parts)


class Outbox:
    """Copies the events of one local store to one server. Not for two threads at once."""

    def __init__(self, store: Path, url: str, theatre: str) -> None:
        """`store` is the file of the local store; how far it is stands beside it."""
        self._store = store
        self._theatre = theatre
        self._engine = engine_of(url)
        self.where = name_of(url)
        self._marks = store.with_name(f"{store.name}.outbox")
        self._problem = ""

    def standing(self) -> OutboxStanding:
        """How far it is, by what stands here; the server is not asked."""
        with closing(self._own()) as own:
            mark, refused = _mark(own, self.where), _refused(own, self.where)
        if not self._store.exists():
            return OutboxStanding(0, self._problem, refused)
        with closing(_reading(self._store)) as raw:
            query = "SELECT count(*) FROM journal WHERE rowid > ?"
            waiting = raw.execute(query, (mark,)).fetchone()[0] if _has_journal(raw) else 0
        return OutboxStanding(waiting, self._problem, refused)

    def send_some(self) -> int:
        """Copies the next events, in order; returns how many were passed. Raises RecordError if the
        server is away or refuses everything; then nothing counts as copied."""
        if not self._store.exists():
            return 0
        with closing(self._own()) as own:
            refused = _refused(own, self.where)
            rows = self._next(self._believed(own))
            if not rows:
                return 0
            try:
                with self._engine.connect() as server:
                    found = {
                        case: reason
                        for case, some in _by_case(rows).items()
                        if case not in refused and (reason := self._copy(server, some))
                    }
            except SQLAlchemyError as error:
                self._problem = why(error)
                raise RecordError(f"The server {self.where} is away ({self._problem}).") from error
            self._problem = ""
            _keep(own, self.where, rows[-1]["rowid"], found)
        return len(rows)

    def _believed(self, own: sqlite3.Connection) -> int:
        """The mark, or 0 where the store ends before it: cases were erased, and the numbers of
        their rows go to others. Then everything is compared with the server once more."""
        mark = _mark(own, self.where)
        with closing(_reading(self._store)) as raw:
            last = 0
            if _has_journal(raw):
                last = raw.execute("SELECT coalesce(max(rowid), 0) FROM journal").fetchone()[0]
        if last >= mark:
            return mark
        _keep(own, self.where, 0, {})
        return 0

    def _next(self, mark: int) -> list[Row]:
        with closing(_reading(self._store)) as raw:
            if not _has_journal(raw):
                return []
            raw.row_factory = sqlite3.Row
            query = "SELECT rowid, * FROM journal WHERE rowid > ? ORDER BY rowid LIMIT ?"
            return [dict(row) for row in raw.execute(query, (mark, _AT_ONCE))]

    def _copy(self, server: Connection, rows: Sequence[Row]) -> str:
        """Events of one case in one transaction; returns why the case is refused, "" if it is not.
        What the server holds already has to be the same, event by event."""
        case = str(rows[0]["case"])
        with server.begin():
            held = {row.seq: row.hash for row in server.execute(_HELD, {"case": case})}
        if any(held.get(row["seq"], row["hash"]) != row["hash"] for row in rows):
            return f"the server holds another record of {self._theatre} under that code"
        new = [
            {"theatre": self._theatre, **{name: row[name] for name in _FIELDS}}
            for row in rows
            if row["seq"] not in held
        ]
        if new:
            with server.begin():
                server.execute(_INSERT, new)
        return ""

    def _own(self) -> sqlite3.Connection:
        """The file that says how far it is."""
        own = sqlite3.connect(self._marks, isolation_level=None, timeout=5)
        own.execute("CREATE TABLE IF NOT EXISTS mark (server TEXT PRIMARY KEY, rowid_sent INTEGER)")
        own.execute(
            'CREATE TABLE IF NOT EXISTS refused (server TEXT, "case" TEXT, why TEXT, '
            'PRIMARY KEY (server, "case"))'
        )
        return own


def _by_case(rows: Sequence[Row]) -> dict[str, list[Row]]:
    ordered = sorted(rows, key=lambda row: (row["case"], row["seq"]))
    return {case: list(some) for case, some in groupby(ordered, key=lambda row: str(row["case"]))}


def _reading(store: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{store.absolute().as_uri()}?mode=ro", uri=True, timeout=5)


def _has_journal(raw: sqlite3.Connection) -> bool:
    query = "SELECT 1 FROM sqlite_master WHERE name = 'journal'"
    return raw.execute(query).fetchone() is not None


def _mark(own: sqlite3.Connection, server: str) -> int:
    found = own.execute("SELECT rowid_sent FROM mark WHERE server = ?", (server,)).fetchone()
    return int(found[0]) if found else 0


def _refused(own: sqlite3.Connection, server: str) -> dict[str, str]:
    query = 'SELECT "case", why FROM refused WHERE server = ?'
    return dict(own.execute(query, (server,)).fetchall())


def _keep(own: sqlite3.Connection, server: str, rowid: int, found: Mapping[str, str]) -> None:
    own.execute("BEGIN IMMEDIATE")
    own.execute("INSERT OR REPLACE INTO mark VALUES (?, ?)", (server, rowid))
    own.executemany(
        "INSERT OR REPLACE INTO refused VALUES (?, ?, ?)",
        [(server, case, reason) for case, reason in found.items()],
    )
    own.execute("COMMIT")


class Courier:
    """Runs an outbox in the background while a case goes on, with growing waits after failures."""

    def __init__(self, outbox: Outbox, tell: Callable[[str], None]) -> None:
        """`tell` shows people a sentence; it is called from another thread."""
        self._outbox = outbox
        self._tell = tell
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="outbox", daemon=True)
        self._told = ""
        self._behind_since_s: float | None = None

    def __enter__(self) -> Courier:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Gives it a moment more, never a reason to wait; then says what is not there yet."""
        self._ended.set()
        self._thread.join(timeout=3.0)
        with suppress(VoicelistError, sqlite3.Error, OSError):
            words = self._outbox.standing().words
            if words:
                self._tell(f"{words} It goes on by itself; or: voicelist department send")

    def _run(self) -> None:
        wait_s = FIRST_WAIT_S
        while True:
            ending = self._ended.is_set()
            try:
                while self._outbox.send_some():
                    pass
                wait_s = FIRST_WAIT_S
                pause_s = _LOOKS_EVERY_S
            except (VoicelistError, sqlite3.Error, OSError):
                pause_s, wait_s = wait_s, min(wait_s * 2, LONGEST_WAIT_S)
            with suppress(VoicelistError, sqlite3.Error, OSError):
                self._tell_if_behind(self._outbox.standing())
            if ending:
                return
            self._ended.wait(pause_s)

    def _tell_if_behind(self, standing: OutboxStanding) -> None:
        """Once when it falls behind, and once when all is there again."""
        now_s = time.monotonic()
        if not standing.words:
            if self._told:
                self._tell("All that is kept here is there, too.")
            self._told, self._behind_since_s = "", None
            return
        self._behind_since_s = self._behind_since_s or now_s
        if not self._told and now_s - self._behind_since_s >= _TELL_AFTER_S:
            self._told = standing.words
            self._tell(standing.words)


def local_of(url: str | None) -> str | None:
    """The store that is written first: a server is copied to, never written by a case."""
    return None if is_server(url) else url


def own_theatre() -> str:
    """The theatre of this computer by its settings, "" where none is named."""
    return str(read_settings().get("theatre", "")).strip()


def outbox_of(server: str, local: str | None = None) -> Outbox:
    """The outbox of a store of this computer (None: the user's own) for a server. Raises UsageError
    where the settings name no theatre, or the store is no file."""
    theatre = own_theatre()
    if not theatre:
        raise UsageError(
            f"{name_of(server)} keeps records by theatre, and this computer has none: write "
            f"theatre: NAME into {settings_file()}."
        )
    file = place_of(local, practice=False).file
    if file is None:
        raise UsageError("What is copied to a server has to lie in a file here.")
    return Outbox(file, server, theatre)


def courier(
    url: str | None, practice: bool, tell: Callable[[str], None]
) -> AbstractContextManager[object]:
    """A courier for a case, or nothing where there is no server, named as the store or in the
    settings; practice goes nowhere. What is amiss with the server is told and keeps no case from
    beginning: it is kept here."""
    try:
        named = url if url is not None and is_server(url) else read_settings().get("server")
        if practice or not named:
            return nullcontext()
        return Courier(outbox_of(str(named), None if is_server(url) else url), tell)
    except VoicelistError as error:
        tell(f"Kept here alone. {error}")
        return nullcontext()
