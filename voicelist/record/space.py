"""Whether there is room on the disk for one more case."""

from __future__ import annotations

import shutil
from pathlib import Path

from voicelist.errors import RecordError
from voicelist.record.database import place_of

# A whole case takes less than 0.2 MB, with the log of the database less than 1 MB (the practice
# case, measured in November 2026); the rest is for whatever else writes meanwhile. Project choice.
REFUSED_BELOW_BYTES = 10_000_000
TOLD_BELOW_BYTES = 100_000_000


def room_on_disk(url: str | None, *, practice: bool) -> str:
    """A sentence for people if there is little room where the records lie, "" if there is enough
    or if that cannot be known. Raises RecordError if a case might not fit."""
    place = place_of(url, practice)
    if place.file is None:
        return ""
    free = _free_bytes(place.file.absolute().parent)
    if free is None or free >= TOLD_BELOW_BYTES:
        return ""
    told = f"The disk of {place.name} has {free / 1e6:.0f} MB left"
    if free < REFUSED_BELOW_BYTES:
        needed = REFUSED_BELOW_BYTES / 1e6
        raise RecordError(
            f"{told}, and a case begins with {needed:.0f} MB at least: make room, or name another "
            "place with --store."
        )
    return f"{told}: make room soon."


def _free_bytes(folder: Path) -> int | None:
    """What the user may still write there, or where the folder will be made."""
    there = next((one for one in (folder, *folder.parents) if one.exists()), folder)
    try:
        return shutil.disk_usage(there).free
    except OSError:
        return None
