"""Sound files as they come: any rate, one or two channels, and everything that can be wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicelist.audio.sound_files import read_sound
from voicelist.errors import SoundError


def tone(rate: int, channels: int = 1, seconds: float = 1.0, pitch_hz: float = 440.0) -> np.ndarray:
    time_s = np.arange(int(rate * seconds)) / rate
    wave = 0.5 * np.sin(2 * np.pi * pitch_hz * time_s)
    return np.stack([wave / (1 + channel) for channel in range(channels)], axis=1)


def pitch_of(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples.astype(float)))
    return float(np.argmax(spectrum)) * 16_000 / len(samples)


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".aiff", ".ogg"])
@pytest.mark.parametrize("rate", [8_000, 16_000, 22_050, 44_100, 48_000])
def test_any_rate_becomes_16_khz(tmp_path: Path, rate: int, suffix: str) -> None:
    path = tmp_path / f"tone{suffix}"
    soundfile.write(path, tone(rate), rate)
    sound = read_sound(path)
    assert sound.samples.dtype == np.int16
    assert sound.samples.shape[0] == 1
    assert sound.duration_s == pytest.approx(1.0, abs=0.01)
    assert pitch_of(sound.samples[0]) == pytest.approx(440.0, abs=2.0)
    assert (sound.note is None) == (rate == 16_000)


def test_a_low_rate_is_told(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "low.wav", tone(8_000), 8_000)
    note = read_sound(tmp_path / "low.wav").note
    assert note is not None
    assert "8 kHz" in note


def test_samples_at_our_rate_are_not_touched(tmp_path: Path) -> None:
    original = np.random.default_rng(1).integers(-32768, 32768, 5000, dtype=np.int16)
    soundfile.write(tmp_path / "same.flac", original, 16_000)
    assert np.array_equal(read_sound(tmp_path / "same.flac").samples[0], original)


def test_two_channels_stay_apart(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "two.wav", tone(48_000, channels=2), 48_000)
    samples = read_sound(tmp_path / "two.wav").samples
    assert samples.shape == (2, 16_000)
    assert samples[0].max() == pytest.approx(2 * samples[1].max(), rel=0.01)


@pytest.mark.parametrize("subtype", ["PCM_24", "PCM_U8", "FLOAT"])
def test_other_sample_formats_are_read(tmp_path: Path, subtype: str) -> None:
    soundfile.write(tmp_path / "x.wav", tone(16_000), 16_000, subtype=subtype)
    assert read_sound(tmp_path / "x.wav").samples[0].max() == pytest.approx(16383, abs=150)


def test_too_loud_a_sound_is_limited_not_wrapped(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "loud.wav", 4.0 * tone(16_000), 16_000, subtype="FLOAT")
    samples = read_sound(tmp_path / "loud.wav").samples[0]
    assert samples.max() == 32767
    assert samples.min() == -32768
    assert pitch_of(samples) == pytest.approx(440.0, abs=2.0)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match=r"no sound file .*absent\.wav; check its name"):
        read_sound(tmp_path / "absent.wav")


def test_a_folder_is_no_sound_file(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match="a folder; expected a sound file"):
        read_sound(tmp_path)


def test_an_empty_file_is_named(tmp_path: Path) -> None:
    (tmp_path / "empty.wav").write_bytes(b"")
    with pytest.raises(SoundError, match=r"empty\.wav is empty"):
        read_sound(tmp_path / "empty.wav")


@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_a_file_without_samples_is_named(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"none{suffix}"
    soundfile.write(path, np.zeros(0, np.int16), 16_000)
    with pytest.raises(SoundError, match="record it again"):
        read_sound(path)


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".aiff"])
@pytest.mark.parametrize("share", [0.3, 0.9, 0.999])
@pytest.mark.parametrize("rate", [16_000, 44_100])
def test_a_file_that_was_cut_off_is_noticed(
    tmp_path: Path, suffix: str, share: float, rate: int
) -> None:
    path = tmp_path / f"cut{suffix}"
    noise = np.random.default_rng(1).integers(-9000, 9000, 3 * rate, dtype=np.int16)
    soundfile.write(path, noise, rate)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(SoundError, match=r"cut\.\w+ is cut off.*copy or record it again"):
        read_sound(path)


def test_a_header_alone_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "head.wav"
    soundfile.write(path, tone(16_000), 16_000)
    path.write_bytes(path.read_bytes()[:40])
    with pytest.raises(SoundError, match=r"head\.wav"):
        read_sound(path)


def test_a_wave_file_written_through_a_pipe_is_read(tmp_path: Path) -> None:
    path = tmp_path / "piped.wav"
    soundfile.write(path, tone(16_000), 16_000)
    piped = bytearray(path.read_bytes())
    at = piped.index(b"data") + 4
    piped[at : at + 4] = b"\xff\xff\xff\xff"
    path.write_bytes(piped)
    assert read_sound(path).duration_s == pytest.approx(1.0)


@pytest.mark.parametrize("content", [b"GRAMMAR", b"# a text\n" * 100, bytes(1000)])
def test_what_is_no_sound_is_named(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "notes.wav"
    path.write_bytes(content)
    with pytest.raises(SoundError, match=r"notes\.wav is not a sound file.*use WAV or FLAC"):
        read_sound(path)


@pytest.mark.parametrize("channels", [3, 6])
def test_too_many_channels_are_refused(tmp_path: Path, channels: int) -> None:
    path = tmp_path / "many.wav"
    soundfile.write(path, tone(16_000, channels), 16_000)
    with pytest.raises(SoundError, match=rf"has {channels} channels; keep one, or two"):
        read_sound(path)
