"""Attacks on the store: what was acknowledged has to be on disk, and damage has to be told.

    python tests/soak/durability.py [--reduced] [--seed N] [--only NAME] [--minutes M]

A shim under the real process writes down what it writes and syncs, and what it acknowledges
(tests/soak/disk/). Then: states that a cut of the power can leave are opened with the real code;
single operations fail; the process is killed at single operations; stores are deleted, moved and
replaced in mid-case; exported journals are forged; bytes of the database are changed. Exit code 1
if anything acknowledged was lost, anything was refused that should go on, or damage was not told.
A full run, or one attack in full, keeps its figures beside this file.
"""

from __future__ import annotations

import argparse
import atexit
import json
import multiprocessing
import os
import random
import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import cycle, islice
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.harness.measured import circumstances, print_table, write_report
from tests.soak.disk import attacks, flips, forged, lost
from tests.soak.disk.oplog import build
from tests.soak.disk.scenes import SCENES, Scene, Stage
from tests.soak.disk.tally import Tally
from tests.soak.disk.trials import Trials
from tests.soak.disk.works import DEEDS

REPORT = Path(__file__).with_name("durability.json")
PROCESSES = 2
_IN_MEMORY = Path("/dev/shm")
_ROOMY_BYTES = 1_000_000_000
CUTS, AFTER_FAILURES = "cuts of the power", "cuts of the power after a failure"
FAILURES, KILLS, LOST = "operations that fail", "kills", "stores lost in mid-case"
JOURNALS, FLIPS = "forged journals", "changed bytes of the store"


@dataclass(frozen=True, slots=True)
class Size:
    """How much is tried."""

    cuts: int = 18_000  # of which some are the same
    failures: int = 310
    states_each: int = 9
    kills: int = 1_400
    deeds_behind: tuple[int, ...] = (0, 1, 5)
    programs_lost: int = len(DEEDS)
    journals: int = 6_800
    flips: int = 3_500


REDUCED = Size(1_800, 34, 9, 38, (3,), 1, 680, 350)


@dataclass(slots=True)
class Place:
    """What each of the processes works with."""

    trials: Trials
    stage: Stage
    scratch: Path


_PLACE: list[Place] = []


def _settle(root: str, library: str) -> None:
    """A process of the pool makes itself a place."""
    scratch = Path(tempfile.mkdtemp(dir=root))
    trials = Trials(Path(library), scratch)
    atexit.register(trials.close)
    _PLACE.append(Place(trials, Stage(trials, scratch), scratch))


Parts = dict[str, Tally]
Job = Callable[[Place], Parts]


def _cut(scene: Scene, count: int, seed: int, place: Place) -> Parts:
    return {CUTS: attacks.cut_power(place.stage, place.scratch, scene, count, seed)}


def _fail(scene: Scene, count: int, part: slice, states: int, seed: int, place: Place) -> Parts:
    blows = list(attacks.strikes(place.stage, scene, attacks.FAILURES, count, seed))[part]
    failed, cut = attacks.fail(place.stage, place.scratch, scene, blows, states, seed)
    return {FAILURES: failed, AFTER_FAILURES: cut}


def _kill(scene: Scene, count: int, part: slice, seed: int, place: Place) -> Parts:
    blows = list(attacks.strikes(place.stage, scene, attacks.KILLS, count, seed))[part]
    return {KILLS: attacks.kill(place.stage, scene, blows)}


def _lose(deed: str, before: int, place: Place) -> Parts:
    return {LOST: lost.lose(place.trials, place.scratch, deed, before)}


def _lose_from_program(deed: str, before: int, place: Place) -> Parts:
    return {LOST: lost.lose_from_program(place.scratch, deed, before)}


def _forge(count: int, seed: int, place: Place) -> Parts:
    return {JOURNALS: forged.forge(place.scratch, count, seed)}


def _flip(scene: Scene, count: int, seed: int, place: Place) -> Parts:
    return {FLIPS: flips.flip(place.stage, place.scratch, scene, count, seed)}


