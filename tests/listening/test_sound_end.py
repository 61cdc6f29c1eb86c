"""A recording that ends while somebody speaks: the last words still count."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from tests.command import PLAN, Command, voicelist
from voicelist.asr.model import ModelPlace
from voicelist.places import shipped

__all__ = ["voicelist"]

FIRM = shipped("audio_fixtures_synthetic") / "demo" / "02-irrigation-line.flac"


def test_words_at_the_very_end_of_a_recording_are_taken(
    voicelist: Command, speech_model: ModelPlace, tmp_path: Path
) -> None:
    samples, rate = soundfile.read(FIRM, dtype="int16")
    spoken = np.flatnonzero(np.abs(samples) > 500)
    path = tmp_path / "cut.wav"
    soundfile.write(path, samples[: spoken[-1] + 800], rate)
    answer = voicelist("run", PLAN, "--audio", path, "--pace", "fast", "--voice", "none")
    assert answer.code == 0, answer.text
    assert "irrigation line firm" in answer.out
    assert "Firm or loose: the aspiration line?" in answer.out
