"""The file of an SQLite store, looked at from outside: is what is written still what will be read?

SQLite goes on writing into a file that was deleted, moved or replaced, and says that all is well.
So the file and its write-ahead log are compared with what lies at their paths, before each event
and before its acknowledgement. Files are made for the owner alone.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from voicelist.errors import RecordError

# The database file format of SQLite (sqlite.org/fileformat2.html, 1.3): at offset 18 and 19 stand
# the write and the read version, 1 for a rollback journal, 2 for a write-ahead log.
_VERSIONS: Final = slice(18, 20)
_WRITE_AHEAD: Final = b"\x02\x02"
_OWNER_ALONE: Final = 0o600


def log_of(file: Path) -> Path:
    """The write-ahead log beside a database."""
    return file.with_name(file.name + "-wal")


def rollback_journal_of(file: Path) -> Path:
    """The rollback journal beside a database: there only if a change was cut off."""
    return file.with_name(file.name + "-journal")


def make_folder(folder: Path) -> None:
    """Makes a folder and those above it, readable by their owner alone, and sees that they outlast
    a cut of the power. Raises OSError."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(exist_ok=True, mode=0o700)
    for one in missing:
        sync_names(one.parent)


def sync_names(folder: Path) -> None:
    """Puts the names in a folder on disk. SQLite does it, too, but keeps quiet where it fails.
    Windows has no such call. Raises OSError."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


class _Held:
    """An open file and how long it was when last looked at. While it is open, no other file can
    have its inode."""

    def __init__(self, path: Path, descriptor: int) -> None:
        self.path, self.descriptor, self.length = path, descriptor, 0
        ours = os.fstat(descriptor)
        self._identity = ours.st_dev, ours.st_ino

    def amiss(self) -> str:
        """Why the file at the path is not the one that is open, whole and at least as long; ""
        if it is."""
        try:
            there = os.stat(self.path)
        except OSError as error:
            return f"{self.path.name} is gone ({error.strerror})"
        if (there.st_dev, there.st_ino) != self._identity:
            return f"another file lies in the place of {self.path.name}"
        if there.st_size < self.length:
            return f"{self.path.name} was cut short"
        self.length = there.st_size
        return ""


class StoreFile:
    """Holds a store's file, from before SQLite opens it until after SQLite has closed it.

    Closing our descriptor earlier would drop SQLite's own locks on the file (POSIX advisory locks
    belong to a process, not to a descriptor).
    """

    def __init__(self, file: Path) -> None:
        """Makes the file if there is none. Raises OSError."""
        descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, _OWNER_ALONE)
        self._held = [_Held(file, descriptor)]

    def take_log(self) -> None:
        """To be called once SQLite has written. Raises RecordError unless the file is the one at
        its path and says itself that it keeps a write-ahead log, whatever SQLite was told; OSError
        if the names of both cannot be put on disk."""
        file = self._held[0]
        if os.pread(file.descriptor, 32, 0)[_VERSIONS] != _WRITE_AHEAD:
            raise RecordError(
                f"{file.path} is not in SQLite's WAL mode, so records would not be safe: see that "
                "its disk is sound and has space, or name another store."
            )
        log = log_of(file.path)
        try:
            descriptor = os.open(log, os.O_RDONLY | os.O_CLOEXEC)
        except OSError as error:
            raise RecordError(
                f"{log} cannot be opened ({error.strerror}), so records would not be safe: end "
                "whatever cleans up that folder, and try again."
            ) from error
        self._held.append(_Held(log, descriptor))
        sync_names(file.path.absolute().parent)
        self.check()

    def check(self) -> None:
        """Raises RecordError if what is written no longer lies at its path."""
        for held in self._held:
            amiss = held.amiss()
            if amiss:
                raise RecordError(
                    f"The records' own file was moved, deleted or changed by something else: "
                    f"{amiss}. Nothing said since is sure to be kept"
                )

    def release(self) -> None:
        """Lets go of the files."""
        while self._held:
            with contextlib.suppress(OSError):
                os.close(self._held.pop().descriptor)


def own_alone(file: Path) -> None:
    """Takes group and others their rights to a file of the user's own, where that is possible."""
    with contextlib.suppress(OSError):
        if file.stat().st_mode & 0o077:
            file.chmod(_OWNER_ALONE)


@contextlib.contextmanager
def readable(file: Path) -> Iterator[tuple[Path, str]]:
    """A file to read from and the options of its SQLite address, so that reading makes no files.

    In a folder that cannot be written to, what a log still holds is read from a copy. Raises
    RecordError if a writer changed the file meanwhile, where nothing but that would show it.
    """
    logs = [log for log in (log_of(file), rollback_journal_of(file)) if _length(log)]
    if os.access(file.parent, os.W_OK) and os.access(file, os.W_OK):
        if rollback_journal_of(file) in logs:
            _roll_back(file)
        if log_of(file).exists():
            yield file, "mode=ro"
            return
    elif logs:
        with tempfile.TemporaryDirectory(prefix="voicelist-") as folder:
            for one in (file, *logs):
                shutil.copyfile(one, Path(folder) / one.name)
            yield Path(folder) / file.name, "mode=rw"
        return
    before = _state(file)
    yield file, "mode=ro&immutable=1"
    if _state(file) != before:
        raise RecordError(f"{file} was written to while it was read: try again.")


def _length(file: Path) -> int:
    try:
        return file.stat().st_size
    except OSError:
        return 0


def _state(file: Path) -> tuple[int, int, int]:
    there = file.stat()
    return there.st_ino, there.st_size, there.st_mtime_ns


def _roll_back(file: Path) -> None:
    """Has SQLite take back a change that was cut off, as any first look for writing does. Another
    program's change that is still going on is left alone."""
    raw = sqlite3.connect(f"{file.absolute().as_uri()}?mode=rw", uri=True, timeout=5)
    try:
        raw.execute("SELECT count(*) FROM sqlite_master").fetchall()
    finally:
        raw.close()
