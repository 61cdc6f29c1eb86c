"""Stores as they come to be: what was there before, and what a process does then."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.session.talk import WHOLE_CASE
from tests.soak.disk.cuts import Disk, Files, cuts
from tests.soak.disk.oplog import Fate, Kind, Operation, Strike
from tests.soak.disk.recovery import (
    Acknowledged,
    acknowledgements,
    read_back,
    shown_as_recorded,
)
from tests.soak.disk.trials import Ended, Trials, Work
from tests.soak.disk.works import to_rollback_mode
from voicelist.errors import VoicelistError
from voicelist.places import shipped
from voicelist.record.store import Reader

PLAN = shipped("grammars") / "plans" / "practice-007.yaml"
STORE = "records.sqlite3"
CASE = "practice-007"
# Five bodies of this length are more than a hundred pages of 4096 bytes.
_LONG = 100_000


@dataclass(frozen=True, slots=True)
class Scene:
    """`before` prepares a folder, `works` are then done in it one after the other, watched."""

    name: str
    before: Callable[[Trials, Path], None]
    works: tuple[tuple[str, dict[str, Any]], ...]
    store: str = STORE


@dataclass(frozen=True, slots=True)
class Played:
    """What a scene left: `files` were there before it, `log` is what was done since."""

    scene: Scene
    files: Files
    log: tuple[Operation, ...]
    ends: tuple[Ended, ...]
    folder: Path

    @property
    def file(self) -> Path:
        return self.folder / self.scene.store

    def acknowledged(self, told: bytes) -> list[Acknowledged]:
        """What was acknowledged when so much had been put out."""
        if self.scene.works[0][0] == "append":
            return acknowledgements(told)
        return shown_as_recorded(told, self._entries)

    @property
    def told(self) -> bytes:
        return b"".join(
            one.data for one in self.log if one.kind is Kind.OUTPUT and one.descriptor == 1
        )
