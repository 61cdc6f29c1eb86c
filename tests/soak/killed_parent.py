"""Kill a case with its microphone and voice; no process that it started may live on.

    python tests/soak/killed_parent.py [--reduced] [--rounds N] [--seed N]

Each round starts `voicelist run` with a microphone and a loudspeaker (pretended, as in the tests;
the processes are the real ones), the voice, the recogniser and the second speech model, and kills
the program alone (SIGKILL), while it loads or up to 3 s after the last of them came. Every process
that it started, known by its environment, has to be gone 2 s afterwards. Exit code 1 where one
lives longer. A full run keeps its figures beside this file.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.harness.measured import circumstances, write_report
from voicelist.places import shipped

PROJECT = Path(__file__).resolve().parents[2]
REPORT = Path(__file__).with_suffix(".json")
GONE_WITHIN_S = 2.0
# Killed up to so long after so many processes were there.
MOST_CHILDREN, LATEST_S = 5, 3.0
_THERE_WITHIN_S = 60.0
AT_ONCE, WANTED = 2, 200
_GIVEN_UP_S = 30.0
PLAN = shipped("grammars") / "plans" / "practice-007.yaml"


@dataclass(frozen=True, slots=True)
class Round:
    """Killed so long after as many processes as were waited for were there; how many there were,
    and after how long the last was gone."""

    moment_s: float
    children: int
    gone_s: float


def one_round(blow: tuple[int, float]) -> Round:
    """One start, one blow: so long after so many children are there."""
    with tempfile.TemporaryDirectory() as folder:
        return _in_folder(Path(folder), *blow)


def _in_folder(folder: Path, wanted: int, moment_s: float) -> Round:
    devices = folder / "devices.json"
    pretended = {"devices": [["Headset", 1, 2]], "played": str(folder / "played.pcm")}
    devices.write_text(json.dumps(pretended))
    mark = f"VOICELIST_PRETEND={devices}"
    home = {"XDG_DATA_HOME": str(folder), "XDG_CONFIG_HOME": str(folder / "config")}
    path = os.pathsep.join((str(PROJECT / "tests" / "pretend"), str(PROJECT)))
    program = subprocess.Popen(
        [sys.executable, "-m", "voicelist", "run", str(PLAN)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, **home, "PYTHONPATH": path, "VOICELIST_PRETEND": str(devices)},
    )
    until_s = time.monotonic() + _THERE_WITHIN_S
    while len(living(mark)) <= wanted and time.monotonic() < until_s:
        time.sleep(0.02)
    time.sleep(moment_s)
    children = living(mark) - {program.pid}
    assert program.poll() is None, f"the program ended by itself ({program.returncode})"
    program.kill()
    program.wait()
    killed_s = time.monotonic()
    while left := living(mark):
        gone_s = time.monotonic() - killed_s
        if gone_s > _GIVEN_UP_S:
            for pid in left:
                os.kill(pid, 9)
            break
        time.sleep(0.02)
    return Round(moment_s, len(children), time.monotonic() - killed_s)


def living(mark: str) -> set[int]:
    """The processes that have this in their environment, but for those that only wait to be
    collected."""
    found = set()
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if mark.encode() in (folder / "environ").read_bytes().split(b"\0"):
                found.add(int(folder.name))
        except OSError:
            continue
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true", help="4 rounds, for CI")
    parser.add_argument("--rounds", type=int, default=WANTED)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    count = 4 if asked.reduced else asked.rounds
    began_s = time.monotonic()
    blows = [(chance.randint(1, MOST_CHILDREN), chance.uniform(0, LATEST_S)) for _ in range(count)]
    rounds: list[Round] = []
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for one in pool.map(one_round, blows):
            rounds.append(one)
            if one.gone_s > GONE_WITHIN_S or len(rounds) % 20 == 0 or asked.reduced:
                print(
                    f"{len(rounds):3} killed after {one.moment_s:.2f} s with {one.children} "
                    f"children: gone {one.gone_s:.2f} s later",
                    flush=True,
                )
    late = sum(one.gone_s > GONE_WITHIN_S for one in rounds)
    every = sorted(one.gone_s for one in rounds)
    found = {
        "tried": count,
        "by_children": dict(sorted(Counter(str(one.children) for one in rounds).items())),
        "with_children": sum(one.children > 0 for one in rounds),
        "gone_s": {"median": round(statistics.median(every), 2), "worst": round(every[-1], 2)},
        "later_than_2_s": late,
    }
    print(json.dumps(found))
    if count >= WANTED:
        about = circumstances("")
        del about["speech_model"]
        took = {"seed": asked.seed, "took_s": round(time.monotonic() - began_s)}
        write_report(REPORT, {**about, **took, **found})
    return 1 if late or found["with_children"] < count else 0


if __name__ == "__main__":
    sys.exit(main())
