"""All that was said, as one sound file that stays readable even if the program is killed.

A WAV header gives the length in bytes and is brought up to date after each piece. A FLAC stream is
written in frames of fixed length, and its header may give the number of samples (RFC 9639, section
8.2: 36 bits that end at byte 26 of the file); that number is set after each piece to the frames
that are complete. The gap after each piece is longer than a frame, so what was said is complete.
"""

from __future__ import annotations

import wave
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

import soundfile

from voicelist.errors import SoundError, UsageError
from voicelist.speaking.speech import BYTES_A_SAMPLE, RATE_HZ, Sound, silence

GAP_S = 0.4
_FLAC_FRAME = 4096
_FLAC_COUNT_AT = 21


class _Writer(Protocol):
    def add(self, pcm: bytes) -> None: ...

    def close(self) -> None: ...


class _Wav:
    def __init__(self, path: Path) -> None:
        self._file = path.open("wb")
        self._wave = wave.Wave_write(self._file)
        self._wave.setnchannels(1)
        self._wave.setsampwidth(BYTES_A_SAMPLE)
        self._wave.setframerate(RATE_HZ)
        self.add(b"")

    def add(self, pcm: bytes) -> None:
        self._wave.writeframes(pcm)
        self._file.flush()

    def close(self) -> None:
        self._wave.close()
        self._file.close()


class _Flac:
    def __init__(self, path: Path) -> None:
        self._path = path
        self._file = soundfile.SoundFile(str(path), "w", RATE_HZ, 1, subtype="PCM_16")
        self._written = 0

    def add(self, pcm: bytes) -> None:
        self._file.buffer_write(pcm, dtype="int16")
        self._file.flush()
        self._written += len(pcm) // BYTES_A_SAMPLE
        # The encoder holds the last frame back until one more sample has come.
        self._set_length((self._written - 1) // _FLAC_FRAME * _FLAC_FRAME)

    def _set_length(self, samples: int) -> None:
        with self._path.open("r+b") as header:
            header.seek(_FLAC_COUNT_AT)
            bits_before = header.read(1)[0] & 0xF0
            header.seek(_FLAC_COUNT_AT)
            header.write(bytes([bits_before | samples >> 32]) + (samples & 0xFFFFFFFF).to_bytes(4))

    def close(self) -> None:
        if self._written == 0:  # the encoder writes no header, and so no FLAC, for no samples
            self.add(silence(GAP_S).pcm)
        self._file.close()


class VoiceFile:
    """Writes 16 kHz mono; `.wav` or `.flac` by the file's suffix.

    Raises UsageError for another suffix, SoundError when the file cannot be written.
    """

    def __init__(self, path: Path) -> None:
        kinds: dict[str, Callable[[Path], _Writer]] = {".wav": _Wav, ".flac": _Flac}
        kind = kinds.get(path.suffix.lower())
        if kind is None:
            raise UsageError(f"{path}: the voice can be written as .wav or .flac; change the name.")
        self.path = path
        self.seconds = 0.0
        try:
            self._writer = kind(path)
        except (OSError, soundfile.SoundFileError) as error:
            raise SoundError(f"The voice cannot be written to {path} ({error}).") from error

    def add(self, sound: Sound, gap_s: float = GAP_S) -> None:
        """Append what was said and the gap after it. Raises SoundError if that fails."""
        try:
            self._writer.add(sound.pcm + silence(gap_s).pcm)
        except (OSError, soundfile.SoundFileError) as error:
            raise SoundError(f"The voice could not be written to {self.path} ({error}).") from error
        self.seconds += sound.seconds + gap_s

    def close(self) -> None:
        self._writer.close()
