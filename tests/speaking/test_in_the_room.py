"""The mouth through a real sound library, and what a listener in the room makes out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.benchmarks.harness.open_ear import words_in
from tests.pulse import PulseRoom, pulse_room
from voicelist.asr.model import ModelPlace
from voicelist.speaking.speaker import SpeechOutput
from voicelist.speaking.tone import soft_tone


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseRoom]:
    with pulse_room(tmp_path, monkeypatch) as running:
        yield running


def heard(path: Path) -> np.ndarray:
    samples, _ = soundfile.read(path, dtype="int16")
    return np.trim_zeros(samples)


def test_what_the_mouth_says_is_heard_in_the_room_to_its_last_word(
    room: PulseRoom, tmp_path: Path, speech_model: ModelPlace
) -> None:
    with SpeechOutput("hibari", play=True, out=None) as mouth:
        with room.recording(tmp_path / "room.wav"):
            spoken = mouth.say("Left or right: the marked eye?")
        assert mouth.notes == ()
    assert (spoken.played, spoken.problem) == (True, None)
    sound = heard(tmp_path / "room.wav")
    assert len(sound) / 16_000 == pytest.approx(spoken.seconds, abs=0.25)
    assert words_in(sound, speech_model.path) == ["left", "or", "right", "the", "marked", "eye"]


def test_an_interrupted_sentence_breaks_off_in_the_room_too(
    room: PulseRoom, tmp_path: Path
) -> None:
    text = "Please check the eye again, and then the lens, and then the list, and then the counts."
    asked = 0

    def soon() -> bool:
        nonlocal asked
        asked += 1
        return asked > 40

    with SpeechOutput("hibari", play=True, out=None) as mouth:
        whole_s = mouth.say(text).seconds
        with room.recording(tmp_path / "room.wav"):
            spoken = mouth.say(text, soon)
    assert not spoken.played
    assert 0.0 < spoken.seconds < whole_s - 1.0
    assert len(heard(tmp_path / "room.wav")) / 16_000 < whole_s - 0.7


def test_the_tone_is_one_soft_note_in_the_room(room: PulseRoom, tmp_path: Path) -> None:
    with SpeechOutput("none", play=True, out=None) as mouth, room.recording(tmp_path / "room.wav"):
        assert mouth.tone().played
    sound = heard(tmp_path / "room.wav").astype(float)
    assert len(sound) / 16_000 == pytest.approx(soft_tone().seconds, abs=0.02)
    assert np.abs(np.fft.rfft(sound, 16_000)).argmax() == pytest.approx(330, abs=2)
