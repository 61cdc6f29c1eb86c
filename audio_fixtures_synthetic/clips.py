"""What the manifest says of each sound file. One row a clip, tab-separated, columns as below."""

from __future__ import annotations

import csv
import zlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
MANIFEST = FOLDER / "manifest.tsv"
CLEAN, THEATRE = "clean", "theatre"
NONE = "none"


@dataclass(frozen=True, slots=True)
class Text:
    """Something to be said while `asked` is waited for (an item, ITEM/READ-BACK or `held`).

    `expected` is how it is to be understood: the phrase's name and the values said, or "none".
    `wrong_yes` is what it must not be taken for: a meaning, "any" for any answer at all, "" where
    the clip is a permitted answer. `family` groups the clips in tables.
    """

    asked: str
    family: str
    text: str
    expected: str
    wrong_yes: str = ""


@dataclass(frozen=True, slots=True)
class Clip:
    """One sound file. `snr_dB` is empty for clean speech; `seed` is the noise's."""

    file: str
    asked: str
    family: str
    text: str
    expected: str
    wrong_yes: str
    voice: str
    engine: str
    engine_licence: str
    voice_licence: str
    noise: str
    snr_dB: str
    seed: int

    @property
    def folder(self) -> str:
        return self.file.partition("/")[0]


def seed_of(file: str) -> int:
    """The noise's seed: fixed by the file's name, so that a new clip changes no other."""
    return zlib.crc32(file.encode())


def write_manifest(clips: Iterable[Clip], path: Path = MANIFEST) -> None:
    """All clips, in the order given."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(
            file, [one.name for one in fields(Clip)], delimiter="\t", lineterminator="\n"
        )
        table.writeheader()
        table.writerows(asdict(clip) for clip in clips)


def read_manifest(path: Path = MANIFEST) -> list[Clip]:
    """All clips of the manifest."""
    with path.open(encoding="utf-8", newline="") as file:
        return [_clip(row) for row in csv.DictReader(file, delimiter="\t")]


def _clip(row: dict[str, str]) -> Clip:
    seed = int(row.pop("seed"))
    return Clip(**row, seed=seed)
