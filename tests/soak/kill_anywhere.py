"""Kill a running case at random moments; the record must verify and go on at the right item.

    python tests/soak/kill_anywhere.py [--reduced] [--rounds N] [--seed N]

Each round starts `voicelist run` on a recording of the practice team, kills it (or, every third
round, one of its child processes) with SIGKILL at a random moment, then: `record verify` must pass;
after the death of a child the case must still come to its end; after the death of the whole,
`voicelist resume --typed` must ask what the journal says was open.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from voicelist.documents.embedded import Bundle, thawed
from voicelist.listening.practice import load_script
from voicelist.places import shipped
from voicelist.record.store import Reader
from voicelist.session.case import compile_case
from voicelist.session.order import next_item
from voicelist.session.records import Opened, from_body
from voicelist.session.sections import next_waiting
from voicelist.session.state import replay

RATE_HZ = 16_000
PAUSE_S = 1.2
COMMAND = [sys.executable, "-m", "voicelist"]


def recording(folder: Path) -> Path:
    """The whole practice case as one recording of two channels."""
    parts = []
    for line in load_script().lines:
        samples, _ = soundfile.read(line.file, dtype="int16")
        part = np.zeros((samples.size + int(PAUSE_S * RATE_HZ), 2), np.int16)
        part[: samples.size, int(line.speaker == "surgeon")] = samples
        parts.append(part)
    path = folder / "room.flac"
    soundfile.write(path, np.concatenate(parts), RATE_HZ)
    return path


@dataclass(slots=True)
class Trial:
    """One run in a store of its own."""

    url: str
    plan: Path
    audio: Path

    def start(self) -> subprocess.Popen[bytes]:
        arguments = ["run", str(self.plan), "--audio", str(self.audio), "--pace", "fast"]
        return subprocess.Popen(
            [*COMMAND, *arguments, "--voice", "none", "--store", self.url],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )

    def entries(self) -> int:
        return sum(len(Reader(self.url).entries(case)) for case in Reader(self.url).codes())

    def voicelist(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*COMMAND, *arguments, "--store", self.url],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )


def children_of(pid: int) -> list[int]:
    """The direct and indirect children of a process."""
    found: list[int] = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = status.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            child = int(status.parent.name)
            found += [child, *children_of(child)]
    return found


def expected_question(url: str, code: str) -> str:
    """What the journal says is to be asked next."""
    records = [from_body(one.kind, one.body) for one in Reader(url).entries(code)]
    opened = records[0]
    assert isinstance(opened, Opened)
    case = compile_case(Bundle.from_json(thawed(opened.documents)), opened.first_section)
    state = replay(records)
    if state.pending is not None:
        return state.pending.text
    if state.under_way:
        return "Under way. Open so far:"
    item = state.current or next_item(case, state)
    if not item and next_waiting(case, state) is not None:
        return "Quiet until"
    return case.items[item].call if item else "That was the last item."


def kill_the_whole(trial: Trial, code: str, moment_s: float) -> str:
    """Kill the program; returns what went wrong, or ""."""
    run = trial.start()
    time.sleep(moment_s)
    for pid in [run.pid, *children_of(run.pid)]:
        try:
            os.kill(pid, signal.SIGKILL)
        except ProcessLookupError:
            continue
    run.communicate()
    if code not in Reader(trial.url).codes():
        return ""  # killed before the case was opened: nothing was acknowledged
    verified = trial.voicelist("record", "verify", code)
    if verified.returncode:
        return f"does not verify: {verified.stdout}{verified.stderr}"
    if replay([from_body(e.kind, e.body) for e in Reader(trial.url).entries(code)]).closed:
        return ""
    question = expected_question(trial.url, code)
    resumed = trial.voicelist("resume", code, "--typed", "--voice", "none")
    if question not in resumed.stdout:
        return f"resume asked something else than '{question}':\n{resumed.stdout}{resumed.stderr}"
    again = trial.voicelist("record", "verify", code)
    return "" if again.returncode == 0 else f"does not verify after resume: {again.stdout}"


def kill_a_child(trial: Trial, code: str, moment_s: float, chance: random.Random) -> str:
    """Kill one child; the case must come to its end, and verify."""
    run = trial.start()
    time.sleep(moment_s)
    children = children_of(run.pid)
    if children:
        os.kill(chance.choice(children), signal.SIGKILL)
    output, _ = run.communicate(timeout=240)
    verified = trial.voicelist("record", "verify", code)
    if run.returncode or verified.returncode:
        return f"exit {run.returncode}: {output.decode()[-500:]}\n{verified.stdout}"
    return ""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--reduced", action="store_true", help="8 rounds, for CI")
    parser.add_argument("--rounds", type=int, default=50)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--longest", type=float, default=9.0, help="latest moment, seconds")
    asked = parser.parse_args()
    rounds = 8 if asked.reduced else asked.rounds
    chance = random.Random(asked.seed)
    plan = shipped("grammars") / "plans" / f"{load_script().plan}.yaml"
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        audio = recording(Path(folder))
        for number in range(1, rounds + 1):
            trial = Trial(f"sqlite:///{folder}/round-{number}.sqlite3", plan, audio)
            moment_s = chance.uniform(0.3, asked.longest)
            whole = number % 3 != 0
            if whole:
                wrong = kill_the_whole(trial, load_script().plan, moment_s)
            else:
                wrong = kill_a_child(trial, load_script().plan, moment_s, chance)
            failed += bool(wrong)
            kind = "whole" if whole else "child"
            events = trial.entries()
            print(f"{number:3} {kind} at {moment_s:5.2f} s, {events:3} events: {wrong or 'good'}")
    print(f"{rounds - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
