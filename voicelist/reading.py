"""Files are read as far as a stated size, and only files: never a pipe, which may not end, a device
or a folder."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from pathlib import Path

from voicelist.errors import VoicelistError

MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True)
class FileLimits:
    """The largest files that are read, in bytes. Project choice: a hundred times what voicelist
    ships, writes, or has been seen to need, and small beside a computer's memory."""

    # A checklist, a card, a plan, a rules file, a lexicon, a catalogue of sentences.
    document: int = 2 * MEGABYTE
    # A table of what was said in recordings, one line each.
    table: int = 2 * MEGABYTE
    # A journal, and one line of it: the first embeds all documents.
    journal: int = 64 * MEGABYTE
    journal_line: int = 8 * MEGABYTE
    # The list of the files of a speech model.
    manifest: int = MEGABYTE


FILE_LIMITS = FileLimits()


class NotReadable(VoicelistError):
    """A file that is not read: what was `found` and what is `expected` instead."""

    def __init__(self, path: Path, found: str, expected: str) -> None:
        self.found, self.expected = found, expected
        super().__init__(f"{path} cannot be read: found {found}; {expected}.")


def read_file(path: Path, most_bytes: int, what: str) -> bytes:
    """All bytes of an ordinary file. Raises NotReadable, which names `what` the file should be."""
    try:
        refuse_no_file(path, what)
        # Without waiting: what was a file a moment ago may be a pipe now.
        with open(os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb") as file:
            _refuse_mode(path, os.fstat(file.fileno()).st_mode, what)
            raw = file.read(most_bytes + 1)
    except (OSError, ValueError) as error:
        raise _unreadable(path, error, what) from None
    if len(raw) > most_bytes:
        size = f"{most_bytes / MEGABYTE:g} MB"
        raise NotReadable(
            path, f"a file too large for {what}", f"expected {what} of at most {size}"
        )
    return raw


def refuse_no_file(path: Path, what: str) -> None:
    """Raises NotReadable unless `path` is an ordinary file."""
    try:
        _refuse_mode(path, path.stat().st_mode, what)
    except (OSError, ValueError) as error:
        raise _unreadable(path, error, what) from None


def _refuse_mode(path: Path, mode: int, what: str) -> None:
    for is_kind, name in _KINDS:
        if is_kind(mode):
            raise NotReadable(path, name, f"expected {what}: give an ordinary file")


def _unreadable(path: Path, error: OSError | ValueError, what: str) -> NotReadable:
    if isinstance(error, FileNotFoundError):
        return NotReadable(path, "no such file", f"expected {what}: check the path")
    reason = error.strerror if isinstance(error, OSError) else str(error)
    expected = "expected a file that can be read: check the path and its permissions"
    return NotReadable(path, f"an unreadable file ({reason})", expected)


_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
