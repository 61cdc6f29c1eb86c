"""The same speech model, searched more widely.

As published, the model keeps so few rivals (lattice beam 2) that the alternatives, from which the
first sentence that parses is taken, starve. The wider search is a copy of the model's folder, made
of links, with its own `conf/model.conf`.
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

# Own measurements: the stock lattice beam of 2 starves the alternatives; a beam of 13 with 7,000
# active states makes the open-vocabulary look cost twice as much (0.29 instead of 0.14 of real
# time). Where an utterance ends is decided outside; the recogniser's own ends, which would drop
# what was heard before them, are put out of reach.
_WIDE_SEARCH = {
    "--beam": "10.0",
    "--lattice-beam": "6.0",
    "--max-active": "3000",
    **{f"--endpoint.rule{rule}.min-trailing-silence": "60.0" for rule in range(1, 6)},
    "--endpoint.rule5.min-utterance-length": "600.0",
}
_CONF = "conf/model.conf"

_log = logging.getLogger(__name__)


def wide_search_model(place: ModelPlace, cache: Path | None = None) -> Path:
    """The folder to load for recognition; made on first use, in the user's cache.

    Raises MissingPart when the cache cannot be written.
    """
    conf = _widened((place.path / _CONF).read_text(encoding="utf-8"))
    key = hashlib.sha256((place.fingerprint + conf).encode()).hexdigest()[:16]
    target = models_folder(cache) / f"wide-{key}"
    if _is_copy(place.path, target, conf):
        return target
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        return _make(place.path, target, conf)
    except OSError as error:
        raise MissingPart(
            f"The speech model cannot be prepared in {target.parent}: {error}; "
            "make room there or make it writable."
        ) from error


def _widened(conf: str) -> str:
    kept = [line for line in conf.splitlines() if line.split("=")[0].strip() not in _WIDE_SEARCH]
    return "\n".join([*kept, *(f"{name}={value}" for name, value in _WIDE_SEARCH.items())]) + "\n"


def _make(source: Path, target: Path, conf: str) -> Path:
    fresh = Path(tempfile.mkdtemp(prefix=".wide-", dir=target.parent))
    try:
        for path in model_files(source):
            copy = fresh / path.relative_to(source)
            copy.parent.mkdir(parents=True, exist_ok=True)
            if path != source / _CONF:
                _link(path, copy)
        (fresh / _CONF).write_text(conf, encoding="utf-8")
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


def _is_copy(source: Path, copy: Path, conf: str) -> bool:
    try:
        same_sizes = all(
            (copy / path.relative_to(source)).stat().st_size == path.stat().st_size
            for path in model_files(source)
            if path != source / _CONF
        )
        return same_sizes and (copy / _CONF).read_text(encoding="utf-8") == conf
    except OSError:
        return False
