"""Which files make up a speech model, how large they are and what they hash to."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from voicelist.errors import MissingPart
from voicelist.reading import FILE_LIMITS, NotReadable, read_file

# What the recogniser reads. Notes and labels in other places of a model folder do not change
# what is understood, so they have no part in its fingerprint.
_READ_FOLDERS = ("am", "conf", "graph", "ivector", "rescore", "rnnlm")
_ESSENTIAL = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf")
_SHIPPED = Path(__file__).with_name("model_manifest.json")


@dataclass(frozen=True, slots=True)
class FileMark:
    """One file of a model; `path` is relative to the model's folder, with forward slashes."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class ModelManifest:
    """All files of one model, sorted by path."""

    name: str
    files: tuple[FileMark, ...]

    @property
    def fingerprint(self) -> str:
        """Lower-case hex SHA-256 over the files' hashes and paths, in the order of the paths."""
        lines = "".join(f"{mark.sha256}  {mark.path}\n" for mark in self.files)
        return hashlib.sha256(lines.encode()).hexdigest()

    def sizes_fit(self, folder: Path) -> bool:
        """Whether every file is there with its size; a quick look, not a verification."""
        return all(_size(folder / mark.path) == mark.size for mark in self.files)


def shipped_manifest() -> ModelManifest:
    """The manifest of the model that voicelist's figures were measured with."""
    return load_manifest(_SHIPPED)


def load_manifest(path: Path) -> ModelManifest:
    """Read a manifest; raises MissingPart when it is absent or unreadable."""
    try:
        written = json.loads(read_file(path, FILE_LIMITS.manifest, "a file list"))
        files = (
            FileMark(name, int(mark["size"]), str(mark["sha256"]))
            for name, mark in written["files"].items()
        )
        ordered = tuple(sorted(files, key=lambda mark: mark.path))
        return ModelManifest(str(written["name"]), ordered)
    except (NotReadable, ValueError, RecursionError, KeyError, TypeError, AttributeError) as error:
        raise MissingPart(
            f"The speech model's file list {path} cannot be read; run `voicelist model` again."
        ) from error


def save_manifest(manifest: ModelManifest, path: Path) -> None:
    """Write a manifest as JSON."""
    files = {mark.path: {"size": mark.size, "sha256": mark.sha256} for mark in manifest.files}
    text = json.dumps({"name": manifest.name, "files": files}, indent=2)
    path.write_text(text + "\n", encoding="utf-8")


def is_model(folder: Path) -> bool:
    """Whether a folder holds the parts without which the recogniser cannot start."""
    return all((folder / name).is_file() for name in _ESSENTIAL)


def manifest_of(folder: Path, name: str) -> ModelManifest:
    """Hash every file of the model in `folder` (some 70 MB: a fraction of a second)."""
    marks = (
        FileMark(path.relative_to(folder).as_posix(), path.stat().st_size, sha256_of(path))
        for path in model_files(folder)
    )
    return ModelManifest(name, tuple(sorted(marks, key=lambda mark: mark.path)))


def model_files(folder: Path) -> list[Path]:
    """The files of a model that count towards its fingerprint."""
    tops = (folder / top for top in _READ_FOLDERS)
    return [path for top in tops if top.is_dir() for path in top.rglob("*") if path.is_file()]


def sha256_of(path: Path) -> str:
    """Lower-case hex SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _size(path: Path) -> int | None:
    try:
        return path.stat().st_size
    except OSError:
        return None
