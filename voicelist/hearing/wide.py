"""The same speech model, searched more widely and without chance.

As published, the model keeps so few rivals (lattice beam 2) that the alternatives, from which the
first sentence that parses is taken, starve; and it adds random noise to the sound, so that the same
sound is not always heard the same. The copy of the model's folder made here, of links, has its own
settings in `conf/`; the noise that the model expects is added before it (`recogniser.py`). Of what
may follow what in English, nearly 40 MB when loaded, only the words are kept: phrases say what may
be said.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import os
import shutil
import tempfile
from pathlib import Path

from voicelist.errors import MissingPart
from voicelist.hearing.manifest import model_files
from voicelist.hearing.model import ModelPlace, models_folder
from voicelist.hearing.vocabulary import words_alone

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
_SETTINGS = {"conf/model.conf": _WIDE_SEARCH, "conf/mfcc.conf": {"--dither": "0.0"}}

_log = logging.getLogger(__name__)


def wide_search_model(place: ModelPlace, cache: Path | None = None) -> Path:
    """The folder to load for recognition; made on first use, in the user's cache.

    Raises MissingPart when the cache cannot be written.
    """
    ours = {
        name: _with((place.path / name).read_text(encoding="utf-8"), settings)
        for name, settings in _SETTINGS.items()
    }
    made_of = "\n".join((place.fingerprint, *ours.values(), f"the words of {_SENTENCES}"))
    key = hashlib.sha256(made_of.encode()).hexdigest()[:16]
    target = models_folder(cache) / f"wide-{key}"
    if _is_copy(place.path, target, ours):
        return target
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        return _make(place.path, target, ours)
    except OSError as error:
        raise MissingPart(
            f"The speech model cannot be prepared in {target.parent}: {error}; "
            "make room there or make it writable."
        ) from error


def _with(conf: str, settings: dict[str, str]) -> str:
    kept = [line for line in conf.splitlines() if line.split("=")[0].strip() not in settings]
    return "\n".join([*kept, *(f"{name}={value}" for name, value in settings.items())]) + "\n"


def _make(source: Path, target: Path, ours: dict[str, str]) -> Path:
    fresh = Path(tempfile.mkdtemp(prefix=".wide-", dir=target.parent))
    try:
        for path in model_files(source):
            name = path.relative_to(source).as_posix()
            copy = fresh / name
            copy.parent.mkdir(parents=True, exist_ok=True)
            words = words_alone(path) if name == _SENTENCES else None
            if name in ours:
                copy.write_text(ours[name], encoding="utf-8")
            elif words is not None:
                copy.write_bytes(words)
            else:
                _link(path, copy)
        _swap(fresh, target)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return target


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


def _is_copy(source: Path, copy: Path, ours: dict[str, str]) -> bool:
    try:
        for path in model_files(source):
            name = path.relative_to(source).as_posix()
            if name in ours:
                same = (copy / name).read_text(encoding="utf-8") == ours[name]
            elif name == _SENTENCES:
                same = 0 < (copy / name).stat().st_size <= path.stat().st_size
            else:
                same = (copy / name).stat().st_size == path.stat().st_size
            if not same:
                return False
    except OSError:
        return False
    return True
