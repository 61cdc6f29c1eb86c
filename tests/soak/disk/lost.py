"""A store that is deleted, moved or replaced in the middle of a case: nothing may be acknowledged
that is not in the file at the store's place."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.session.talk import WHOLE_CASE
from tests.soak.disk.recovery import RECORDED, TOLD_KINDS, Hazard, acknowledgements
from tests.soak.disk.scenes import CASE, PLAN, fresh
from tests.soak.disk.tally import Tally
from tests.soak.disk.trials import Ended, Trials, Work
from tests.soak.disk.works import DEEDS
from voicelist.errors import VoicelistError
from voicelist.record.journal import Entry
from voicelist.record.store import Reader

_AFTER = 6


def lose(trials: Trials, scratch: Path, deed: str, before: int) -> Tally:
    """Something happens behind `before` events."""
    folder = fresh(scratch / "stage", {})
    file = folder / "data" / "records.sqlite3"
    given = {"file": str(file), "case": CASE, "deed": deed, "before": before, "after": _AFTER}
    ended = trials.run(Work("lose", given), folder)
    _, _, later = ended.out.partition("deed\n")
    acknowledged = acknowledgements(later.encode())
    tally = Tally(1, len(acknowledged))
    hashes = {entry.seq: entry.hash for entry in _entries(file)}
    gone = [one for one in acknowledged if hashes.get(one.seq) != one.hash]
    tally.outcomes["refused" if ended.code == 1 else "went on"] += 1
    tally.hazard(_judged(ended, len(gone), len(acknowledged)), f"{deed} behind {before} events")
    return tally


def lose_from_program(scratch: Path, deed: str, before: int) -> Tally:
    """The same to `voicelist run --typed`: its 'recorded' lines behind the deed."""
    folder = fresh(scratch / "stage", {})
    file = folder / "data" / "records.sqlite3"
    command = [sys.executable, "-m", "voicelist", "run", str(PLAN), "--typed", "--voice", "none"]
    run = subprocess.Popen(
        [*command, "--store", f"sqlite:///{file}"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert run.stdin is not None
    assert run.stdout is not None
    run.stdin.write("".join(f"{line}\n" for line in WHOLE_CASE[:before]))
    run.stdin.flush()
    seen = 0
    while seen < before and (line := run.stdout.readline()):
        seen += RECORDED in line
    DEEDS[deed](file)
    out, err = run.communicate("".join(f"{line}\n" for line in WHOLE_CASE[before:]))
    claimed = out.count(RECORDED)
    tally = Tally(1, claimed)
    found = sum(entry.kind in TOLD_KINDS for entry in _entries(file))
    ended = Ended(run.returncode, out, err, ())
    gone = max(claimed - max(found - before, 0), 0)
    tally.outcomes["refused" if ended.code == 1 else "went on"] += 1
    tally.hazard(_judged(ended, gone, claimed), f"whole program, {deed} behind {before} answers")
    return tally


def _judged(ended: Ended, gone: int, claimed: int) -> Hazard | None:
    if "Traceback" in ended.err or ended.code not in (0, 1):
        return Hazard("badly reported", f"exit {ended.code}: {ended.err[-200:]}")
    if gone:
        return Hazard("recorded into nothing", f"{gone} of {claimed} later acknowledgements")
    if ended.code == 1 and not ended.err.strip():
        return Hazard("badly reported", "exit 1 without a word")
    return None


def _entries(file: Path) -> tuple[Entry, ...]:
    try:
        return Reader(f"sqlite:///{file}").entries(CASE)
    except VoicelistError:
        return ()
