"""One byte of a store changed: verification reports damage, or everything reads as before.

SQLite leaves out what follows the first damaged frame of its log, as behind a cut of the power. So
where the newest events are still in the log, they may be gone without a word. Then the case must
not be told as closed, or must not be known any more by its name: both are counted apart.
"""

from __future__ import annotations

import random
from pathlib import Path

from tests.soak.disk.cuts import Files
from tests.soak.disk.recovery import Hazard
from tests.soak.disk.scenes import Scene, Stage, Step, appended, fresh, spoken
from tests.soak.disk.tally import Tally
from voicelist.errors import VoicelistError
from voicelist.record.commands import verify_case
from voicelist.record.journal import Entry
from voicelist.record.store import Reader

_TWO_MORE = tuple(
    Step("append", {"case": f"other-{number}", "events": 9, "close": True}) for number in (1, 2)
)
STORES = (
    Scene("closed, three cases", (*_TWO_MORE, appended(20, close=True))),
    Scene("left open, newest events in the log", (*_TWO_MORE, appended(20, leave=True))),
    Scene("whole program", (spoken(),)),
)
Cases = dict[str, tuple[Entry, ...]]


def flip(stage: Stage, scratch: Path, scene: Scene, count: int, seed: int) -> Tally:
    """So many changes of single bytes, in the database or its log."""
    played = stage.play(scene)
    files = {
        name: content
        for name, content in _of_store(played.folder).items()
        if content and not name.endswith(("-shm", ".lock"))
    }
    whole = _read(fresh(scratch / "flipped", files) / scene.store)
    chance, tally = random.Random(seed), Tally()
    for _ in range(count):
        name = chance.choices(list(files), [len(content) for content in files.values()])[0]
        at, mask = chance.randrange(len(files[name])), chance.randrange(1, 256)
        changed = bytearray(files[name])
        changed[at] ^= mask
        folder = fresh(scratch / "flipped", {**files, name: bytes(changed)})
        outcome, found = _told(folder / scene.store, whole)
        tally.tried += 1
        tally.outcomes[outcome] += 1
        tally.hazard(found, f"{scene.name}, byte {at} of {name} by {mask:#04x}")
    return tally


def _of_store(folder: Path) -> Files:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def _read(file: Path) -> Cases:
    reader = Reader(f"sqlite:///{file}")
    return {case: reader.entries(case) for case in reader.codes()}


def _told(file: Path, whole: Cases) -> tuple[str, Hazard | None]:
    """What verifying every case that was there comes to."""
    reported, gone, shortened = "", False, False
    for case in whole:
        try:
            _, verdict = verify_case(case, None, f"sqlite:///{file}", practice=False)
        except VoicelistError as error:
            gone = gone or str(error).startswith("There is no case")
            reported = str(error)
            continue
        except Exception as error:
            return "an unexpected error", Hazard("an unexpected error", f"{error!r}")
        if not verdict.ok:
            reported = verdict.problems[0]
        elif verdict.head != whole[case][-1].hash:
            met = f"{case}: {verdict.count} of {len(whole[case])} events verify"
            if verdict.closed or verdict.count >= len(whole[case]):
                return "shortened", Hazard("shortened, verifies as whole", met)
            shortened = True
    if gone or shortened:
        return "a case is not known" if gone else "ends earlier, told as not closed", None
    return ("reported", None) if reported else _unreported(file, whole)


def _unreported(file: Path, whole: Cases) -> tuple[str, Hazard | None]:
    try:
        now = _read(file)
    except VoicelistError:
        return "verifies, refused when read", None
    except Exception as error:
        return "an unexpected error", Hazard("an unexpected error", f"{error!r}")
    if now == whole:
        return "reads as before", None
    return "reads otherwise", Hazard("reads otherwise, verifies", f"{sorted(now)}")
