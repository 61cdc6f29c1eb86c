"""The voices of a team that is heard: each line spoken by a speech program, as its microphone has
it."""

from __future__ import annotations

import importlib
import sys
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import soxr

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples

FOLDER = Path(__file__).resolve().parents[2] / "audio_fixtures_synthetic"
# Voices of the product's own package and of the optional programs that DEVELOPERS.md names.
NURSES = ("heart", "slt", "en-gb", "awb")
SURGEONS = ("en-us", "rms", "en-gb-x-rp", "heart")
# Asked again, people speak more slowly; project choice.
_SLOWLY = 0.88
_SLOWLY_OPTIONS = {
    "espeak-ng": ("-s", "125"),
    "flite": ("--setf", f"duration_stretch={1 / _SLOWLY:.2f}"),
}
_FULL_SCALE = 32_767


def _neighbours() -> tuple[Any, Any]:
    """The scripts of the test sound, which are no package."""
    sys.path.insert(0, str(FOLDER))
    try:
        return importlib.import_module("voices"), importlib.import_module("sound")
    finally:
        sys.path.remove(str(FOLDER))


@dataclass(slots=True)
class Speech:
    """Speaks; what was spoken once is kept. `missing` are voices that are not installed here."""

    missing: set[str] = field(default_factory=set)
    _voices: Any = field(init=False)
    _sound: Any = field(init=False)
    _said: dict[tuple[str, str, bool], Any] = field(default_factory=dict)
    _hibari: dict[float, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._voices, self._sound = _neighbours()

    def first_of(self, names: tuple[str, ...], number: int) -> str:
        """The voice whose turn it is, or the next one that is installed. Raises LookupError."""
        for step in range(len(names)):
            name = names[(number + step) % len(names)]
            if name not in self.missing and self._can(name):
                return name
        raise LookupError("no speech program is installed: espeak-ng or hibari")

    def _can(self, name: str) -> bool:
        try:
            self._spoken(name, "hello", slowly=False)
        except (self._voices.EngineMissingError, ImportError):
            self.missing.add(name)
            return False
        return True

    def samples(self, name: str, text: str, snr_dB: float | None, *, slowly: bool) -> Samples:
        """A line as a close microphone gives it: level, edges and noise as in the test sound."""
        said = self._spoken(name, text, slowly=slowly)
        seed = zlib.crc32(f"{name} {text}".encode())
        clip = self._sound.clip_of(said, snr_dB, seed)
        return np.asarray(np.round(np.clip(clip, -1.0, 1.0) * _FULL_SCALE), dtype=np.int16)

    def _spoken(self, name: str, text: str, *, slowly: bool) -> Any:
        key = (name, text, slowly)
        if key not in self._said:
            voice = self._voices.VOICES[name]
            if voice.engine.name == "hibari":
                self._said[key] = self._by_hibari(text, _SLOWLY if slowly else 1.0)
            else:
                if slowly:
                    voice = replace(
                        voice, options=(*voice.options, *_SLOWLY_OPTIONS[voice.engine.name])
                    )
                self._said[key] = self._voices.say(voice, text)
        return self._said[key]

    def _by_hibari(self, text: str, rate: float) -> Any:
        """The product's own voice, loaded once: it takes seconds to start."""
        from voicelist.speaking.adapters import hibari

        if rate not in self._hibari:
            self._hibari[rate] = hibari(None, rate)
        samples, rate_Hz = self._hibari[rate].render(text)
        return soxr.resample(samples.astype(np.float64) / _FULL_SCALE, rate_Hz, SAMPLE_RATE_HZ)
