"""All that was said as one file, readable whenever the program ends."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicelist.errors import SoundError, UsageError
from voicelist.speaking.speech import Sound
from voicelist.speaking.voice_file import VoiceFile

GAP = 6_400
SUFFIXES = pytest.mark.parametrize("suffix", [".wav", ".flac", ".FLAC"])


def noise(number: int, samples: int) -> Sound:
    made = np.random.default_rng(number).integers(-9_000, 9_000, samples, dtype=np.int16)
    return Sound(made.astype("<i2").tobytes())


def samples_in(path: Path) -> np.ndarray:
    samples, rate = soundfile.read(path, dtype="int16")
    assert rate == 16_000
    assert samples.ndim == 1
    return samples


@SUFFIXES
def test_what_was_said_comes_back_sample_by_sample_with_gaps(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"voice{suffix}"
    file = VoiceFile(path)
    file.add(noise(1, 16_000))
    file.add(noise(2, 777), gap_s=0.6)
    file.close()
    samples = samples_in(path)
    assert len(samples) == 16_000 + GAP + 777 + 9_600
    assert samples[:16_000].tobytes() == noise(1, 16_000).pcm
    assert not samples[16_000:22_400].any()
    assert samples[22_400:23_177].tobytes() == noise(2, 777).pcm
    assert file.seconds == pytest.approx(len(samples) / 16_000)


@SUFFIXES
@pytest.mark.parametrize("length", [1, 4_095, 4_096, 4_097, 20_000])
def test_everything_said_is_there_before_the_file_is_closed(
    tmp_path: Path, suffix: str, length: int
) -> None:
    path = tmp_path / f"voice{suffix}"
    file = VoiceFile(path)
    for number in range(3):
        file.add(noise(number, length))
        samples = samples_in(path)
        for said in range(number + 1):
            start = said * (length + GAP)
            assert samples[start : start + length].tobytes() == noise(said, length).pcm
    file.close()


_KILLED = """
import os, sys
from pathlib import Path
from voicelist.speaking.speech import Sound
from voicelist.speaking.voice_file import VoiceFile
file = VoiceFile(Path(sys.argv[1]))
for number in range(1, 4):
    file.add(Sound(bytes([number]) * 20_000))
os.kill(os.getpid(), 9)
"""


@SUFFIXES
def test_a_killed_program_leaves_what_was_said_before(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"voice{suffix}"
    killed = subprocess.run([sys.executable, "-c", _KILLED, str(path)], check=False)
    assert killed.returncode == -9
    samples = samples_in(path)
    for said in range(3):
        start = said * (10_000 + GAP)
        assert samples[start : start + 10_000].tobytes() == bytes([said + 1]) * 20_000


@SUFFIXES
def test_a_file_with_nothing_said_is_still_a_sound_file(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"voice{suffix}"
    VoiceFile(path).close()
    assert not samples_in(path).any()


def test_another_suffix_is_refused_and_no_file_is_made(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"\.wav or \.flac"):
        VoiceFile(tmp_path / "voice.mp3")
    assert list(tmp_path.iterdir()) == []


@SUFFIXES
def test_a_folder_that_is_not_there_is_named(tmp_path: Path, suffix: str) -> None:
    with pytest.raises(SoundError, match="missing"):
        VoiceFile(tmp_path / "missing" / f"voice{suffix}")
