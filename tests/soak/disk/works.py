"""What the watched processes do: the real code, and a line on standard output for each
acknowledgement."""

from __future__ import annotations

import io
import os
import sqlite3
import sys
from pathlib import Path

from voicelist import cli
from voicelist.errors import VoicelistError
from voicelist.record.store import Store
from voicelist.record.writer import Writer
from voicelist.session.record_base import Record
from voicelist.session.records import Called, Closed, Opened, Resumed, Said

DOCUMENTS = {"format": 1, "checklist": {"id": "soak", "title": "Soak", "sections": []}}
_TRIED_AGAIN = 2


def append(
    file: str, case: str, events: int, length: int = 40, close: bool = False, leave: bool = False
) -> None:
    """Opens or resumes `case`, appends `events` and acknowledges each one. After a refusal it goes
    on trying: a later acknowledgement would be a lie. `leave` ends without closing the store."""
    store = Store(f"sqlite:///{file}")
    try:
        writer, first = started(store, case)
        try:
            _append_all(writer, [first, *_records(events, length, close)])
        finally:
            if not leave:
                writer.close()
    except VoicelistError as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_code)
    if leave:
        os._exit(0)


def started(store: Store, case: str) -> tuple[Writer, Record]:
    """A writer, and the record with which it has to begin."""
    if case in store.codes():
        return store.resume(case), Resumed("typed", "0.1.0", None)
    return store.open_case(case), Opened("typed", "0.1.0", DOCUMENTS, None)


def _records(events: int, length: int, close: bool) -> list[Record]:
    text = "Full or low: the infusion bottle? "
    said = Said((text * (length // len(text) + 1))[:length], 1.5)
    pair = (Called("bottle", text), said)
    records: list[Record] = [pair[number % 2] if length < 1000 else said for number in range(events)]
    return [*records, Closed("completed")] if close else records


def _append_all(writer: Writer, records: list[Record]) -> None:
    for number, record in enumerate(records):
        try:
            acknowledge(writer, record)
        except VoicelistError:
            for later in records[number : number + _TRIED_AGAIN]:
                try:
                    acknowledge(writer, later)
                except VoicelistError:
                    continue
            raise


def acknowledge(writer: Writer, record: Record) -> None:
    """Appends and tells that it is on disk."""
    entry = writer.append(record)
    os.write(1, f"ack {entry.case} {entry.seq} {entry.hash}\n".encode())


def program(file: str, plan: str, lines: list[str], case: str = "") -> None:
    """The whole program by typed lines: `run` of a plan, or `resume` of a case."""
    begun = ["resume", case] if case else ["run", plan]
    sys.argv = ["voicelist", *begun, "--typed", "--voice", "none", "--store", f"sqlite:///{file}"]
    sys.stdin = io.StringIO("".join(f"{line}\n" for line in lines))
    cli.main()


def rolled_back(file: str, case: str) -> None:
    """Another program in the middle of a transaction in rollback mode; nothing of it was
    acknowledged. Killed when it is about to remove its journal, it leaves a hot one."""
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA journal_mode = delete")
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("UPDATE journal SET body = body || ' ' WHERE \"case\" = ?", (case,))
    connection.execute("COMMIT")


def to_rollback_mode(file: Path) -> None:
    """Leaves a store as a database tool may: in rollback mode, whole and closed."""
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA journal_mode = delete")
    connection.close()
