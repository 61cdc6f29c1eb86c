"""Writing a file for somebody: refusals are sentences, and what is there stays."""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path

from voicelist.errors import UsageError


def write_new(target: Path, text: str, *, private: bool = False) -> None:
    """Write `text` to a file that is not there yet; `private` makes it its owner's alone. Raises
    UsageError."""
    mode = 0o600 if private else 0o666
    try:
        descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise UsageError(f"{target} is there already and stays as it is: name another.") from None
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}.") from error


def write_over(target: Path, data: bytes, *, private: bool = False) -> None:
    """Write `data`, in place of what was there, whole or not at all; `private` makes a new file its
    owner's alone. Raises UsageError."""
    try:
        if target.exists() and not target.is_file():
            target.write_bytes(data)  # a device or a pipe cannot be replaced
        else:
            _replace(target.resolve(), data, 0o600 if private else 0o666)
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}.") from error


def own_folder(folder: Path) -> None:
    """Makes a folder for its owner alone; one that is there stays as it is. Raises UsageError."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{folder} cannot be made: {error.strerror}.") from error


def _replace(target: Path, data: bytes, mode: int) -> None:
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            beside.chmod(stat.S_IMODE(target.stat().st_mode))
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
