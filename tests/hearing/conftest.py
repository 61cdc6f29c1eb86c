"""The recogniser, loaded once for all tests that hear with it in this process."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from voicelist.hearing.ears import Ears
from voicelist.hearing.model import ModelPlace
from voicelist.hearing.recogniser import Recogniser
from voicelist.hearing.wide import wide_search_model


@pytest.fixture(scope="session")
def wide_model(speech_model: ModelPlace) -> Path:
    return wide_search_model(speech_model)


@pytest.fixture(scope="session")
def recogniser(wide_model: Path) -> Recogniser:
    return Recogniser(wide_model)


@pytest.fixture
def ears(wide_model: Path) -> Iterator[Ears]:
    """In a process of its own, for two channels."""
    started = Ears(wide_model, channels=2)
    yield started
    started.close()
