"""Sound files, brought to what the recogniser hears: 16 kHz, 16-bit, one or two channels."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.errors import SoundError
from voicelist.reading import NotReadable, refuse_no_file

MOST_CHANNELS = 2
_FULL_SCALE = 32767.0
_BEYOND = 8.0
# Lengths written by programs that did not know the length when they began.
_UNKNOWN_LENGTHS = (0, 0xFFFFFFFF)
_UNKNOWN_FRAMES = 1 << 40

Wave = npt.NDArray[np.float32]


# Faint noise, not digital zero: of 200 tightly cut digits it brought 195, zeros 192 (own
# measurement; unpadded 133).
_QUIET_LEVEL = 8.0


def quiet(samples: int) -> Samples:
    """So many samples of a quiet room, the same each time."""
    return np.random.default_rng(0).normal(0.0, _QUIET_LEVEL, samples).astype(np.int16)


@dataclass(frozen=True, slots=True)
class SoundLimits:
    """Which sound files are heard. Project choice: more hours than a day in theatre has, and the
    rates of telephones and of studios; below and above them a few bytes stand for hours."""

    hours: float = 12.0
    # One file taken as one utterance is held in memory, and heard several times.
    utterance_minutes: float = 5.0
    channels: int = MOST_CHANNELS
    lowest_rate_hz: int = 8_000
    highest_rate_hz: int = 192_000


LIMITS = SoundLimits()
_BLOCK_S = 1


@dataclass(frozen=True, slots=True)
class FileSound:
    """`samples` has the shape (channels, n), 16 kHz; `note` says what was done to get there."""

    samples: Samples
    note: str | None

    @property
    def duration_s(self) -> float:
        return float(self.samples.shape[1]) / SAMPLE_RATE_HZ


@dataclass(frozen=True, slots=True)
class SoundFile:
    """A sound file that was looked through and can be heard, `frames` of them at its own rate."""

    path: Path
    channels: int
    rate_hz: int
    frames: int

    @property
    def duration_s(self) -> float:
        return self.frames / self.rate_hz

    def blocks(self) -> Iterator[Samples]:
        """Its samples, shape (channels, n), 16 kHz, about a second at a time: however long it is,
        one block is in memory. Raises SoundError."""
        with _opened(self.path) as opened:
            frames = _frames(self.path, opened)
            if opened.samplerate == SAMPLE_RATE_HZ:
                yield from (_as_samples(one) for one in frames)
                return
            ours = soxr.ResampleStream(
                opened.samplerate, SAMPLE_RATE_HZ, self.channels, dtype="float32"
            )
            for one in frames:
                yield _as_samples(ours.resample_chunk(one))
            yield _as_samples(ours.resample_chunk(_nothing(self.channels), last=True))


def look_through(path: Path, limits: SoundLimits = LIMITS) -> SoundFile:
    """Reads a sound file (WAV, FLAC, AIFF, OGG and what else libsndfile reads) to its end, a block
    at a time.

    Raises SoundError, a sentence naming file and remedy, when it is missing, empty, cut off, no
    sound, goes beyond the limits, or holds what is no number.
    """
    try:
        refuse_no_file(path, "a sound file")
        empty = path.stat().st_size == 0
    except NotReadable as error:
        if not path.exists():
            raise SoundError(f"There is no sound file {path}; check its name.") from error
        raise SoundError(str(error)) from error
    if empty:
        raise SoundError(f"{path} is empty; record it again.")
    with _opened(path) as opened:
        rate, promised = int(opened.samplerate), int(opened.frames)
        _refuse_kind(path, opened, limits)
        most = int(limits.hours * 3600 * rate)
        if most < promised < _UNKNOWN_FRAMES:
            raise SoundError(_too_long(path, limits))
        found = 0
        for block in _frames(path, opened):
            found += len(block)
            if found > most:
                raise SoundError(_too_long(path, limits))
        channels = int(opened.channels)
    if found_short := _shorter_than_promised(path, promised, found):
        raise SoundError(found_short)
    if found == 0:
        raise SoundError(f"{path} holds no sound; record it again.")
    return SoundFile(path, channels, rate, found)


def read_sound(path: Path, limits: SoundLimits = LIMITS) -> FileSound:
    """A sound file that is taken as one utterance, whole. Raises SoundError as `look_through`, and
    for one that is too long for that."""
    looked = look_through(path, limits)
    if looked.duration_s > 60 * limits.utterance_minutes:
        raise SoundError(
            f"{path} is {looked.duration_s / 60:.0f} minutes long, more than the "
            f"{limits.utterance_minutes:g} of one utterance; have its utterances found with "
            "`voicelist hear --stream`."
        )
    samples = np.ascontiguousarray(np.concatenate(list(looked.blocks()), axis=1))
    return FileSound(samples, _rate_note(looked.rate_hz))


def _opened(path: Path) -> soundfile.SoundFile:
    try:
        opened = soundfile.SoundFile(str(path))
    except (TypeError, ValueError) as error:  # what the library says of headerless formats
        raise SoundError(_headerless(path)) from error
    except soundfile.SoundFileError as error:
        raise SoundError(_unreadable(path, error)) from error
    if opened.format == "RAW":  # taken for such by the ending of its name
        opened.close()
        raise SoundError(_headerless(path))
    return opened


def _frames(path: Path, opened: soundfile.SoundFile) -> Iterator[Samples | Wave]:
    """Blocks of frames by channels; as they are where nothing needs to be computed."""
    exact = opened.samplerate == SAMPLE_RATE_HZ and opened.subtype == "PCM_16"
    kind = "int16" if exact else "float32"
    from_s = 0
    while True:
        try:
            frames = opened.read(_BLOCK_S * opened.samplerate, dtype=kind, always_2d=True)
        except soundfile.SoundFileError as error:
            raise SoundError(f"{path} is cut off or damaged; copy or record it again.") from error
        if not len(frames):
            return
        if not np.isfinite(frames).all():
            raise SoundError(_no_numbers(path, from_s))
        from_s += _BLOCK_S
        # Beyond full scale is cut off in any case; huge numbers would spoil what is beside them.
        yield frames if exact else np.clip(frames, -_BEYOND, _BEYOND)


def _nothing(channels: int) -> Wave:
    return np.zeros((0, channels), np.float32)


def _as_samples(frames: Samples | Wave) -> Samples:
    """Frames by channels as 16-bit samples, channels first."""
    if frames.dtype == np.int16:
        return np.ascontiguousarray(frames.T, dtype=np.int16)
    scaled = np.clip(np.rint(frames * _FULL_SCALE), -_FULL_SCALE - 1, _FULL_SCALE)
    return np.ascontiguousarray(scaled.T.astype(np.int16))


def _refuse_kind(path: Path, opened: soundfile.SoundFile, limits: SoundLimits) -> None:
    """Raises SoundError for what cannot be heard, before it is read."""
    rate = int(opened.samplerate)
    if opened.channels > limits.channels:
        raise SoundError(
            f"{path} has {opened.channels} channels; keep one, or two with one person on each."
        )
    if not limits.lowest_rate_hz <= rate <= limits.highest_rate_hz:
        lowest, highest = limits.lowest_rate_hz / 1000, limits.highest_rate_hz / 1000
        raise SoundError(
            f"{path} has {rate:,} samples a second; save it with {lowest:g} to {highest:g} kHz."
        )


def _headerless(path: Path) -> str:
    return f"{path} does not say its rate and channels; save it as WAV or FLAC."


def _too_long(path: Path, limits: SoundLimits) -> str:
    return f"{path} is longer than {limits.hours:g} hours; cut it into shorter files."


def _no_numbers(path: Path, from_s: int) -> str:
    at = f"from second {from_s} on"
    return f"{path} holds samples that are no numbers, {at}; record or convert it again."


def _rate_note(rate: int) -> str | None:
    if rate == SAMPLE_RATE_HZ:
        return None
    if rate < SAMPLE_RATE_HZ:
        return f"brought up from {rate / 1000:g} kHz: hissing sounds are missing from it"
    return f"brought down from {rate / 1000:g} kHz"


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
