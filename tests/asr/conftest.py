"""The recogniser, loaded once for all tests that hear with it in this process."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from voicelist.asr.model import ModelPlace
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.wide_beam import wide_search_model


@pytest.fixture(scope="session")
def wide_model(speech_model: ModelPlace) -> Path:
    return wide_search_model(speech_model)


@pytest.fixture(scope="session")
def recogniser(wide_model: Path) -> Recogniser:
    return Recogniser(wide_model)


@pytest.fixture
def process(wide_model: Path) -> Iterator[RecogniserProcess]:
    """In a process of its own, for two channels."""
    started = RecogniserProcess(wide_model, channels=2)
    yield started
    started.close()
