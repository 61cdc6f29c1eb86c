"""Lines of plain speech, spoken by voices of four engines, clean and in noise.

The lines lie beside the checkout (`../shared/natural/answers.tsv`); the sound is made when it is
needed and kept in the cache, never in the repository. Which lines and voices are looked at during
development, and which lines are spoken in noise, follows from the words alone.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import soxr

from tests.benchmarks.harness.conditions import RATE_HZ, Samples, Wave
from tests.benchmarks.harness.fixtures import (
    VOICES,
    EngineMissingError,
    clip_of,
    say_each,
    write_flac,
)
from tests.benchmarks.harness.kept import kept_folder
from tests.benchmarks.harness.places import LINES
from voicelist.audio.sound_files import read_sound

# Looked at while the understanding was worked on; the others were left out until it was judged.
DEVELOPMENT_VOICES = ("heart", "en-us", "slt")
HELD_OUT_VOICES = ("joe", "en-gb-x-rp", "rms", "awb")
SNR_dB = 15.0
DEVELOPMENT, HELD_OUT, MIXED = "development", "held out", "half and half"


@dataclass(frozen=True, slots=True)
class Line:
    """What somebody says to an item, and what it should come to: `yes`, `no`, `neither`."""

    item: str
    kind: str
    text: str

    @property
    def held_out(self) -> bool:
        """Half of the lines, by their words."""
        return _chance(f"{self.item} {self.text}") % 2 == 1


@dataclass(frozen=True, slots=True)
class Clip:
    """A line spoken."""

    line: Line
    voice: str
    snr_dB: float | None

    @property
    def half(self) -> str:
        """What it is for: neither its voice nor its line was looked at where it is held out."""
        ways = (self.line.held_out, self.voice in HELD_OUT_VOICES)
        return HELD_OUT if all(ways) else MIXED if any(ways) else DEVELOPMENT

    @property
    def file(self) -> Path:
        """Where its sound is kept."""
        name = f"{_chance(self.line.text):08x}-{'clean' if self.snr_dB is None else 'noise'}.flac"
        return kept_folder() / "plain-speech" / self.voice / name


def lines() -> list[Line]:
    """Those that answer an item. Raises OSError where there are none."""
    rows = (row.split("\t") for row in LINES.read_text(encoding="utf-8").splitlines() if row)
    kinds = ("yes", "no", "neither")
    return [Line(item, kind, text) for item, kind, text, *_ in rows if kind in kinds]


def clips(said: Sequence[Line]) -> list[Clip]:
    """Each line in each voice, half of them in noise; in an order of chance, so that the first are
    a sample."""
    every = [
        Clip(line, voice, SNR_dB if _chance(f"{voice} {line.text}") & 1 else None)
        for line in said
        for voice in (*DEVELOPMENT_VOICES, *HELD_OUT_VOICES)
    ]
    return sorted(every, key=lambda one: _chance(f"{one.line.item} {one.line.text} {one.voice}"))


def make_missing(wanted: Sequence[Clip]) -> Iterator[str]:
    """Make the sound that is not there; tells of engines that are not."""
    for voice in dict.fromkeys(one.voice for one in wanted):
        missing = [one for one in wanted if one.voice == voice and not one.file.is_file()]
        try:
            _make(voice, missing)
        except EngineMissingError as error:
            yield f"{error} Left out: {len(missing)} sounds of the voice {voice}."


def sound_of(clip: Clip) -> Samples:
    """Its samples at 16 kHz."""
    samples: Samples = read_sound(clip.file).samples[0]
    return samples


def _make(voice: str, missing: Sequence[Clip]) -> None:
    texts = list(dict.fromkeys(one.line.text for one in missing))
    by_hibari = VOICES[voice].engine.name == "hibari"
    waves = map(_by_hibari, texts) if by_hibari else say_each(VOICES[voice], texts)
    for text, wave in zip(texts, waves, strict=True):
        for clip in (one for one in missing if one.line.text == text):
            fresh = clip.file.with_suffix(".fresh.flac")
            write_flac(fresh, clip_of(wave, clip.snr_dB, _chance(f"{voice} {text}")))
            fresh.replace(clip.file)


def _by_hibari(text: str) -> Wave:
    samples, rate_Hz = _hibari().render(text)
    return np.asarray(soxr.resample(samples.astype(np.float64) / 32_767, rate_Hz, RATE_HZ))


@cache
def _hibari() -> Any:
    """The product's own voice, loaded once: it takes seconds to start."""
    from voicelist.speaking.adapters import hibari

    return hibari(None, 1.0)


def _chance(text: str) -> int:
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big")
