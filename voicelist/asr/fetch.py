"""Fetch the speech model: from Maven where it is installed, else from the recogniser's maintainers.

A model is put in place by one rename of a complete, checked folder, so that an interruption at any
moment leaves either nothing or a good model. What it has to hash to is written in the manifest that
ships with voicelist: no server is believed about its own files.
"""

from __future__ import annotations

import logging
import os
import shutil
import subprocess
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from voicelist.asr.archive import unpack_model
from voicelist.asr.download import Download, Report
from voicelist.asr.manifest import (
    ModelManifest,
    manifest_of,
    save_manifest,
    sha256_of,
    shipped_manifest,
)
from voicelist.asr.model import (
    ENVIRONMENT_NAME,
    FETCHED_LIST,
    ModelPlace,
    cached_model_folder,
    find_model,
    verify_model,
)
from voicelist.errors import MissingPart

_MAVEN_TIMEOUT_S = 900.0
_ABANDONED_AFTER_S = 1800.0

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class MavenArtifact:
    """An artifact that packs the model's files under `prefix`."""

    coordinates: str
    sha256: str
    prefix: str


SPEECH_MODEL_ARTIFACT = MavenArtifact(
    "com.alphacephei:vosk-model-en:0.3.45:aar",
    "8a5792fccaf873b4745dbd1b3fe19d8a77a15898e806674020eea820424771cd",
    "assets/model-en-us",
)


def fetch_model(
    report: Report,
    *,
    cache: Path | None = None,
    manifest: ModelManifest | None = None,
    artifact: MavenArtifact | None = SPEECH_MODEL_ARTIFACT,
    archives: str | None = None,
    pause_s: float = 1.0,
) -> ModelPlace:
    """The verified model, fetched if need be.

    `report(what, bytes_done, bytes_in_all_or_None)` is called as it goes on. `artifact=None` leaves
    Maven out; `archives` is the address below which the maintainers' archives lie. Raises
    MissingPart with what to do when no route leads to a good model.
    """
    wanted = manifest or shipped_manifest()
    try:
        report("verifying the speech model", 0, None)
        return verify_model(find_model(cache, wanted), cache, wanted)
    except MissingPart:
        if os.environ.get(ENVIRONMENT_NAME):
            raise
    target = cached_model_folder(cache, wanted)
    target.parent.mkdir(parents=True, exist_ok=True)
    _sweep(target.parent)
    if artifact is None or not _by_maven(artifact, target, wanted, report):
        _by_archive(archives or _maintainers_archives(), target, wanted, report, pause_s)
    return find_model(cache, wanted)


def _by_maven(artifact: MavenArtifact, target: Path, wanted: ModelManifest, report: Report) -> bool:
    maven = shutil.which("mvn")
    if maven is None:
        return False
    report("fetching the speech model with Maven", 0, None)
    with tempfile.TemporaryDirectory(prefix=".maven-", dir=target.parent) as workplace:
        # In an empty folder, so that no project's own settings are taken up; `copy` also says where
        # the artifact lies, wherever the user's local repository is.
        options = [f"-Dartifact={artifact.coordinates}", f"-DoutputDirectory={workplace}"]
        try:
            subprocess.run(
                [maven, "-q", "-B", "dependency:copy", *options],
                cwd=workplace,
                stdin=subprocess.DEVNULL,
                capture_output=True,
                check=True,
                timeout=_MAVEN_TIMEOUT_S,
            )
            packed = next(Path(workplace).glob("*.aar"))
            if sha256_of(packed) != artifact.sha256:
                raise MissingPart("Maven delivered other bytes than those expected.")
            _install(packed, target, wanted, artifact.prefix)
        except (subprocess.SubprocessError, OSError, StopIteration, MissingPart) as error:
            _log.info("Maven did not deliver the speech model: %s", error or type(error).__name__)
            return False
    return True


def _by_archive(
    archives: str, target: Path, wanted: ModelManifest, report: Report, pause_s: float
) -> None:
    address = f"{archives}{wanted.name}.zip"
    part = target.parent / f"{wanted.name}.zip.part"
    resumed = part.exists()
    while True:
        Download(address, part, "the speech model", pause_s).run(report)
        report("checking the speech model", 0, None)
        try:
            _install(part, target, wanted, None)
            break
        except MissingPart:
            part.unlink()
            if not resumed:
                raise
            resumed = False
    part.unlink()


def _install(archive: Path, target: Path, wanted: ModelManifest, prefix: str | None) -> None:
    """Unpack, check, and put in place with one rename. Raises MissingPart, leaving `target` alone,
    when any file is not as in the manifest, whoever published it."""
    fresh = Path(tempfile.mkdtemp(prefix=".unpack-", dir=target.parent))
    old: Path | None = None
    try:
        unpack_model(archive, fresh, prefix)
        found = manifest_of(fresh, wanted.name)
        if found != wanted:
            raise MissingPart(
                "What was fetched is not the speech model that voicelist was measured with, so it "
                "is not used; run `voicelist model` again later, or unpack a model yourself and "
                f"name its folder in {ENVIRONMENT_NAME}."
            )
        save_manifest(found, fresh / FETCHED_LIST)
        if target.exists():
            old = Path(tempfile.mkdtemp(prefix=".old-", dir=target.parent))
            target.rename(old / "model")
        fresh.rename(target)
    except OSError as error:
        raise MissingPart(
            f"The speech model cannot be put into {target.parent}: {error}; make room there."
        ) from error
    finally:
        for left in (fresh, old):
            if left is not None:
                shutil.rmtree(left, ignore_errors=True)


def _sweep(folder: Path) -> None:
    """Remove what an interrupted fetch left behind, sparing another one that may be under way."""
    for pattern in (".unpack-*", ".old-*", ".maven-*"):
        for left in folder.glob(pattern):
            if time.time() - left.stat().st_mtime > _ABANDONED_AFTER_S:
                shutil.rmtree(left, ignore_errors=True)


def _maintainers_archives() -> str:
    import vosk

    return str(vosk.MODEL_PRE_URL)
