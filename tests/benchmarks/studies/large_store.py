"""What a large store costs: the list, verification of one case and of all, the look for the day's
set-up, a free case code, and the time of one append beside that of a bare insert.

`python -m tests.benchmarks.studies.large_store` makes a store of 10,000 completed cases of 228
events each (`--cases`), by chaining the events of a whole typed case again under other codes, and
times the commands as whole processes, start included. The look for the set-up and the list are to
take at most one second; verification of one case, apart from the start of the program, 0.2 s; an
append, at the median, at most twice a bare insert of the same row into a database of the same
settings, the two taking turns, and at most 5 ms for 99 of 100. Needs 2 GB, about a quarter of an
hour and, for what is said of times, an idle machine.
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

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import REPORTS
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

REPORT = REPORTS / "large_store.json"
PLAN = shipped("grammars") / "plans" / "practice-007.yaml"
CASES, EVENTS = 10_000, 228
# Wanted: the project's own limits.
LIST_AT_MOST_S, VERIFY_AT_MOST_S, TIMES_AT_MOST, APPEND_AT_MOST_MS = 1.0, 0.2, 2.0, 5.0
APPENDS, VERIFIED = 2_000, 50
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
        report["verify"] = verifications(file)
        report["append_ms"] = appends(Path(folder), one[0])
    report["load_average_after"] = round(os.getloadavg()[0], 2)
    report["not_within"] = not_within(report)
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


def verifications(file: Path) -> dict[str, float]:
    """Verification in a program that runs: of single cases spread over the store, and of all."""
    reader = Reader(f"sqlite:///{file}")
    codes = reader.codes()
    single = []
    for case in codes[:: max(len(codes) // VERIFIED, 1)]:
        began_s = time.perf_counter()
        verdict = reader.verify(case)
        single.append(time.perf_counter() - began_s)
        assert verdict.ok, verdict.problems
    began_s = time.perf_counter()
    every = [verdict for _, verdict in reader.verify_all()]
    took_s = time.perf_counter() - began_s
    assert len(every) == len(codes)
    assert all(one.ok for one in every)
    return {
        "one case, median s": round(statistics.median(single), 3),
        "one case, worst s": round(max(single), 3),
        "all, s": round(took_s, 1),
        "all, cases a second": round(len(every) / took_s, 1),
        "all, events a second": round(sum(one.count for one in every) / took_s),
    }


def not_within(report: dict[str, Any]) -> list[str]:
    """What took longer than wanted."""
    seconds, append = report["seconds"], report["append_ms"]
    wanted = {
        "record list": (seconds["record list"], LIST_AT_MOST_S),
        "the day's set-up": (seconds["the day's set-up"], LIST_AT_MOST_S),
        "verification of one case": (report["verify"]["one case, worst s"], VERIFY_AT_MOST_S),
        "an append beside a bare insert": (append["times"], TIMES_AT_MOST),
        "99 of 100 appends, ms": (append["append, 99 of 100"], APPEND_AT_MOST_MS),
    }
    return [
        f"{what}: {took}, wanted {most}" for what, (took, most) in wanted.items() if took > most
    ]


def appends(folder: Path, opened: Entry) -> dict[str, float]:
    """Milliseconds of an append, and of the insert of the same row by SQLite alone: at the median
    unless another share is named."""
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
        "append, 99 of 100": round(_most(ours), 3),
        "bare insert, 99 of 100": round(_most(bare), 3),
    }


def _most(took_s: Sequence[float]) -> float:
    """What 99 of 100 did not exceed, in milliseconds."""
    return statistics.quantiles(took_s, n=100)[98] * 1000


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
        "Verification", ("what", ""), [(k, f"{one}") for k, one in report["verify"].items()]
    )
    print_table("An append", ("what", "ms"), [(what, f"{ms}") for what, ms in append.items()])
    for one in report["not_within"]:
        print(f"NOT WITHIN ITS LIMIT: {one}")


if __name__ == "__main__":
    main()
