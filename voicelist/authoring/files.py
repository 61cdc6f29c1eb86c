"""Writing a file for somebody: refusals are sentences, and what is there stays."""

from __future__ import annotations

from pathlib import Path

from voicelist.errors import UsageError


def write_new(target: Path, text: str) -> None:
    """Write `text` to a file that is not there yet. Raises UsageError."""
    try:
        with target.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise UsageError(f"{target} is there already and stays as it is: name another.") from None
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}.") from error


def write_over(target: Path, data: bytes) -> None:
    """Write `data`, in place of what was there. Raises UsageError."""
    try:
        target.write_bytes(data)
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}.") from error
