"""What `voicelist record` does, as functions."""

from __future__ import annotations

import contextlib
import dataclasses
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from voicelist.errors import UsageError
from voicelist.record.exports import FiguresOf, export
from voicelist.record.store import Reader, Store
from voicelist.record.tree import root_of_heads
from voicelist.record.verify import Verdict, verify_file
from voicelist.record.view import case_view
from voicelist.record.words import hash_words
from voicelist.session.team_records import Amended

# The keys of `record list --json`, a contract.
_LISTED = ("case", "checklist", "source", "started_at", "state", "items", "mismatches", "head")
_TABLE = ("case", "checklist", "source", "started_at", "state", "items", "mismatches", "problem")
_TABLE_HEAD = ["case", "checklist", "source", "started", "state", "items", "mismatches", ""]
_LONGEST_TEXT = 500


def list_cases(url: str | None, *, practice: bool, as_json: bool, oldest: int | None = None) -> str:
    """All cases or the oldest so many, newest first, as a table or as JSON. Under the table stands
    one hash for the heads of all that are in it."""
    reader = Reader(url, practice=practice)
    lines = [dataclasses.asdict(line) for line in reader.cases()]
    lines = lines if oldest is None else lines[max(len(lines) - oldest, 0) :]
    if as_json:
        return json.dumps([{key: line[key] for key in _LISTED} for line in lines])
    if not lines:
        return f"No cases in {reader.where}."
    return "\n".join(
        (
            *_columns([_TABLE_HEAD, *([str(line[key]) for key in _TABLE] for line in lines)]),
            *_one_hash(lines),
        )
    )


def _one_hash(lines: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """One hash to be kept elsewhere instead of many; none where a case cannot be read."""
    if any(line["problem"] for line in lines):
        yield "No one hash for all of them: a case cannot be read."
        return
    root = root_of_heads([str(line["head"]) for line in reversed(lines)])
    yield f"One hash for these {len(lines)}: {hash_words(root)}"
    yield f"Kept elsewhere, it shows any later change: voicelist record list --oldest {len(lines)}"


def _columns(rows: list[list[str]]) -> Iterator[str]:
    """Each column as wide as its widest cell."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()


def export_case(
    case: str, form: str, url: str | None, *, practice: bool, figures: FiguresOf | None = None
) -> bytes:
    """One case in one of the export formats."""
    return export(Reader(url, practice=practice).entries(case), form, figures)


def verify_case(case: str, head: str | None, url: str | None, *, practice: bool) -> Verdict:
    """A case of a store, or an exported journal file."""
    path = Path(case)
    if path.exists() and not path.is_dir():
        return verify_file(path, head)
    return Reader(url, practice=practice).verify(case, head)


def amend_case(case: str, entry: Amended, url: str | None, *, practice: bool) -> str:
    """Adds a late entry to a case that has ended; returns the new head. Raises UsageError for texts
    that a record may not hold, RecordError as `Store.amend`."""
    for name, text in (("entry", entry.text), ("reason", entry.reason)):
        if not text.strip() or not text.isprintable() or len(text) > _LONGEST_TEXT:
            raise UsageError(f"The {name} has to be 1 to {_LONGEST_TEXT} printable characters.")
    store = Store(url, practice=practice)
    items = [item.id for item in case_view(store.entries(case)).items]
    if entry.item and entry.item not in items:
        raise UsageError(
            f"There is no item {entry.item} in {case}: choose one of {', '.join(items)}."
        )
    with contextlib.closing(store.amend(case)) as writer:
        return writer.append(entry).hash
