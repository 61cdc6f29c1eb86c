"""What `voicelist record` does, as functions."""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from itertools import count
from pathlib import Path

from voicelist.errors import RecordError, UsageError
from voicelist.reading import FILE_LIMITS, NotReadable, read_file
from voicelist.record.before import local_day
from voicelist.record.case_line import CaseLine
from voicelist.record.erasure import Tombstone
from voicelist.record.exports import ENDINGS, FORMATS, FiguresOf, export
from voicelist.record.journal import Entry, is_hash, timestamp
from voicelist.record.outlines import Outline
from voicelist.record.proof import ProofVerdict, check_proof, is_proof, proof_of
from voicelist.record.signing import SignedHead, opened_head, read_key, signed_head
from voicelist.record.store import Reader, Store
from voicelist.record.tree import root_of_heads
from voicelist.record.verify import END_STATES, Verdict, tree_head, verify_entries, verify_lines
from voicelist.record.view import case_view
from voicelist.record.words import hash_words
from voicelist.session.team_records import Amended

# The keys of `record list --json`, a contract.
_LISTED = ("case", "checklist", "source", "started_at", "state", "items", "mismatches", "head")
_TABLE = ("case", "checklist", "source", "started_at", "state", "answered", "mismatches", "problem")
_TABLE_HEAD = ["case", "checklist", "source", "started", "state", "answered", "mismatches", ""]
_ERASED = "erased"
_LONGEST_TEXT = 500
_PAPER_TIME = re.compile(
    r"([0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01]) )?([01][0-9]|2[0-3]):[0-5][0-9]"
)
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
    if as_json:
        of = _oldest(reader.outlines(), oldest)
        return json.dumps([_listed(line) for line in reader.lines(of)])
    of = _oldest(with_erased(reader), oldest)
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


def _oldest(of: tuple[Outline, ...], count: int | None) -> tuple[Outline, ...]:
    return of if count is None else of[max(len(of) - count, 0) :]


def with_erased(reader: Reader) -> tuple[Outline, ...]:
    """Where each case begins and ends, those that were erased among them, the newest first: their
    heads keep the one hash over all what it was."""
    gone = [_gone(stone) for stone in reader.erased()]
    of = [*reader.outlines(), *gone]
    return tuple(sorted(of, key=lambda one: (one.started_at, one.case), reverse=True))


def _gone(stone: Tombstone) -> Outline:
    case, at = stone.case or "(code erased)", stone.started_at
    line = CaseLine(case, "", "", at, _ERASED, 0, 0, 0, stone.head, stone.words)
    return Outline(case, at, stone.events, stone.head, json.dumps(asdict(line)))


def _listed(line: CaseLine) -> dict[str, object]:
    """A case as the list tells it to programs; `items` are those that were answered."""
    return {key: line.answered if key == "items" else getattr(line, key) for key in _LISTED}


def _older(count: int) -> Iterator[str]:
    if count:
        yield f"And {count} older ones: voicelist record list --all"


def _one_hash(of: Sequence[Outline], lines: Sequence[CaseLine]) -> Iterator[str]:
    """One hash to be kept elsewhere instead of many; none where a case cannot be read. It binds the
    heads; what each head binds, only verification looks at."""
    heads = [one.head for one in reversed(of)]
    if any(line.problem and line.state != _ERASED for line in lines) or not all(
        map(is_hash, heads)
    ):
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
    """What a file gets, and why the record does not verify (which `data` says, too). A journal has
    no room for the heads, so they are told beside it."""

    data: bytes
    problems: tuple[str, ...]
    head: str = ""
    tree_head: str = ""


def export_case(
    case: str, form: str, url: str | None, *, practice: bool, figures: FiguresOf | None = None
) -> Exported:
    """One case in one of the export formats, as far as it can be read."""
    entries, amiss = readable_case(case, url, practice=practice)
    verdict = verify_entries(entries)
    problems = tuple(dict.fromkeys((*verdict.problems, *amiss)))
    data = export(entries, form, figures, amiss)
    return Exported(data, problems, verdict.head, verdict.tree_head)


def export_all(
    form: str,
    url: str | None,
    *,
    practice: bool,
    since: date | None = None,
    figures: FiguresOf | None = None,
) -> Iterator[tuple[str, str, Exported]]:
    """Every case of a store that began on the local day `since` or later, the oldest first: its
    code, a name for its file, and what the file gets. One that cannot be read at all has no data.
    """
    if form not in FORMATS:
        raise UsageError(f"{form} is no format of an export: choose one of {', '.join(FORMATS)}.")
    taken: set[str] = set()
    for one in reversed(Reader(url, practice=practice).outlines()):
        day = local_day(one.started_at)
        if since is not None and day is not None and day < since:
            continue  # a damaged time leaves nothing out
        name = _free_name(f"{_file_stem(one.case)}.{ENDINGS.get(form, form)}", taken)
        taken.add(name.casefold())
        try:
            exported = export_case(one.case, form, url, practice=practice, figures=figures)
        except RecordError as error:
            exported = Exported(b"", (str(error),))
        yield one.case, name, exported


def _file_stem(case: str) -> str:
    """A case code as a file may be called anywhere: what is not plain is written by its bytes."""
    plain = "".join(
        one if one.isascii() and (one.isalnum() or one in "-_") else f"%{one.encode().hex()}"
        for one in case
    )
    return plain[:200]


