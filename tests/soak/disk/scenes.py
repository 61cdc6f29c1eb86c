"""Stores as they come to be: what was there before, and what processes do then."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.session.talk import WHOLE_CASE
from tests.soak.disk.cuts import Disk, Files
from tests.soak.disk.oplog import Fate, Kind, Operation, Strike
from tests.soak.disk.recovery import (
    Acknowledged,
    acknowledgements,
    everything,
    read_back,
    shown_as_recorded,
)
from tests.soak.disk.trials import Ended, Trials, Work
from voicelist.errors import VoicelistError
from voicelist.places import shipped
from voicelist.record.store import Reader

PLAN = shipped("grammars") / "plans" / "practice-007.yaml"
CASE = "practice-007"
_AT_THE_UNLINK = Strike((Kind.UNLINK,), 1, Fate.KILL_BEFORE)
# SQLite copies its log back after 1000 pages of 4096 bytes; one such body takes 25.
_LONG = 100_000


@dataclass(frozen=True, slots=True)
class Step:
    """One process: a function of `works` and its arguments besides the store's file."""

    kind: str
    given: dict[str, Any]
    strike: Strike = field(default_factory=Strike)


def appended(events: int, **more: Any) -> Step:
    return Step("append", {"case": CASE, "events": events, **more})


def spoken(*, resumed: bool = False, lines: tuple[str, ...] = WHOLE_CASE) -> Step:
    case = CASE if resumed else ""
    return Step("program", {"plan": str(PLAN), "lines": list(lines), "case": case})


@dataclass(frozen=True, slots=True)
class Scene:
    """`before` is done first and taken as long on disk; `steps` are then done, watched."""

    name: str
    steps: tuple[Step, ...]
    before: tuple[Step, ...] = ()
    store: str = "records.sqlite3"
    weight: float = 1.0  # of cuts
    blows: float = 1.0  # weight of failures and kills

    @property
    def is_program(self) -> bool:
        return self.steps[0].kind == "program"


_EARLIER = Step("append", {"case": "earlier", "events": 6, "close": True})
_ROLLBACK = Step("to_rollback_mode", {})
SCENES = (
    Scene("new", (appended(14),)),
    Scene("new, in a folder made for it", (appended(8),), store="data/records.sqlite3"),
    Scene("resumed twice", (appended(5),) * 3, (_EARLIER, appended(8))),
    Scene("left open, resumed", (appended(10),), (_EARLIER, appended(8, leave=True))),
    Scene(
        "log copied back",
        (appended(8, length=_LONG),),
        (appended(35, length=_LONG, leave=True),),
        weight=0.1,
        blows=0.4,
    ),
    Scene("in rollback mode", (appended(8), appended(4)), (appended(8), _ROLLBACK)),
    Scene(
        "hot rollback journal",
        (appended(8),),
        (appended(8), _ROLLBACK, Step("rolled_back", {"case": CASE}, _AT_THE_UNLINK)),
    ),
    Scene(
        "of the first layout",
        (appended(6),),
        (_EARLIER, appended(8), Step("to_layout_1", {})),
        weight=0.5,
        blows=0.5,
    ),
    Scene(
        "another case erased",
        (Step("erase", {"case": "earlier"}), appended(4)),
        (_EARLIER, appended(8)),
        weight=0.5,
        blows=0.5,
    ),
    Scene("whole program", (spoken(),), weight=0.5, blows=0.3),
    Scene(
        "whole program, resumed",
        (spoken(resumed=True, lines=WHOLE_CASE[8:]),),
        (spoken(lines=WHOLE_CASE[:8]),),
        weight=0.5,
        blows=0.3,
    ),
)


@dataclass(slots=True)
class Played:
    """What a scene left in `folder`: `files` and the events `there` before it, `log` since."""

    scene: Scene
    folder: Path
    files: Files = field(default_factory=dict)
    there: list[Acknowledged] = field(default_factory=list)
    log: tuple[Operation, ...] = ()
    ends: tuple[Ended, ...] = ()

    @property
    def file(self) -> Path:
        return self.folder / self.scene.store

    @property
    def told(self) -> bytes:
        """What was put out, up to the end."""
        return b"".join(one.data for one in self.log if is_told(one))

    def acknowledged(self, told: bytes) -> list[Acknowledged]:
        """What counts as on disk when so much had been put out."""
        if not self.scene.is_program:
            return self.there + acknowledgements(told)
        try:
            entries = Reader(f"sqlite:///{self.file}").entries(CASE)
        except VoicelistError:
            entries = ()
        return self.there + shown_as_recorded(told, entries[len(self.there) :])


def is_told(one: Operation) -> bool:
    return one.kind is Kind.OUTPUT and one.descriptor == 1


class Stage:
    """Plays scenes, each in a folder of its own; what was before is made once."""

    def __init__(self, trials: Trials, scratch: Path) -> None:
        self._trials = trials
        self._scratch = scratch
        self._prepared: dict[str, tuple[Files, list[Acknowledged]]] = {}

    def play(self, scene: Scene, strike: Strike | None = None) -> Played:
        """Does the steps; `strike` meets the first. The folder stands until the next playing.

        Raises AssertionError if the log does not tell what is in the folder.
        """
        files, there = self._before(scene)
        folder = fresh(self._scratch / "stage", files)
        log, ends = [], []
        for number, step in enumerate(scene.steps):
            ended = self._done(step, scene, folder, strike if number == 0 else None)
            log += ended.log
            ends.append(ended)
        played = Played(scene, folder, files, there, tuple(log), tuple(ends))
        if strike is None or strike.fate not in (Fate.KILL_BEFORE, Fate.KILL_AFTER):
            _same(played)
        return played

    def go_on(self, played: Played, step: Step) -> Ended:
        """One more process in the folder of what was played last."""
        return self._done(step, played.scene, played.folder, None)

    def _done(self, step: Step, scene: Scene, folder: Path, strike: Strike | None) -> Ended:
        given = {"file": str(folder / scene.store), **step.given}
        return self._trials.run(Work(step.kind, given), folder, strike or step.strike)

    def _before(self, scene: Scene) -> tuple[Files, list[Acknowledged]]:
        if scene.name not in self._prepared:
            folder = fresh(self._scratch / "before", {})
            there: list[Acknowledged] = []
            for step in scene.before:
                ended = self._done(step, scene, folder, None)
                assert ended.code == (0 if not step.strike.number else -9), ended.err
                if not step.strike.number:
                    copy = fresh(self._scratch / "copy", read_back(folder))
                    there = everything(copy / scene.store)
            self._prepared[scene.name] = read_back(folder), there
        files, there = self._prepared[scene.name]
        return files, list(there)


def fresh(folder: Path, files: Files) -> Path:
    """An empty folder with these files."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder


def _same(played: Played) -> None:
    """The log is whole: replayed it gives the folder. Mapped memory (-shm) is not watched."""
    disk = Disk(played.files)
    for one in played.log:
        disk.apply(one)
    replayed, found = dict(_durable(disk.shown())), dict(_durable(read_back(played.folder)))
    differing = [n for n in replayed.keys() | found.keys() if replayed.get(n) != found.get(n)]
    assert not differing, f"{played.scene.name}: the log does not explain {differing}"


def _durable(files: Files) -> Iterator[tuple[str, bytes]]:
    return ((name, content) for name, content in files.items() if not name.endswith("-shm"))
