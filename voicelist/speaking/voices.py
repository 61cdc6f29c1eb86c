"""Which voices there are, and which one speaks.

A voice is chosen here, cheaply, and made in the speaking child by `VoiceChoice.make`: the libraries
behind it are never loaded into the program that keeps the record.
"""

from __future__ import annotations

import importlib
import importlib.util
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from voicelist.child import ChildEnd, ask_once, hush
from voicelist.errors import MissingPart, UsageError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

SLOWEST, FASTEST = 0.5, 2.0
_ADAPTERS = "voicelist.speaking.adapters"
_NAMES_SHOWN = 12


class SpeakingVoice(Protocol):
    """Something that turns text into sound. `engine` is the software, `name` the voice in it."""

    name: str
    engine: str

    def render(self, text: str) -> tuple[npt.NDArray[np.int16], int]:
        """Mono samples and their rate in Hz. May raise, hang or crash; it is run in a child."""


@dataclass(frozen=True, slots=True)
class VoiceChoice:
    """A voice by name, and the function that makes it: `module:function(argument, rate)`."""

    name: str
    factory: str
    argument: str | None = None

    @property
    def is_silent(self) -> bool:
        return not self.factory

    def make(self, rate: float) -> SpeakingVoice:
        """The voice itself, to be called in the child; `rate` 1.0 is the usual pace."""
        module, _, function = self.factory.partition(":")
        maker: Callable[[str | None, float], SpeakingVoice] = getattr(
            importlib.import_module(module), function
        )
        return maker(self.argument, rate)


@dataclass(frozen=True, slots=True)
class VoiceListing:
    """One line of the list of voices: what to give to `--voice`, and what that is."""

    name: str
    about: str


AUTOMATIC = VoiceChoice("automatic", f"{_ADAPTERS}:first_that_starts")
HIBARI = VoiceChoice("hibari", f"{_ADAPTERS}:hibari")
SYSTEM = VoiceChoice("system", f"{_ADAPTERS}:system")
SILENT = VoiceChoice("none", "")


def voice_named(name: str | None) -> VoiceChoice:
    """The voice for `--voice NAME`; without a name the first that starts: hibari, system, none.

    Raises UsageError, a sentence with the choices, for a name that is no voice; MissingPart for a
    voice whose software is not installed.
    """
    if name is None:
        return AUTOMATIC
    family, _, which = name.strip().partition(":")
    match family.lower(), which.lower():
        case "none", "":
            return SILENT
        case "hibari", "" | "heart":
            _demand("hibari", "hibari-tts")
            return HIBARI
        case "hibari", other:
            raise UsageError(
                f"The voice {other} of hibari would have to be downloaded, and voicelist works"
                " offline; use --voice hibari, whose voice heart is installed with it."
            )
        case "system", "":
            _demand("pyttsx3", "pyttsx3")
            return SYSTEM
        case "system", voice_id:
            _demand("pyttsx3", "pyttsx3")
            return _system_voice(voice_id)
    raise UsageError(f"There is no voice {name}; choose hibari, system, system:ID or none.")


def list_voices() -> tuple[VoiceListing, ...]:
    """Every voice that `--voice` takes here, the one used without a name first."""
    found = []
    if _installed("hibari"):
        found.append(VoiceListing("hibari", "neural voice heart, American English"))
    ids = system_voice_ids()
    if ids:
        found.append(VoiceListing("system", "the system's voice for American English"))
    found.extend(VoiceListing(f"system:{one}", "a voice of the system") for one in ids)
    return (*found, VoiceListing("none", "no voice; text only"))


def system_voice_ids() -> tuple[str, ...]:
    """The identifiers of the system's voices; empty where there is no system voice."""
    if not _installed("pyttsx3"):
        return ()
    answer = ask_once("list of voices", _tell_system_voices)
    return answer if isinstance(answer, tuple) else ()


def _tell_system_voices(end: ChildEnd) -> None:
    hush()
    adapters: Any = importlib.import_module(_ADAPTERS)
    end.send(adapters.system_voice_ids())


def _system_voice(voice_id: str) -> VoiceChoice:
    ids = system_voice_ids()
    known = {one.lower(): one for one in ids}
    if voice_id not in known:
        english = [one for one in ids if "en" in re.split(r"[/_-]", one.lower())]
        shown = ", ".join(english[:_NAMES_SHOWN]) or "none is installed"
        raise UsageError(
            f"There is no system voice {voice_id}; English ones here: {shown}."
            " `voicelist devices` lists all; or choose hibari, system or none."
        )
    return VoiceChoice(f"system:{voice_id}", SYSTEM.factory, known[voice_id])


def _installed(module: str) -> bool:
    return importlib.util.find_spec(module) is not None


def _demand(module: str, package: str) -> None:
    if not _installed(module):
        raise MissingPart(f"The voice needs the package {package}; run: pip install {package}")
