"""What a review of many cases costs: seconds, seconds of the processor, memory.

`python -m tests.benchmarks.studies.review_growth` makes invented cases from those that the
simulated team held (`tests/team/invented.py`; seeded, every row says that it is invented), from
1,000 to a million of them (`--cases`; to make the million takes 18 minutes), as folders of tables,
and times the whole command `voicelist review` with page, CSV and Parquet, start included. On a
machine that is busy the seconds of the processor are what to compare. `--keep FOLDER` keeps the
folders, and uses those that are there.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.benchmarks.harness.places import REPORTS
from tests.team.invented import Pool, kept_pool, write
from voicelist.asr.model import find_model
from voicelist.review import parquet

REPORT = REPORTS / "review_growth.json"
CASES = (1_000, 10_000, 100_000, 1_000_000)
_HEAD = ("cases", "rows", "megabytes", "seconds", "processor s", "peak MB", "us a row")


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--cases", type=int, nargs="*", default=list(CASES))
    parser.add_argument("--pool", type=int, default=24, help="cases of the simulated team")
    parser.add_argument("--keep", type=Path, help="a folder for what is made")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=os.environ.get("VOICELIST_BENCHMARKS_CACHE")) as away:
        folder = asked.keep or Path(away)
        held = kept_pool(folder / "pool", asked.pool)
        rows = [measured(folder / f"cases-{number}", number, held) for number in asked.cases]
    print_table(
        "A review of invented cases", _HEAD, [[str(row[name]) for name in _HEAD] for row in rows]
    )
    if tuple(asked.cases) == CASES:
        report: dict[str, Any] = circumstances(find_model().fingerprint)
        report["load_average"] = round(os.getloadavg()[0], 2)
        report["pool"] = asked.pool
        write_report(REPORT, {**report, "growth": rows})


def measured(folder: Path, cases: int, held: Pool) -> dict[str, float]:
    """One row of the table."""
    if not parquet.is_folder_of_ours(folder):
        write(folder, cases, held)
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    command = ["review", str(folder), "--practice", "-o", str(folder.with_name(f"{cases}-out"))]
    began_s, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    peak_kB = _run(command)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    rows = sum(one.rows for one in parquet.listed(folder))
    return {
        "cases": cases,
        "rows": rows,
        "megabytes": round(size / 1e6, 1),
        "seconds": round(time.perf_counter() - began_s, 1),
        "processor s": round(cpu_s, 1),
        "peak MB": round(peak_kB / 1e3),
        "us a row": round(1e6 * cpu_s / rows, 2),
    }


def _run(command: Sequence[str]) -> int:
    """Runs a command of voicelist; returns its peak memory in kB."""
    program = (
        "import resource, sys; from voicelist.cli import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
    )
    told = subprocess.run(
        [sys.executable, "-c", program, *command], capture_output=True, text=True, check=True
    )
    return int(told.stderr.split()[-1])


if __name__ == "__main__":
    main()
