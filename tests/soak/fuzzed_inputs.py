"""Inputs that nobody should give, to the real commands: each has to end with a clear sentence.

    python tests/soak/fuzzed_inputs.py [--reduced] [--seed N] [--only N] [--first N] [--keep FOLDER]

Documents, grammars, sound files, journals and stores, settings files and command lines, changed in
bytes, lines, values and words, from a seed (tests/soak/fuzz/). Each is given to the command with
10 s of computing time and 1 GB. It has to end with exit code 0 to 3, in words and without a
traceback, print nothing that steers a terminal, leave no process behind, and change no file but
what it was asked to write; what was recorded before has to verify. `--only N` gives one of them,
and shows how it ended; times, keys and names of runs in what is changed are new each time, so that
`--keep FOLDER` keeps the files of what is amiss. A full run keeps its figures beside this file.
Exit code 1 where anything is amiss.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from multiprocessing import get_context
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.soak.fuzz.ground import Ground, lay_out
from tests.soak.fuzz.inputs import input_of
from tests.soak.fuzz.trial import Ended, Room

REPORT = Path(__file__).with_suffix(".json")
COUNT, REDUCED = 2_000, 30
PROCESSES = 2
# What most commands import; loaded once instead of for each input.
_LOADED = (
    "voicelist.cli",
    "voicelist.running",
    "voicelist.linting.check",
    "voicelist.lines",
    "voicelist.assessing",
    "voicelist.record.commands",
    "voicelist.record.fhir",
    "voicelist.record.html",
    "voicelist.record.pdf",
)
_PLACE: list[tuple[Ground, Room]] = []


@dataclass(frozen=True, slots=True)
class Tried:
    """One input: its number and kind, how it ended, what is amiss."""

    number: int
    kind: str
    command: str
    ended: Ended
    amiss: tuple[str, ...]
    files: Mapping[str, bytes]


def _settle(ground: Ground, root: str) -> None:
    _PLACE.append((ground, Room(ground, Path(tempfile.mkdtemp(dir=root)) / "room")))


def _try(seed: int, number: int) -> Tried:
    ground, room = _PLACE[0]
    given = input_of(ground, number, seed)
    ended, amiss = room.tried(given)
    command = " ".join(given.arguments)[:200]
    return Tried(number, given.kind, command, ended, tuple(amiss), given.files if amiss else {})


def run(numbers: list[int], seed: int) -> Iterator[Tried]:
    """All of them, as they end."""
    root = tempfile.mkdtemp()
    try:
        for name in _LOADED:
            import_module(name)
        ground = lay_out(Path(root) / "ground")
        context = get_context("fork")  # so that nothing is loaded twice
        with ProcessPoolExecutor(PROCESSES, context, _settle, (ground, root)) as pool:
            yield from pool.map(partial(_try, seed), numbers)
    finally:
        shutil.rmtree(root, ignore_errors=True)


def figures(tried: list[Tried]) -> dict[str, Any]:
    """By kind: how many, how they ended, the most that one took."""
    kinds: dict[str, list[Tried]] = defaultdict(list)
    for one in tried:
        kinds[one.kind].append(one)
    return {
        kind: {
            "tried": len(of),
            "exit_codes": dict(sorted(Counter(str(one.ended.code) for one in of).items())),
            "most_computing_s": round(max(one.ended.computing_s for one in of), 2),
            "most_mb": max(one.ended.peak_bytes for one in of) >> 20,
            "amiss": sum(bool(one.amiss) for one in of),
        }
        for kind, of in sorted(kinds.items())
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true", help=f"{REDUCED} of them, for CI")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--first", type=int, default=0, help="begin with the input of this number")
    parser.add_argument("--only", type=int, help="the input of this number")
    parser.add_argument("--keep", type=Path, help="a folder for the files of what is amiss")
    asked = parser.parse_args()
    began_s = time.monotonic()
    numbers = list(range(asked.first, REDUCED if asked.reduced else asked.count))
    tried = []
    for one in run(numbers if asked.only is None else [asked.only], asked.seed):
        tried.append(one)
        if one.amiss or asked.only is not None:
            print(f"{one.number} {one.kind}: {one.command!a}", flush=True)
            print(*(f"    AMISS: {what!a}" for what in one.amiss), sep="\n", flush=True)
        if asked.only is not None:
            print(f"{one.ended.code}\n{one.ended.text}")
        if asked.keep is not None:
            _keep(one, asked.keep)
    took_s = time.monotonic() - began_s
    found = figures(tried)
    _show(found, took_s)
    if asked.only is None and len(numbers) == COUNT:
        about = circumstances("")
        del about["speech_model"]
        write_report(REPORT, {**about, "seed": asked.seed, "took_s": round(took_s), "kinds": found})
    return 1 if any(one["amiss"] for one in found.values()) else 0


def _keep(one: Tried, folder: Path) -> None:
    for name, data in one.files.items():
        file = folder / str(one.number) / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)


def _show(found: dict[str, Any], took_s: float) -> None:
    rows = [
        (
            kind,
            of["tried"],
            json.dumps(of["exit_codes"]),
            of["most_computing_s"],
            of["most_mb"],
            of["amiss"],
        )
        for kind, of in found.items()
    ]
    head = ("", "tried", "exit codes", "most s", "most MB", "amiss")
    print_table(f"Inputs that nobody should give, {took_s:.0f} s", head, rows)


if __name__ == "__main__":
    sys.exit(main())
