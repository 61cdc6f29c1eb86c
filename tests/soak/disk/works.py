"""What the watched processes do: the real code, and a line on standard output for each
acknowledgement."""

from __future__ import annotations

import io
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path

from voicelist import cli, running
from voicelist.errors import VoicelistError
from voicelist.record.store import Store
from voicelist.record.writer import Writer
from voicelist.session.record_base import Record
from voicelist.session.records import Called, Closed, Opened, Resumed, Said

DOCUMENTS = {"format": 1, "checklist": {"id": "soak", "title": "Soak", "sections": []}}
REFUSED = "refused\n"
_TRIED_AGAIN = 2
_LOADED = running  # before processes are forked, so that each need not do it


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
    records: list[Record] = [
        pair[number % 2] if length < 1000 else said for number in range(events)
    ]
    return [*records, Closed("completed")] if close else records


def _append_all(writer: Writer, records: list[Record]) -> None:
    for number, record in enumerate(records):
        try:
            acknowledge(writer, record)
        except VoicelistError:
            os.write(1, REFUSED.encode())
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


def to_rollback_mode(file: str) -> None:
    """Leaves a store as a database tool may: in rollback mode, whole and closed."""
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA journal_mode = delete")
    connection.close()


def to_layout_1(file: str) -> None:
    """Leaves a store as the first layout had it."""
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("DROP TABLE voicelist_erased")
    connection.execute("DROP TABLE voicelist_case_line")
    connection.execute("UPDATE voicelist_layout SET version = 1")
    connection.close()


def erase(file: str, case: str) -> None:
    """Erases a case, of which a tombstone has to stay."""
    try:
        Store(f"sqlite:///{file}").erase(
            (case,), role="team-lead", reason="asked for", code_too=False
        )
    except VoicelistError as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_code)


def lose(file: str, case: str, deed: str, before: int, after: int) -> None:
    """Acknowledges `before` events, then something happens to the files, then come `after` more."""
    store = Store(f"sqlite:///{file}")
    try:
        with store.open_case(case) as writer:
            _append_all(
                writer, [Opened("typed", "0.1.0", DOCUMENTS, None), *_records(before, 40, False)]
            )
            DEEDS[deed](Path(file))
            os.write(1, b"deed\n")
            _append_all(writer, _records(after, 40, False))
    except VoicelistError as error:
        print(error, file=sys.stderr)
        sys.exit(error.exit_code)


def _files_of(file: Path) -> list[Path]:
    return [Path(f"{file}{end}") for end in ("", "-wal", "-shm") if Path(f"{file}{end}").exists()]


def _delete(file: Path) -> None:
    for one in _files_of(file):
        one.unlink()


def _delete_database(file: Path) -> None:
    file.unlink()


def _delete_log(file: Path) -> None:
    Path(f"{file}-wal").unlink()


def _delete_folder(file: Path) -> None:
    shutil.rmtree(file.parent)


def _move(file: Path) -> None:
    for one in _files_of(file):
        one.rename(one.with_name(f"moved-{one.name}"))


def _move_folder(file: Path) -> None:
    file.parent.rename(file.parent.with_name("moved"))


def _replace_by_copy(file: Path) -> None:
    """As a backup put back, or an editor that saves anew."""
    for one in _files_of(file):
        copy = one.with_name(f"copy-{one.name}")
        shutil.copy(one, copy)
        copy.replace(one)


def _replace_log(file: Path) -> None:
    log = Path(f"{file}-wal")
    shutil.copy(log, f"{log}-copy")
    Path(f"{log}-copy").replace(log)


def _replace_by_another(file: Path) -> None:
    other = file.with_name("other.sqlite3")
    with Store(f"sqlite:///{other}").open_case("other") as writer:
        writer.append(Opened("typed", "0.1.0", DOCUMENTS, None))
    other.replace(file)


DEEDS: dict[str, Callable[[Path], None]] = {
    "store deleted": _delete,
    "database deleted": _delete_database,
    "log deleted": _delete_log,
    "folder deleted": _delete_folder,
    "store moved": _move,
    "folder moved": _move_folder,
    "store replaced by a copy": _replace_by_copy,
    "log replaced by a copy": _replace_log,
    "store replaced by another": _replace_by_another,
}
