"""Sound files, brought to what the recogniser hears: 16 kHz, 16-bit, one or two channels."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from voicelist.errors import SoundError
from voicelist.hearing.utterance import SAMPLE_RATE_HZ

MOST_CHANNELS = 2
_FULL_SCALE = 32767.0
# Lengths written by programs that did not know the length when they began.
_UNKNOWN_LENGTHS = (0, 0xFFFFFFFF)
_UNKNOWN_FRAMES = 1 << 40

Samples = npt.NDArray[np.int16]
Wave = npt.NDArray[np.float32]


# Faint noise, not digital zero: of 200 tightly cut digits it brought 195, zeros 192 (own
# measurement; unpadded 133).
_QUIET_LEVEL = 8.0


def quiet(samples: int) -> Samples:
    """So many samples of a quiet room, the same each time."""
    return np.random.default_rng(0).normal(0.0, _QUIET_LEVEL, samples).astype(np.int16)


@dataclass(frozen=True, slots=True)
class Sound:
    """`samples` has the shape (channels, n), 16 kHz; `note` says what was done to get there."""

    samples: Samples
    note: str | None

    @property
    def duration_s(self) -> float:
        return float(self.samples.shape[1]) / SAMPLE_RATE_HZ


def read_sound(path: Path) -> Sound:
    """Read a sound file (WAV, FLAC, AIFF, OGG and what else libsndfile reads).

    Raises SoundError, a sentence naming file and remedy, when it is missing, empty, cut off, no
    sound, or has more than two channels.
    """
    if not path.is_file():
        raise SoundError(f"There is no sound file {path}; check its name.")
    if path.stat().st_size == 0:
        raise SoundError(f"{path} is empty; record it again.")
    try:
        opened = soundfile.SoundFile(str(path))
    except soundfile.SoundFileError as error:
        raise SoundError(_unreadable(path, error)) from error
    with opened:
        rate, promised = int(opened.samplerate), int(opened.frames)
        _refuse_channels(path, opened.channels)
        frames = _read(path, opened)
    if found_short := _shorter_than_promised(path, promised, len(frames)):
        raise SoundError(found_short)
    if len(frames) == 0:
        raise SoundError(f"{path} holds no sound; record it again.")
    return _at_our_rate(frames, rate)


def _read(path: Path, opened: soundfile.SoundFile) -> Samples | Wave:
    """Frames by channels; as they are where nothing needs to be computed."""
    exact = opened.samplerate == SAMPLE_RATE_HZ and opened.subtype == "PCM_16"
    try:
        frames: Samples | Wave = opened.read(dtype="int16" if exact else "float32", always_2d=True)
    except soundfile.SoundFileError as error:
        raise SoundError(f"{path} is cut off or damaged; copy or record it again.") from error
    return frames


def _at_our_rate(frames: Samples | Wave, rate: int) -> Sound:
    if frames.dtype == np.int16:
        return Sound(np.ascontiguousarray(frames.T, dtype=np.int16), None)
    heard: Wave = frames.astype(np.float32, copy=False)
    if rate != SAMPLE_RATE_HZ:
        heard = soxr.resample(heard, rate, SAMPLE_RATE_HZ)
    scaled = np.clip(np.rint(heard * _FULL_SCALE), -_FULL_SCALE - 1, _FULL_SCALE)
    return Sound(np.ascontiguousarray(scaled.T.astype(np.int16)), _rate_note(rate))


def _rate_note(rate: int) -> str | None:
    if rate == SAMPLE_RATE_HZ:
        return None
    if rate < SAMPLE_RATE_HZ:
        return f"brought up from {rate / 1000:g} kHz: hissing sounds are missing from it"
    return f"brought down from {rate / 1000:g} kHz"


def _refuse_channels(path: Path, channels: int) -> None:
    if channels > MOST_CHANNELS:
        raise SoundError(
            f"{path} has {channels} channels; keep one, or two with one person on each."
        )


def _unreadable(path: Path, error: Exception) -> str:
    if _container_is_cut(path):
        return f"{path} is cut off; copy or record it again."
    reason = str(error).rsplit(": ", maxsplit=1)[-1].rstrip(".")
    return f"{path} is not a sound file that can be read ({reason}); use WAV or FLAC."


def _shorter_than_promised(path: Path, promised: int, found: int) -> str | None:
    if found < promised < _UNKNOWN_FRAMES or _container_is_cut(path):
        return f"{path} is cut off: it holds less sound than it says; copy or record it again."
    return None


def _container_is_cut(path: Path) -> bool:
    """Whether a WAV or AIFF file ends before the chunk of samples that it announces.

    The library takes such a file for a shorter one and says nothing.
    """
    with path.open("rb") as file:
        head = file.read(12)
        if head[:4] == b"RIFF" and head[8:] == b"WAVE":
            return _chunk_is_cut(file, b"data", "<I")
        if head[:4] == b"FORM" and head[8:] in (b"AIFF", b"AIFC"):
            return _chunk_is_cut(file, b"SSND", ">I")
    return False


def _chunk_is_cut(file: BinaryIO, wanted: bytes, number: str) -> bool:
    at = file.tell()
    end = file.seek(0, 2)
    while at + 8 <= end:
        file.seek(at)
        name = file.read(4)
        (length,) = struct.unpack(number, file.read(4))
        if name == wanted:
            return length not in _UNKNOWN_LENGTHS and at + 8 + length > end
        at += 8 + length + length % 2
    return True