def _free_name(name: str, taken: Collection[str]) -> str:
    """The name, or with a number behind it where another file would be taken for the same."""
    stem, dot, ending = name.rpartition(".")
    names = (f"{stem}{f'-{number}' if number > 1 else ''}{dot}{ending}" for number in count(1))
    return next(one for one in names if one.casefold() not in taken)


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
) -> tuple[str, Verdict | ProofVerdict]:
    """A case of a store, or a file (an exported journal or a proof), and which of both it was. A
    file never answers for a case of its name: write ./NAME for the file."""
    path, reader = Path(case), Reader(url, practice=practice)
    is_file = path.exists() and not path.is_dir()
    if not is_file or (path.name == case and reader.holds(case)):
        return case, reader.verify(case, head)
    data = file_bytes(path, "a journal or a proof")
    if is_proof(data):
        return f"the proof {case}", check_proof(data, head)
    return f"the file {case}", verify_lines(data, head)


def file_bytes(path: Path, what: str) -> bytes:
    """A file within the limits of a journal. Raises RecordError if it cannot be read."""
    try:
        return read_file(path, FILE_LIMITS.journal, what)
    except NotReadable as error:
        raise RecordError(str(error)) from error


def head_signed(note: Path, public_text: str) -> SignedHead:
    """What a file with a signed tree head says. Raises RecordError unless the key signed it."""
    text = file_bytes(note, "a signed tree head").decode("utf-8", "replace")
    return opened_head(text, public_text)


def prove_item(case: str, item: str, url: str | None, *, practice: bool) -> Exported:
    """The inclusion proof for an item of a record. Raises RecordError if that does not verify."""
    entries = _whole(case, url, practice)
    return Exported(proof_of(entries, item), (), entries[-1].hash, tree_head(entries))


def sign_case(case: str, key: Path, url: str | None, *, practice: bool) -> Exported:
    """The signed tree head of a whole record. Raises RecordError if it does not verify."""
    signing = read_key(file_bytes(key, "a signing key").decode("utf-8", "replace"))
    entries = _whole(case, url, practice)
    root = tree_head(entries)
    note = signed_head(signing, case, len(entries), root)
    return Exported(note.encode(), (), entries[-1].hash, root)


def _whole(case: str, url: str | None, practice: bool) -> tuple[Entry, ...]:
    entries = Reader(url, practice=practice).entries(case)
    problems = verify_entries(entries).problems
    if problems:
        raise RecordError(f"The record of {case} does not verify. {problems[0]}")
    return entries


def verify_all(url: str | None, *, practice: bool) -> Iterator[tuple[str, Verdict]]:
    """Every case of a store, the newest first; the database itself once, at the first."""
    return Reader(url, practice=practice).verify_all()


def _refuse_text(name: str, text: str) -> None:
    if not text.strip() or not text.isprintable() or len(text) > _LONGEST_TEXT:
        raise UsageError(f"The {name} has to be 1 to {_LONGEST_TEXT} printable characters.")


@dataclass(frozen=True, slots=True)
class Erasing:
    """Who erases and why, and whether the codes of the cases are to go as well."""

    role: str
    reason: str
    code_too: bool = False


def ended_before(
    days: int, url: str | None, *, practice: bool, now: datetime
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The cases that began more than so many days ago: those that have ended, and the others, which
    only somebody who names them erases. The newest first."""
    reader = Reader(url, practice=practice)
    until = timestamp(now - timedelta(days=days))
    lines = list(reader.lines([one for one in reader.outlines() if one.started_at < until]))
    ended = tuple(one.case for one in lines if one.state in END_STATES)
    return ended, tuple(one.case for one in lines if one.state not in END_STATES)


def entries_of_all(
    url: str | None, *, practice: bool
) -> Iterator[tuple[tuple[Entry, ...], tuple[str, ...]]]:
    """The entries of every case, the newest first, and why one does not verify."""
    reader = Reader(url, practice=practice)
    for one in reader.outlines():
        reading = reader.kept(one.case)
        verdict = verify_entries(reading.entries)
        yield reading.entries, (*verdict.problems, *reading.problems())


def erase_cases(cases: Sequence[str], how: Erasing, url: str | None, *, practice: bool) -> None:
    """Erases cases for good. Raises UsageError for a reason that is no short text, RecordError as
    `Store.erase`."""
    _refuse_text("reason", how.reason)
    Store(url, practice=practice).erase(
        cases, role=how.role, reason=how.reason, code_too=how.code_too
    )


def amend_case(
    case: str, entry: Amended, url: str | None, *, practice: bool, roles: Sequence[str]
) -> str:
    """Adds a late entry to a case that has ended; returns the new head. `roles` may enter it, or
    those of the case's own list, where it has such. Raises UsageError for texts that a record may
    not hold and for another role, RecordError as `Store.amend`."""
    for name, text in (("entry", entry.text), ("reason", entry.reason)):
        _refuse_text(name, text)
    if entry.paper_time and not _PAPER_TIME.fullmatch(entry.paper_time):
        raise UsageError(
            f"{entry.paper_time} is no time of day: write it as 14:05, or as 2026-11-27 14:05."
        )
    store = Store(url, practice=practice)
    entries = store.entries(case)
    documents = entries[0].body.get("documents") or {}
    own = tuple((documents.get("checklist") or {}).get("roles") or roles)
    if entry.role not in own:
        raise UsageError(f"There is no role {entry.role}: choose one of {', '.join(own)}.")
    items = [item.id for item in case_view(entries).items]
    if entry.item and entry.item not in items:
        raise UsageError(
            f"There is no item {entry.item} in {case}: choose one of {', '.join(items)}."
        )
    with contextlib.closing(store.amend(case)) as writer:
        return writer.append(entry).hash
