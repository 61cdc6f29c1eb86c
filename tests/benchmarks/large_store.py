"""What a large store costs: the list, the look for the day's set-up, a free case code, and the time
of one append beside that of a bare insert.

`python tests/benchmarks/large_store.py` makes a store of 10,000 completed cases of 228 events each
(`--cases`), by chaining the events of a whole typed case again under other codes, and times the
commands as whole processes, start included. The look for the set-up and the list are to take at
most one second; an append, at the median, at most twice a bare insert of the same row into a
database of the same settings, the two taking turns.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from measured import circumstances, print_table, write_report

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.session.talk import WHOLE_CASE
from voicelist.asr.model import find_model
from voicelist.places import shipped
from voicelist.record.before import set_up_of_the_day
from voicelist.record.case_line import case_line
from voicelist.record.database import place_of, writing_engine
from voicelist.record.journal import Entry, chain_line, timestamp
from voicelist.record.layout import prepare
from voicelist.record.outlines import note
from voicelist.record.store import Reader, Store
from voicelist.session.records import Called, Opened, from_body

REPORT = Path(__file__).with_suffix(".json")
PLAN = shipped("grammars") / "plans" / "practice-007.yaml"
CASES, EVENTS = 10_000, 228
AT_MOST_S, TIMES_AT_MOST = 1.0, 2.0
APPENDS = 2_000
CALL = Called("bottle", "Full or low: the infusion bottle?")
_INSERT = "INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
_EVERY_DAYS = 0.1


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--cases", type=int, default=CASES)
    asked = parser.parse_args()
    report: dict[str, Any] = circumstances(find_model().fingerprint)
    report["load_average_before"] = round(os.getloadavg()[0], 2)
    with tempfile.TemporaryDirectory(dir=os.environ.get("VOICELIST_BENCHMARKS_CACHE")) as folder:
        file = Path(folder) / "records.sqlite3"
        one = whole_case(Path(folder) / "one.sqlite3")
        report["store"] = fill(file, one, asked.cases)
        report["seconds"] = times(file, one)
        report["append_ms"] = appends(Path(folder), one[0])
    _print(report)
    if asked.cases == CASES:
        write_report(REPORT, report)


def whole_case(file: Path) -> tuple[Entry, ...]:
    """A typed case, as the command keeps it."""
    command = ("run", PLAN, "--typed", "--voice", "none", "--store", f"sqlite:///{file}")
    told = _voicelist(*command, typed="\n".join(WHOLE_CASE) + "\n")
    assert told.returncode == 0, told.stderr
    reader = Reader(f"sqlite:///{file}")
    return reader.entries(reader.codes()[0])


def fill(file: Path, one: Sequence[Entry], cases: int) -> dict[str, Any]:
    """So many completed cases over the last years, each noted as its writer would."""
    began = datetime.now(UTC) - timedelta(days=_EVERY_DAYS * cases)
    with writing_engine(place_of(f"sqlite:///{file}", False)).connect() as connection:
        prepare(connection)
        for number in range(cases):
            when = began + timedelta(days=_EVERY_DAYS * number)
            entries = list(chained(f"case-{number:05d}", one, when))
            with connection.begin():
                for entry, body in entries:
                    connection.exec_driver_sql(_INSERT, _row(entry, body))
            note(connection, len(entries), case_line([entry for entry, _ in entries]))
    events = cases * len(entries)
    return {"cases": cases, "events": events, "megabytes": round(file.stat().st_size / 1e6)}


def chained(case: str, one: Sequence[Entry], when: datetime) -> Iterator[tuple[Entry, str]]:
    """The events of a case once more, under another code and with calls put in before its end."""
    end = next(place for place, entry in enumerate(one) if entry.kind == "closed")
    calls = [None] * max(EVENTS - len(one), 0)
    body = CALL.body()
    previous: Entry | None = None
    for copied in (*one[:end], *calls, *one[end:]):
        entry, text = chain_line(
            previous,
            case=case,
            at=timestamp(when),
            run="0" * 16,
            mono_ms=(previous.mono_ms if previous else 0) + 1500,
            kind=copied.kind if copied else CALL.kind,
            body=copied.body if copied else body,
        )
        yield entry, text
        previous = entry


def times(file: Path, one: Sequence[Entry]) -> dict[str, float]:
    """Whole commands, and what a start of a later case of the day looks up."""
    url = f"sqlite:///{file}"
    opened = from_body(one[0].kind, one[0].body)
    assert isinstance(opened, Opened)
    checklist = str(opened.documents["checklist"]["id"])
    today = datetime.now().astimezone().date()
    found = {
        "record list": _seconds("record", "list", "--store", url),
        "record list --all": _seconds("record", "list", "--all", "--store", url),
        "record list --json": _seconds("record", "list", "--json", "--store", url),
        "record verify": _seconds("record", "verify", "case-00000", "--store", url),
    }
    for what, look in (
        ("the day's set-up", lambda: set_up_of_the_day(Reader(url), checklist, today)),
        ("a free case code", lambda: Reader(url).free_case_code("case-00000")),
        ("opening a case", lambda: Store(url).open_case("new").close()),
    ):
        began_s = time.perf_counter()
        look()
        found[what] = round(time.perf_counter() - began_s, 3)
    return found


def appends(folder: Path, opened: Entry) -> dict[str, float]:
    """Milliseconds at the median: an append, and the insert of the same row by SQLite alone."""
    raw = sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)
    raw.execute("PRAGMA journal_mode = wal").fetchall()
    raw.execute("PRAGMA synchronous = 2")
    ours, bare = [], []
    with Store(f"sqlite:///{folder / 'appends.sqlite3'}").open_case("case-1") as writer:
        writer.append(from_body(opened.kind, opened.body))
        table = sqlite3.connect(folder / "appends.sqlite3").execute(
            "SELECT sql FROM sqlite_master WHERE name = 'journal'"
        )
        raw.execute(table.fetchone()[0])
        for _ in range(APPENDS):
            began_s = time.perf_counter()
            entry = writer.append(CALL)
            ours.append(time.perf_counter() - began_s)
            row = _row(entry, entry.line().decode())
            began_s = time.perf_counter()
            raw.execute("BEGIN IMMEDIATE")
            raw.execute(_INSERT, row)
            raw.execute("COMMIT")
            bare.append(time.perf_counter() - began_s)
    append, insert = statistics.median(ours) * 1000, statistics.median(bare) * 1000
    return {
        "append": round(append, 3),
        "bare insert": round(insert, 3),
        "times": round(append / insert, 2),
    }


def _row(entry: Entry, body: str) -> tuple[Any, ...]:
    return tuple({**entry.fields(), "body": body}.values())


def _seconds(*command: str) -> float:
    began_s = time.perf_counter()
    told = _voicelist(*command)
    assert told.returncode == 0, told.stderr
    return round(time.perf_counter() - began_s, 3)


def _voicelist(*command: object, typed: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "voicelist", *map(str, command)],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
    )


def _print(report: dict[str, Any]) -> None:
    store, append = report["store"], report["append_ms"]
    print(f"{store['cases']} cases, {store['events']} events, {store['megabytes']} MB")
    print_table(
        "Seconds", ("what", "s"), [(what, f"{s:.3f}") for what, s in report["seconds"].items()]
    )
    print_table(
        "An append", ("what", "ms at the median"), [(what, f"{ms}") for what, ms in append.items()]
    )


if __name__ == "__main__":
    main()
