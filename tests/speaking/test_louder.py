"""Louder, softer, faster, slower: speech as the room asks for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.speaking import fake_voices
from voicelist.speaking.louder import LEVEL_STEP_DB, PEAK_AT_MOST, raised
from voicelist.speaking.speaker import PACE_STEP, SpeechOutput
from voicelist.speaking.speech import RATE_HZ, Sound

FULL_SCALE = 32767


def hum(peak: float) -> Sound:
    wave = peak * np.sin(2 * np.pi * 200 * np.arange(RATE_HZ) / RATE_HZ)
    return Sound(np.round(wave * FULL_SCALE).astype("<i2").tobytes())


def rms(sound: Sound) -> float:
    return float(np.sqrt(np.mean((np.frombuffer(sound.pcm, "<i2") / FULL_SCALE) ** 2)))


@pytest.mark.parametrize("steps", [-2, -1, 1, 2])
def test_a_step_is_4_db_where_there_is_room(steps: int) -> None:
    quiet = hum(0.1)
    told_dB = 20 * np.log10(rms(raised(quiet, steps)) / rms(quiet))
    assert told_dB == pytest.approx(LEVEL_STEP_DB * steps, abs=0.05)


@pytest.mark.parametrize("steps", [1, 2])
def test_full_speech_grows_louder_and_its_peak_stays_below_full_scale(steps: int) -> None:
    full = hum(0.85)
    louder = raised(full, steps)
    assert rms(louder) > rms(full)
    peak = np.abs(np.frombuffer(louder.pcm, "<i2").astype(int)).max() / FULL_SCALE
    assert peak <= PEAK_AT_MOST + 1 / FULL_SCALE


def test_no_step_leaves_the_sound_as_it_is() -> None:
    sound = hum(0.5)
    assert raised(sound, 0) is sound
    assert raised(Sound(b""), 2).pcm == b""


def test_slower_takes_longer_and_back_again_as_long_as_before() -> None:
    with SpeechOutput(fake_voices.choice("paced"), play=False, out=None) as mouth:
        usual_s = mouth.say("four words are said").seconds
        mouth.adjust(-1, 0)
        slower_s = mouth.say("four words are said").seconds
        mouth.adjust(0, 0)
        assert mouth.say("four words are said").seconds == pytest.approx(usual_s, abs=0.01)
    assert slower_s == pytest.approx(usual_s * PACE_STEP, rel=0.06)


def test_louder_speech_leaves_the_tone_as_soft_as_it_was(tmp_path: Path) -> None:
    levels = []
    for level in (0, 2):
        path = tmp_path / f"{level}.wav"
        with SpeechOutput(fake_voices.choice("steady"), play=False, out=path) as mouth:
            mouth.adjust(0, level)
            mouth.tone()
        samples, _ = soundfile.read(path, dtype="float32")
        levels.append(float(np.abs(samples).max()))
    assert levels[0] == pytest.approx(levels[1])
    assert levels[0] > 0
