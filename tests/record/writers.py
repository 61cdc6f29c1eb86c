"""What the processes of the durability tests do. They share nothing with the tests but a file."""

from __future__ import annotations

import os
import resource
import signal
from multiprocessing.connection import Connection
from pathlib import Path

from cases import opened

from voicelist.errors import RecordError
from voicelist.record.store import Store
from voicelist.record.writer import Writer
from voicelist.session.records import Called, Record, Resumed

CASE = "case-1"
CALL = Called("bottle", "Full or low: the infusion bottle?")


def store_at(file: Path) -> Store:
    return Store(f"sqlite:///{file}")


def started(file: Path) -> tuple[Writer, Record]:
    """A writer of the case, and the record with which it has to begin."""
    store = store_at(file)
    if CASE in store.codes():
        return store.resume(CASE), Resumed("typed", "0.1.0", None)
    return store.open_case(CASE), opened("typed")


def write_until_killed(file: Path, acknowledged: Connection) -> None:
    """Sends the number of each event as soon as it is acknowledged."""
    writer, record = started(file)
    while True:
        acknowledged.send(writer.append(record).seq)
        record = CALL


def hold(file: Path, told: Connection) -> None:
    """Holds the lock until killed."""
    writer, record = started(file)
    writer.append(record)
    told.send(os.getpid())
    signal.pause()


def write_until_the_disk_is_full(file: Path, told: Connection, room_bytes: int) -> None:
    """No file may grow beyond `room_bytes`, as if the disk were full. Afterwards there is room
    again, and the writer is tried once more: its refusals are sent as text."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    writer, record = started(file)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room_bytes, most))
    for _ in range(10_000):
        try:
            told.send(writer.append(record).seq)
        except RecordError as error:
            told.send(str(error))
            break
        record = CALL
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    try:
        told.send(writer.append(CALL).seq)
    except RecordError as error:
        told.send(str(error))
    writer.close()
