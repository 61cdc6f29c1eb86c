"""The shim under a process: building it, arming it, and reading what it wrote down."""

from __future__ import annotations

import struct
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path

_SOURCE = Path(__file__).with_name("shim.c")
_RECORD = struct.Struct("=IIiiqqII")


class Kind(IntEnum):
    """Operations, as the shim numbers them."""

    START = 0
    OPEN = 1
    WRITE = 2
    SYNC = 3
    TRUNCATE = 4
    UNLINK = 5
    RENAME = 6
    CLOSE = 7
    MKDIR = 8
    OUTPUT = 9


class Fate(IntEnum):
    """What happens to the chosen operation, as the shim numbers it.

    SHORT writes half and has no room afterwards, NO_ROOM has none from here on. KILL_AMID ends the
    process after half of a write.
    """

    FINE = 0
    EIO_ONCE = 1
    NO_ROOM = 2
    SHORT = 3
    KILL_BEFORE = 4
    KILL_AMID = 5
    KILL_AFTER = 6


KILLS = (Fate.KILL_BEFORE, Fate.KILL_AMID, Fate.KILL_AFTER)


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation. `path` is below the watched folder; `data` is what was written, the new name
    of a renaming, or what was put out. `offset` holds the flags of an opening, the size of a
    truncation."""

    kind: Kind
    fate: Fate = Fate.FINE
    descriptor: int = 0
    offset: int = 0
    result: int = 0
    path: str = ""
    data: bytes = b""

    @property
    def failed(self) -> bool:
        return self.result < 0


@dataclass(frozen=True, slots=True)
class Strike:
    """Which operation fails or ends the process: the `number`-th of `kinds`, from 1."""

    kinds: tuple[Kind, ...] = ()
    number: int = 0
    fate: Fate = Fate.FINE

    @property
    def mask(self) -> int:
        return sum(1 << kind for kind in self.kinds)


def build(folder: Path) -> Path:
    """Compiles the shim into `folder`. Raises CalledProcessError, or FileNotFoundError without a
    compiler."""
    library = folder / "shim.so"
    subprocess.run(
        ["gcc", "-O1", "-shared", "-fPIC", "-o", library, _SOURCE, "-ldl", "-lpthread"], check=True
    )
    return library


def environment(library: Path, folder: Path, log: Path, strike: Strike) -> dict[str, str]:
    """What a program started with `exec` needs in its environment to be watched."""
    return {
        "LD_PRELOAD": str(library),
        "DISK_FOLDER": str(folder),
        "DISK_LOG": str(log),
        "DISK_KINDS": str(strike.mask),
        "DISK_NUMBER": str(strike.number),
        "DISK_FATE": str(int(strike.fate)),
    }


def operations(log: bytes) -> Iterator[Operation]:
    """The operations of a log, in order. Raises struct.error for a log that is cut."""
    at = 0
    while at < len(log):
        kind, fate, descriptor, _, offset, result, path_size, data_size = _RECORD.unpack_from(
            log, at
        )
        at += _RECORD.size
        path = log[at : at + path_size].decode()
        at += path_size
        data = log[at : at + data_size]
        at += data_size
        yield Operation(Kind(kind), Fate(fate), descriptor, offset, result, path, data)