def jobs(size: Size, seed: int) -> Iterator[tuple[str, Job]]:
    """Everything that is to be done, in pieces of some seconds; each with its attack."""
    for scene, count in _shares(size.cuts, [scene.weight for scene in SCENES]):
        for turn, piece in enumerate(_pieces(count, 100)):
            yield CUTS, partial(_cut, scene, piece, seed + turn)
    weights = [scene.blows for scene in SCENES]
    for scene, count in _shares(size.failures, weights):
        for turn in range(0, count, 10):
            part = slice(turn, turn + 10)
            yield FAILURES, partial(_fail, scene, count, part, size.states_each, seed)
    for scene, count in _shares(size.kills, weights):
        for turn in range(0, count, 20):
            yield KILLS, partial(_kill, scene, count, slice(turn, turn + 20), seed)
    for before in size.deeds_behind:
        for deed in DEEDS:
            yield LOST, partial(_lose, deed, before)
    for deed in islice(DEEDS, size.programs_lost):
        yield LOST, partial(_lose_from_program, deed, 4)
    for turn, piece in enumerate(_pieces(size.journals, 500)):
        yield JOURNALS, partial(_forge, piece, seed + turn)
    for scene, piece in zip(
        cycle(flips.STORES), _pieces(size.flips, size.flips // 12), strict=False
    ):
        seed += 1
        yield FLIPS, partial(_flip, scene, piece, seed)


def _shares(count: int, weights: list[float]) -> Iterator[tuple[Scene, int]]:
    for scene, weight in zip(SCENES, weights, strict=True):
        yield scene, max(1, round(count * weight / sum(weights)))


def _pieces(count: int, most: int) -> Iterator[int]:
    while count > 0:
        yield min(count, most)
        count -= most


def _do(job: Job) -> Parts:
    return job(_PLACE[0])


def _in_memory() -> Path | None:
    """A file system in memory, if there is a roomy one: nothing here needs a real disk."""
    usable = os.access(_IN_MEMORY, os.W_OK)
    return _IN_MEMORY if usable and shutil.disk_usage(_IN_MEMORY).free > _ROOMY_BYTES else None


def run(size: Size, seed: int, only: str, at_most_s: float) -> dict[str, Tally]:
    """All attacks, or the one whose name begins with `only`; what is not begun in time is left."""
    wanted = [job for name, job in jobs(size, seed) if name.startswith(only)]
    random.Random(seed).shuffle(wanted)
    until_s = time.monotonic() + at_most_s
    tallies: dict[str, Tally] = {}
    root = tempfile.mkdtemp(dir=_in_memory())
    try:
        library = str(build(Path(root)))
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(PROCESSES, context, _settle, (root, library)) as pool:
            for parts in pool.map(_do, wanted):
                for name, tally in parts.items():
                    tallies.setdefault(name, Tally()).add(tally)
                if time.monotonic() > until_s:
                    pool.shutdown(cancel_futures=True)
                    break
    finally:
        shutil.rmtree(root, ignore_errors=True)
    return tallies


def show(tallies: dict[str, Tally], took_s: float) -> None:
    """A table, then every kind of hazard with examples."""
    rows = [
        (
            name,
            tally.tried,
            tally.events or "",
            sum(tally.hazards.values()),
            ", ".join(f"{what} {count}" for what, count in tally.outcomes.most_common()),
        )
        for name, tally in tallies.items()
    ]
    head = ("", "tried", "acknowledged events looked for", "hazards", "ended")
    print_table(f"Attacks on the store, {took_s:.0f} s", head, rows)
    for name, tally in tallies.items():
        for kind, count in tally.hazards.most_common():
            print(f"\nHAZARD, {name}: {kind}, {count} times")
            for example in tally.examples[kind]:
                print(f"    {example}")


def keep(tallies: dict[str, Tally], took_s: float, seed: int) -> None:
    """Keeps the figures of these attacks, each with its own date and machine."""
    about = circumstances("")
    del about["speech_model"]
    about["versions"] = {"python": about["versions"]["python"], "sqlite": sqlite3.sqlite_version}
    about |= {"seed": seed, "took_s": round(took_s)}
    kept = json.loads(REPORT.read_text(encoding="utf-8")) if REPORT.exists() else {}
    write_report(REPORT, kept | {name: tally.figures() | about for name, tally in tallies.items()})


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--reduced", action="store_true", help="a tenth of it, for CI")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--only", default="", help="the attack whose name begins so")
    parser.add_argument("--minutes", type=float, default=24 * 60.0, help="as much as fits")
    wanted = parser.parse_args()
    began_s = time.monotonic()
    tallies = run(
        REDUCED if wanted.reduced else Size(), wanted.seed, wanted.only, 60 * wanted.minutes
    )
    took_s = time.monotonic() - began_s
    show(tallies, took_s)
    if not wanted.reduced:
        keep(tallies, took_s, wanted.seed)
    return 1 if any(tally.hazards for tally in tallies.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
