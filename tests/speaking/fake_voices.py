"""Voices for tests, made in the speaking child like real ones."""

from __future__ import annotations

import os
import time

import numpy as np

from voicelist.speaking.voices import SpeakingVoice, VoiceChoice

RATE_HZ = 8_000
SECONDS_A_WORD = 0.25


def choice(name: str, argument: str | None = None) -> VoiceChoice:
    return VoiceChoice(name, f"{__name__}:{name}", argument)


def steady(argument: str | None, rate: float) -> SpeakingVoice:
    """A hum of a quarter of a second for each word; some words make it misbehave."""
    return _Steady()


def paced(argument: str | None, rate: float) -> SpeakingVoice:
    """As `steady`, at the pace that it was made with."""
    voice = _Steady()
    voice.rate = rate
    return voice


def refusing(argument: str | None, rate: float) -> SpeakingVoice:
    raise RuntimeError("no larynx")


def stillborn(argument: str | None, rate: float) -> SpeakingVoice:
    os.abort()


def logging_texts(path: str | None, rate: float) -> SpeakingVoice:
    """As `steady`; writes each text it renders to a file."""
    assert path is not None
    voice = _Steady()
    voice.log = path
    return voice


class _Steady:
    name, engine = "steady", "fake"
    log: str | None = None
    rate = 1.0

    def render(self, text: str) -> tuple[np.ndarray, int]:
        if self.log:
            with open(self.log, "a") as file:
                file.write(f"{text}\n")
        if "hang" in text:
            time.sleep(3600)
        if "crash" in text:
            os.abort()
        if "raise" in text:
            raise RuntimeError("hoarse")
        if "nothing" in text:
            return np.zeros(RATE_HZ, np.int16), RATE_HZ
        count = round(SECONDS_A_WORD * RATE_HZ * len(text.split()) / self.rate)
        hum = 8_000 * np.sign(np.sin(2 * np.pi * 200 * (np.arange(count) + 0.5) / RATE_HZ))
        return hum.astype(np.int16), RATE_HZ
