"""One writer at a time: a lock file that the system releases when its process ends, however."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

from voicelist.errors import RecordError

if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> None:
        os.lseek(descriptor, 1 << 20, os.SEEK_SET)  # a byte behind the text, which stays readable
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _take(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


class WriterLock:
    """Held from construction until `release` or the end of the process."""

    def __init__(self, path: Path, case: str) -> None:
        """Raises RecordError if another writer holds the lock."""
        # Not inherited by children (PEP 446), which would keep the lock beyond our end.
        self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _take(self._descriptor)
        except OSError:
            holder = os.read(self._descriptor, 200).decode("utf-8", "replace").strip()
            os.close(self._descriptor)
            raise RecordError(
                f"Another voicelist is writing to these records ({holder or 'just started'}). "
                "End that one first, or name another store."
            ) from None
        os.ftruncate(self._descriptor, 0)
        os.lseek(self._descriptor, 0, os.SEEK_SET)
        os.write(self._descriptor, f"case {case}, process {os.getpid()}".encode())

    def release(self) -> None:
        """Lets the next writer in. The file stays: removing it would let two writers in."""
        with contextlib.suppress(OSError):
            os.close(self._descriptor)
