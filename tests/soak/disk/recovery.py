"""Opening what is left with the real code: is everything there that was acknowledged, and does it
go on?"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.soak.disk.cuts import Files
from tests.soak.disk.works import started
from voicelist.errors import RecordError, VoicelistError
from voicelist.record.commands import verify_case
from voicelist.record.journal import Entry
from voicelist.record.store import Store

RECORDED = "· recorded"
# What the lines of the scripted case are acknowledged for.
TOLD_KINDS = ("answered", "milestone")
_ACKNOWLEDGED = re.compile(rb"^ack (\S+) (\d+) ([0-9a-f]{64})$", re.MULTILINE)
_OVER = re.compile(r"The case \S+ was (completed|abandoned)")


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """One event that was called recorded."""

    case: str
    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """What does not hold: `kind` in few words, for counting, and what was met."""

    kind: str
    met: str


def acknowledgements(told: bytes) -> list[Acknowledged]:
    """What a writer said that it had recorded; a line that is not finished says nothing."""
    return [
        Acknowledged(case.decode(), int(seq), digest.decode())
        for case, seq, digest in _ACKNOWLEDGED.findall(told)
    ]


def shown_as_recorded(told: bytes, entries: Sequence[Entry]) -> list[Acknowledged]:
    """The same for the whole program: its n-th 'recorded' is the n-th answer or milestone of the
    record that it made in the end, `entries`."""
    count = told.decode("utf-8", "ignore").count(RECORDED)
    answers = [one for one in entries if one.kind in TOLD_KINDS]
    missing = max(count - len(answers), 0)
    case = entries[0].case if entries else ""
    unknown = [Acknowledged(case, 10**6 + number, "") for number in range(missing)]
    return [Acknowledged(one.case, one.seq, one.hash) for one in answers[:count]] + unknown


def read_back(folder: Path) -> Files:
    """The files of a folder, as they stand."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def everything(file: Path) -> list[Acknowledged]:
    """All events of a store, taken as acknowledged."""
    store = Store(f"sqlite:///{file}")
    return [
        Acknowledged(entry.case, entry.seq, entry.hash)
        for case in store.codes()
        for entry in store.entries(case)
    ]


def examine(
    file: Path, case: str, told: Iterable[Acknowledged], *, go_on: bool = True
) -> Hazard | None:
    """Verifies all cases and goes on with `case`, as after a new start of the computer. The first
    thing that does not hold, or None."""
    expected = list(told)
    store = Store(f"sqlite:///{file}")
    doing = "verify"
    try:
        known = set(store.codes())
        # Whole and without a tombstone, or erased with one: never neither, never both.
        stones = {one.case for one in store.erased()}
        if stones & known:
            return Hazard("half erased", f"{sorted(stones & known)} with events and a tombstone")
        lost = {one.case for one in expected} - known - stones
        if lost:
            count = sum(one.case in lost for one in expected)
            return Hazard("lost", f"a whole case, {count} acknowledged events")
        for code in sorted(known):
            found = _verified(file, code, [one for one in expected if one.case == code])
            if found is not None:
                return found
        doing = "resume" if case in known else "open"
        return _gone_on(store, file, case) if go_on else None
    except VoicelistError as error:
        return Hazard(f"{doing} is refused", str(error))
    except Exception as error:
        return Hazard("an unexpected error", f"{doing}: {type(error).__name__}: {error}")


def _verified(file: Path, case: str, expected: Sequence[Acknowledged]) -> Hazard | None:
    _, verdict = verify_case(case, None, f"sqlite:///{file}", practice=False)
    if not verdict.ok:
        return Hazard("does not verify", verdict.problems[0])
    hashes = _hashes(file, case)
    lost = [one.seq for one in expected if hashes.get(one.seq) != one.hash]
    if lost:
        return Hazard("lost", f"{len(lost)} of {len(expected)} acknowledged events")
    return None


def _hashes(file: Path, case: str) -> dict[int, str]:
    """The hash of each event, read past the code under test, which has verified them."""
    connection = sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)
    try:
        wanted = 'SELECT seq, hash FROM journal WHERE "case" = ?'
        return dict(connection.execute(wanted, (case,)).fetchall())
    finally:
        connection.close()


def _gone_on(store: Store, file: Path, case: str) -> Hazard | None:
    """Resumes the case, or begins it where it never was, and verifies again."""
    try:
        writer, first = started(store, case)
    except RecordError as error:
        if _OVER.search(str(error)):
            return None
        raise
    with writer:
        entry = writer.append(first)
    return _verified(file, case, [Acknowledged(case, entry.seq, entry.hash)])
