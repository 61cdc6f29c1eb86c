"""Where the speech model is, and whether it is whole.

`VOICELIST_MODEL` names a folder of the user's choice; otherwise the model lies in the user's cache,
where `voicelist.asr.fetch` puts it, and is used only if its hashes are those of the shipped
manifest. Nothing here goes to the network.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
from dataclasses import dataclass
from pathlib import Path

from voicelist.asr.manifest import (
    ModelManifest,
    is_model,
    load_manifest,
    manifest_of,
    model_files,
    shipped_manifest,
)
from voicelist.errors import MissingPart
from voicelist.places import cache_folder

ENVIRONMENT_NAME = "VOICELIST_MODEL"
FETCHED_LIST = "fetched.json"

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class ModelPlace:
    """A model that is there. `fingerprint` (hex SHA-256) names it in journals; `note` is a sentence
    for people when it is not the model that voicelist was measured with."""

    path: Path
    fingerprint: str
    note: str | None


def models_folder(cache: Path | None = None) -> Path:
    """The folder in the user's cache that holds models."""
    return (cache or cache_folder()) / "models"


def cached_model_folder(cache: Path | None = None, manifest: ModelManifest | None = None) -> Path:
    """Where the fetched model lies, or will lie."""
    return models_folder(cache) / (manifest or shipped_manifest()).name


def find_model(cache: Path | None = None, manifest: ModelManifest | None = None) -> ModelPlace:
    """The model to use, after a quick check of its files' sizes. Only a folder that is named in the
    environment may hold another model than the manifest's.

    Its fingerprint is known from the last verification while sizes and times of change stay the
    same; otherwise its files are hashed now. Raises MissingPart when there is no usable model.
    """
    chosen = os.environ.get(ENVIRONMENT_NAME)
    folder = Path(chosen).expanduser() if chosen else cached_model_folder(cache, manifest)
    if not is_model(folder):
        raise MissingPart(_absent(folder, by_environment=bool(chosen)))
    return _place(folder, cache, manifest or shipped_manifest(), trust_stamp=True)


def verify_model(
    place: ModelPlace, cache: Path | None = None, manifest: ModelManifest | None = None
) -> ModelPlace:
    """Hash every file again. Raises MissingPart when the model is damaged or has changed."""
    if not is_model(place.path):
        raise MissingPart(_absent(place.path, by_environment=False))
    found = _place(place.path, cache, manifest or shipped_manifest(), trust_stamp=False)
    if found.fingerprint != place.fingerprint:
        raise MissingPart(_damaged(place.path))
    return found


def _place(
    folder: Path, cache: Path | None, shipped: ModelManifest, *, trust_stamp: bool
) -> ModelPlace:
    named = bool(os.environ.get(ENVIRONMENT_NAME))
    expected = _listed(folder) if named else shipped
    if expected is not None and not expected.sizes_fit(folder):
        raise MissingPart(_damaged(folder))
    fingerprint = _stamped(folder, cache) if trust_stamp else None
    if fingerprint is None:
        fingerprint = manifest_of(folder, folder.name).fingerprint
        _stamp(folder, cache, fingerprint)
    if expected is not None and fingerprint != expected.fingerprint:
        raise MissingPart(_damaged(folder))
    return ModelPlace(folder, fingerprint, _note(folder, fingerprint, shipped))


def _listed(folder: Path) -> ModelManifest | None:
    """What was fetched into a folder, where that is written there."""
    listed = folder / FETCHED_LIST
    return load_manifest(listed) if listed.exists() else None


def _note(folder: Path, fingerprint: str, shipped: ModelManifest) -> str | None:
    if fingerprint == shipped.fingerprint:
        return None
    return (
        f"The speech model in {folder} is not the one that voicelist was measured with; "
        f"its fingerprint begins {fingerprint[:12]}."
    )


def _absent(folder: Path, *, by_environment: bool) -> str:
    if by_environment:
        return (
            f"{ENVIRONMENT_NAME} names {folder}, which holds no speech model; "
            "correct it, or unset it and run `voicelist model`."
        )
    return "The speech model is not here; run `voicelist model` to fetch it (40 MB, once)."


def _damaged(folder: Path) -> str:
    if os.environ.get(ENVIRONMENT_NAME):
        return f"The speech model in {folder} is damaged; put it there again, or choose another."
    return (
        f"The speech model in {folder} is damaged, or not the one that voicelist was measured "
        f"with; run `voicelist model` to fetch that one, or name a folder in {ENVIRONMENT_NAME}."
    )


def _stamp_path(folder: Path, cache: Path | None) -> Path:
    key = hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:24]
    return models_folder(cache) / "stamps" / f"{key}.json"


def _marks(folder: Path) -> list[list[str | int]]:
    stats = ((path.relative_to(folder).as_posix(), path.stat()) for path in model_files(folder))
    return sorted([name, stat.st_size, stat.st_mtime_ns] for name, stat in stats)


def _stamped(folder: Path, cache: Path | None) -> str | None:
    try:
        stamp = json.loads(_stamp_path(folder, cache).read_text(encoding="utf-8"))
        known = stamp["marks"] == _marks(folder)
        return str(stamp["fingerprint"]) if known else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _stamp(folder: Path, cache: Path | None, fingerprint: str) -> None:
    """Remember a full verification. Without a writable cache the model is hashed at each start."""
    path = _stamp_path(folder, cache)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(f".{os.getpid()}")
        fresh.write_text(json.dumps({"fingerprint": fingerprint, "marks": _marks(folder)}))
        fresh.replace(path)
    except OSError as error:
        _log.info("the model's verification is not remembered: %s", error)
