"""The same speech model, searched more widely and without chance.

As published, the model keeps so few rivals (lattice beam 2) that the alternatives, from which the
first sentence that parses is taken, starve; and it adds random noise to the sound, so that the same
sound is not always heard the same. The copy of the model's folder made here, of links, has its own
settings in `conf/`; the noise that the model expects is added before it (`recogniser.py`). Of what
may follow what in English, nearly 40 MB when loaded, only the words are kept: phrases say what may
be said.

The copy holds a list of what its files have to hash to. At each start what is not a link to a file
of the model is hashed (3 MB, a few milliseconds); what does not fit is made again.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import os
import shutil
import tempfile
from pathlib import Path

from voicelist.asr.manifest import (
    FileMark,
    ModelManifest,
    load_manifest,
    manifest_of,
    model_files,
    save_manifest,
    sha256_of,
)
from voicelist.asr.model import ModelPlace, models_folder
from voicelist.asr.vocabulary import words_alone
from voicelist.errors import MissingPart

# Own measurements: the stock lattice beam of 2 starves the alternatives; a wider beam than 10 hears
# no more. Where an utterance ends is decided outside; the recogniser's own ends, which would drop
# what was heard before them, are put out of reach.
_WIDE_SEARCH = {
    "--beam": "10.0",
    "--lattice-beam": "6.0",
    "--max-active": "3000",
    **{f"--endpoint.rule{rule}.min-trailing-silence": "60.0" for rule in range(1, 6)},
    "--endpoint.rule5.min-utterance-length": "600.0",
}
_SENTENCES = "graph/Gr.fst"
_LIST = "made.json"
_SETTINGS = {"conf/model.conf": _WIDE_SEARCH, "conf/mfcc.conf": {"--dither": "0.0"}}

_log = logging.getLogger(__name__)


def wide_search_model(place: ModelPlace, cache: Path | None = None) -> Path:
    """The folder to load for recognition; made on first use, and again if it is not as it was made,
    in the user's cache.

    Raises MissingPart when the cache cannot be written or does not keep what is written.
    """
    ours = _own_settings(place)
    target = _target(place, ours, cache)
    return target if _is_as_made(place.path, target, ours) else _made(place, target, ours)


def verified_wide_model(place: ModelPlace, cache: Path | None = None) -> Path:
    """The same folder, every file of it hashed and compared with what is made of the model now;
    made again if it differs. Takes half a second. Raises as `wide_search_model`."""
    ours = _own_settings(place)
    target = _target(place, ours, cache)
    expected = _expected(place, _contents(place.path, ours))
    same = _is_as_made(place.path, target, ours) and (
        manifest_of(target, expected.name) == load_manifest(target / _LIST) == expected
    )
    return target if same else _made(place, target, ours)


def _own_settings(place: ModelPlace) -> dict[str, str]:
    return {
        name: _with((place.path / name).read_text(encoding="utf-8"), settings)
        for name, settings in _SETTINGS.items()
    }


def _target(place: ModelPlace, ours: dict[str, str], cache: Path | None) -> Path:
    made_of = "\n".join((place.fingerprint, *ours.values(), f"the words of {_SENTENCES}"))
    key = hashlib.sha256(made_of.encode()).hexdigest()[:16]
    return models_folder(cache) / f"wide-{key}"


def _made(place: ModelPlace, target: Path, ours: dict[str, str]) -> Path:
    contents = _contents(place.path, ours)
    expected = _expected(place, contents)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if _make(place.path, target, contents, expected):
            return target
    except OSError as error:
        raise MissingPart(
            f"The speech model cannot be prepared in {target.parent}: {error}; "
            "make room there or make it writable."
        ) from error
    raise MissingPart(
        f"What was written for the speech model in {target.parent} does not read back as it was "
        "written; check the disk, then run `voicelist model`."
    )


def _with(conf: str, settings: dict[str, str]) -> str:
    kept = [line for line in conf.splitlines() if line.split("=")[0].strip() not in settings]
    return "\n".join([*kept, *(f"{name}={value}" for name, value in settings.items())]) + "\n"


def _contents(source: Path, ours: dict[str, str]) -> dict[str, bytes]:
    """The files of the copy that are not those of the model."""
    written = {name: text.encode() for name, text in ours.items()}
    graph = source / _SENTENCES
    words = words_alone(graph) if graph.is_file() else None
    return written if words is None else {**written, _SENTENCES: words}


def _expected(place: ModelPlace, contents: dict[str, bytes]) -> ModelManifest:
    """What the copy's files have to hash to. Raises MissingPart if the model is not what it was."""
    source = manifest_of(place.path, place.path.name)
    if source.fingerprint != place.fingerprint:
        raise MissingPart(f"The speech model in {place.path} is damaged; run `voicelist model`.")
    marks = (
        FileMark(mark.path, len(own), hashlib.sha256(own).hexdigest())
        if (own := contents.get(mark.path)) is not None
        else mark
        for mark in source.files
    )
    return ModelManifest(source.name, tuple(marks))


def _make(source: Path, target: Path, contents: dict[str, bytes], expected: ModelManifest) -> bool:
    """Whether the copy, read back, is as expected; only then it is put in place."""
    fresh = Path(tempfile.mkdtemp(prefix=".wide-", dir=target.parent))
    try:
        for mark in expected.files:
            copy = fresh / mark.path
            copy.parent.mkdir(parents=True, exist_ok=True)
            if mark.path in contents:
                copy.write_bytes(contents[mark.path])
            else:
                _link(source / mark.path, copy)
        save_manifest(expected, fresh / _LIST)
        fits = manifest_of(fresh, expected.name) == expected == load_manifest(fresh / _LIST)
        if fits:
            _swap(fresh, target)
        return fits
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _link(path: Path, copy: Path) -> None:
    for link in (os.link, os.symlink):
        with contextlib.suppress(OSError, NotImplementedError):
            link(path.resolve(), copy)
            return
    shutil.copy2(path, copy)


def _swap(fresh: Path, target: Path) -> None:
    """Put `fresh` in the place of `target`; another process may have been first, which is fine."""
    with contextlib.suppress(OSError):
        target.rename(Path(tempfile.mkdtemp(prefix=".old-", dir=target.parent)) / "old")
    try:
        fresh.rename(target)
    except OSError:
        if not target.is_dir():
            raise
    for old in target.parent.glob(".old-*"):
        shutil.rmtree(old, ignore_errors=True)


def _is_as_made(source: Path, target: Path, ours: dict[str, str]) -> bool:
    """Whether the copy holds what its list says. A file that is the model's own was hashed with the
    model, and its time of change tells since."""
    try:
        listed = load_manifest(target / _LIST)
        names = {mark.path for mark in listed.files}
        if any(_names(folder) != names for folder in (source, target)):
            return False
        return all(
            (target / mark.path).read_text(encoding="utf-8") == ours[mark.path]
            if mark.path in ours
            else _is(target / mark.path, mark, source / mark.path)
            for mark in listed.files
        )
    except (OSError, ValueError, MissingPart):
        return False


def _names(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in model_files(folder)}


def _is(copy: Path, mark: FileMark, original: Path) -> bool:
    if copy.stat().st_size != mark.size:
        return False
    return copy.samefile(original) or sha256_of(copy) == mark.sha256
