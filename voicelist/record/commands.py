"""What `voicelist record` does, as functions."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from voicelist.errors import RecordError, UsageError
from voicelist.record.case_line import CaseLine
from voicelist.record.exports import FiguresOf, export
from voicelist.record.journal import Entry, is_hash
from voicelist.record.outlines import Outline
from voicelist.record.store import Reader, Store
from voicelist.record.tree import root_of_heads
from voicelist.record.verify import Verdict, verify_entries, verify_file
from voicelist.record.view import case_view
from voicelist.record.words import hash_words
from voicelist.session.team_records import Amended

# The keys of `record list --json`, a contract.
_LISTED = ("case", "checklist", "source", "started_at", "state", "items", "mismatches", "head")
_TABLE = ("case", "checklist", "source", "started_at", "state", "items", "mismatches", "problem")
_TABLE_HEAD = ["case", "checklist", "source", "started", "state", "items", "mismatches", ""]
_LONGEST_TEXT = 500
_SHOWN_AT_MOST = 100


def list_cases(
    url: str | None,
    *,
    practice: bool,
    as_json: bool,
    oldest: int | None = None,
    every: bool = False,
) -> str:
    """Cases, newest first, as JSON or as a table; the oldest so many, or in a table the newest 100.
    Under the table stands one hash for the heads of all, or of the oldest so many."""
    reader = Reader(url, practice=practice)
    of = reader.outlines()
    of = of if oldest is None else of[max(len(of) - oldest, 0) :]
    if as_json:
        listed = [{key: getattr(line, key) for key in _LISTED} for line in reader.lines(of)]
        return json.dumps(listed)
    if not of:
        return f"No cases in {reader.where}."
    shown = of if every else of[:_SHOWN_AT_MOST]
    lines = tuple(reader.lines(shown))
    rows = ([str(getattr(line, key)) for key in _TABLE] for line in lines)
    return "\n".join(
        (
            *_columns([_TABLE_HEAD, *rows]),
            *_older(len(of) - len(shown)),
            *_one_hash(of, lines),
        )
    )


def _older(count: int) -> Iterator[str]:
    if count:
        yield f"And {count} older ones: voicelist record list --all"


def _one_hash(of: Sequence[Outline], lines: Sequence[CaseLine]) -> Iterator[str]:
    """One hash to be kept elsewhere instead of many; none where a case cannot be read. It binds the
    heads; what each head binds, only verification looks at."""
    heads = [one.head for one in reversed(of)]
    if any(line.problem for line in lines) or not all(map(is_hash, heads)):
        yield "No one hash for all of them: a case cannot be read."
        return
    yield f"One hash for these {len(of)}: {hash_words(root_of_heads(heads))}"
    yield (
        f"Kept elsewhere, it shows any later change: voicelist record list --oldest {len(of)}, "
        "and voicelist record verify --all"
    )


def _columns(rows: list[list[str]]) -> Iterator[str]:
    """Each column as wide as its widest cell."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()


@dataclass(frozen=True, slots=True)
class Exported:
    """What a file gets, and why the record does not verify (which `data` says, too)."""

    data: bytes
    problems: tuple[str, ...]


def export_case(
    case: str, form: str, url: str | None, *, practice: bool, figures: FiguresOf | None = None
) -> Exported:
    """One case in one of the export formats, as far as it can be read."""
    entries, amiss = readable_case(case, url, practice=practice)
    problems = (*verify_entries(entries).problems, *amiss)
    return Exported(export(entries, form, figures, amiss), tuple(dict.fromkeys(problems)))


def readable_case(
    case: str, url: str | None, *, practice: bool
) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """The entries of a case as far as they can be read, and what is missing or damaged beside
    them. Raises RecordError if none can be read."""
    reading = Reader(url, practice=practice).kept(case)
    amiss = tuple(reading.problems())
    if not reading.entries:
        raise RecordError(f"The record of {case} is damaged. {' '.join(amiss)}")
    return reading.entries, amiss


def verify_case(
    case: str, head: str | None, url: str | None, *, practice: bool
) -> tuple[str, Verdict]:
    """A case of a store, or an exported journal file, and which of both it was. A file never
    answers for a case of its name: write ./NAME for the file."""
    path = Path(case)
    is_file = path.exists() and not path.is_dir()
    if path.name != case and is_file:
        return f"the file {case}", verify_file(path, head)
    reader = Reader(url, practice=practice)
    if reader.holds(case) or not is_file:
        return case, reader.verify(case, head)
    return f"the file {case}", verify_file(path, head)


def verify_all(url: str | None, *, practice: bool) -> Iterator[tuple[str, Verdict]]:
    """Every case of a store, the newest first; the database itself once, at the first."""
    reader = Reader(url, practice=practice)
    for number, one in enumerate(reader.outlines()):
        yield one.case, reader.verify(one.case, database=number == 0)


def entries_of_all(
    url: str | None, *, practice: bool
) -> Iterator[tuple[tuple[Entry, ...], tuple[str, ...]]]:
    """The entries of every case, the newest first, and why one does not verify."""
    reader = Reader(url, practice=practice)
    for one in reader.outlines():
        reading = reader.kept(one.case)
        verdict = verify_entries(reading.entries)
        yield reading.entries, (*verdict.problems, *reading.problems())


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
