"""The voices themselves, each behind the interface `Voice`. Imported in the speaking child only.

hibari (a neural voice in the package, no download) is the usual one; pyttsx3 speaks with whatever
voice the system has, on Debian espeak-ng.
"""

from __future__ import annotations

import gc
import importlib
import logging
import tempfile
import threading
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

from voicelist.child import give_memory_back
from voicelist.inference import frugal_session
from voicelist.speaking.voices import SpeakingVoice

_log = logging.getLogger(__name__)

_FULL_SCALE = 32767
_WORDS_A_MINUTE = 165
_PREFERRED_IDS = ("en-us", "en_us")
_SAVED_WITHIN_S = 10.0  # the parent's deadline comes first
_WARM_UP = "Ready with zyzzyvian."

Samples = npt.NDArray[np.int16]


def hibari(voice: str | None, rate: float) -> SpeakingVoice:
    """The neural voice heart; `voice` is not used, as only heart needs no download."""
    return _Hibari(rate)


def system(voice_id: str | None, rate: float) -> SpeakingVoice:
    """The system voice of that identifier, or the one for American English."""
    return _System(voice_id, rate)


def first_that_starts(_: str | None, rate: float) -> SpeakingVoice:
    """hibari, or else the system's voice. Raises what the last one raised if neither starts."""
    try:
        return _Hibari(rate)
    except Exception as error:
        _log.warning("the voice hibari does not start: %s", error)
        return _System(None, rate)


class _Hibari:
    name, engine = "heart", "hibari"

    def __init__(self, rate: float) -> None:
        import hibari as package

        self._voice: Any = package.Hibari(threads=1)
        self._voice.sess = frugal_session(self._voice.model_path)
        self._rate = rate
        # Loads dictionaries and the model for unknown words now rather than at the first call.
        self.render(_WARM_UP)
        gc.collect()

    def render(self, text: str) -> tuple[Samples, int]:
        # The seed makes the same text the same sound every time.
        wave = self._voice(text, speed=self._rate, seed=0)
        samples = np.round(np.clip(wave, -1.0, 1.0) * _FULL_SCALE).astype(np.int16)
        give_memory_back()
        return samples, int(self._voice.sample_rate)


class _System:
    engine = "system"

    def __init__(self, voice_id: str | None, rate: float) -> None:
        self._engine: Any = _engine()
        self._voice_id = voice_id or _preferred(self._engine)
        self._words_a_minute = round(_WORDS_A_MINUTE * rate)
        self.name = self._voice_id or "default"

    def render(self, text: str) -> tuple[Samples, int]:
        # A fresh engine for each text: on some systems an engine runs only once. The old one is let
        # go of first, because its end would switch the new one's output off.
        self._engine = None
        gc.collect()
        self._engine = _engine()
        if self._voice_id:
            self._engine.setProperty("voice", self._voice_id)
        self._engine.setProperty("rate", self._words_a_minute)
        with tempfile.TemporaryDirectory(prefix="voicelist-") as folder:
            path = Path(folder) / "speech.wav"
            self._save(text, path)
            samples, rate = soundfile.read(path, dtype="int16", always_2d=True)
        return np.ascontiguousarray(samples[:, 0]), int(rate)

    def _save(self, text: str, path: Path) -> None:
        """Write the file and wait until it is whole: the run loop of espeak comes back after 10 ms,
        while espeak still speaks in a thread of its own."""
        finished = threading.Event()
        self._engine.connect("finished-utterance", lambda **_: finished.set())
        self._engine.save_to_file(text, str(path))
        self._engine.runAndWait()
        if self._engine.driver_name == "espeak" and not finished.wait(_SAVED_WITHIN_S):
            raise TimeoutError(f"the system's voice took over {_SAVED_WITHIN_S:g} s")


def system_voice_ids() -> tuple[str, ...]:
    """What the system has; empty if its voice does not start."""
    try:
        return tuple(voice.id for voice in _engine().getProperty("voices"))
    except Exception as error:
        _log.info("the system's voice does not start: %s", error)
        return ()


def _engine() -> Any:
    return importlib.import_module("pyttsx3.engine").Engine()


def _preferred(engine: Any) -> str | None:
    """American English, as the shipped sentences are; None leaves the engine's own default."""
    ids = [str(voice.id) for voice in engine.getProperty("voices")]
    return next((one for one in ids if one.lower().endswith(_PREFERRED_IDS)), None) or next(
        (one for one in ids if any(wanted in one.lower() for wanted in _PREFERRED_IDS)), None
    )
