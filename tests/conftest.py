"""What many tests need: the speech model, and recordings of real people where they are nearby."""

from __future__ import annotations

import os
import shutil
import signal
import sys
from pathlib import Path

import pytest
from hypothesis import settings

from voicelist.asr.fetch import fetch_model
from voicelist.asr.model import ModelPlace, find_model
from voicelist.errors import MissingPart
from voicelist.grammar import grammar

# Property tests are about what is right, not about how fast a busy machine finds it.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

# A suite that a shell began in the background ignores this signal, and so would what it starts.
signal.signal(signal.SIGINT, signal.default_int_handler)

# Programs are begun hundreds of times: what Python compiles for one of them is there for the next.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# Many tests compile the same documents.
grammar.KEPT_AT_MOST = 6

# Files that take longest are begun first, or one process is still at them when the other is done.
_LONG = ("test_asked_to_stop.py", "test_small_inputs.py", "test_nothing_leaves.py", "test_check.py")

_SHARED_SPEECH = Path(__file__).resolve().parents[2] / "shared" / "speech"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first; else in the usual order."""
    items.sort(key=lambda item: item.path.name not in _LONG)


@pytest.fixture(scope="session")
def speech_model() -> ModelPlace:
    """The speech model: of VOICELIST_MODEL, of the user's cache, or fetched there by Maven."""
    try:
        return find_model()
    except MissingPart as missing:
        if os.environ.get("VOICELIST_MODEL") or shutil.which("mvn") is None:
            pytest.skip(str(missing))
    try:
        return fetch_model(lambda *_: None)
    except MissingPart as missing:
        pytest.skip(str(missing))


@pytest.fixture
def natural_answers() -> Path:
    """Natural answers, each with what it should come to, kept outside the repository."""
    file = _SHARED_SPEECH.parent / "natural" / "answers.tsv"
    if not file.is_file():
        pytest.skip("the natural answers are not beside this checkout")
    return file


@pytest.fixture(scope="session")
def shared_speech() -> Path:
    """Recordings of real people, kept outside the repository."""
    if not _SHARED_SPEECH.is_dir():
        pytest.skip("the recordings of real people are not beside this checkout")
    return _SHARED_SPEECH
