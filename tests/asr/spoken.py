"""Speech made on the fly, and small grammars to hear it with."""

from __future__ import annotations

import functools
import time
from dataclasses import dataclass

import numpy as np
import soxr
from hibari import Hibari

from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.samples import Samples

SENTENCES = (
    "irrigation line firm",
    "irrigation line loose",
    "aspiration line firm",
    "vacuum three fifty",
    "vacuum three fifty five",
    "bottle height ninety",
    "the left eye is marked",
    "the right eye is marked",
    "hold on please",
    "tip and sleeve are tight",
)
TURNED = (
    "irrigation line not firm",
    "is the irrigation line firm",
    "the left eye will be marked",
)
PATIENCE_S = 60.0
FILLERS = ("the", "a", "not", "is", "it", "and", "please", "[unk]")


@dataclass(frozen=True)
class Sentences:
    """A grammar of whole sentences."""

    sentences: tuple[str, ...] = SENTENCES
    turned: tuple[str, ...] = TURNED

    def phrase_list(self) -> tuple[str, ...]:
        return (*self.sentences, *FILLERS)

    def second_phrase_list(self) -> tuple[str, ...]:
        return (*self.phrase_list(), *self.turned) if self.turned else ()

    def can_grow(self, words: tuple[str, ...]) -> bool:
        split = (tuple(sentence.split()) for sentence in self.sentences)
        return any(len(s) > len(words) and s[: len(words)] == words for s in split)


@functools.cache
def _voice() -> Hibari:
    return Hibari()


@functools.cache
def say(text: str, speed: float = 1.0) -> Samples:
    """The text as 16 kHz samples, without silence at its edges."""
    wave = _voice()(f"{text}.", speed=speed, seed=1)
    heard = soxr.resample(wave, _voice().sample_rate, 16_000)
    loud = np.flatnonzero(np.abs(heard) > 0.01)
    return (np.clip(heard[loud[0] : loud[-1] + 1], -1, 1) * 32767).astype(np.int16)


def silence(seconds: float, level: float = 8.0, seed: int = 7) -> Samples:
    """A quiet room: faint noise, not digital zero."""
    noise = np.random.default_rng(seed).normal(0, level, int(seconds * 16_000))
    return noise.astype(np.int16)


def with_silence(speech: Samples, before_s: float = 0.6, after_s: float = 1.0) -> Samples:
    return np.concatenate([silence(before_s), speech, silence(after_s)])


def texts(utterance: DecodedUtterance) -> list[str]:
    return [alternative.text for alternative in utterance.passes.first]


def heard_by(process: RecogniserProcess, sound: Samples, channel: int = 0) -> DecodedUtterance:
    """The first utterance that another process hears in a sound."""
    process.feed(channel, sound, 0)
    give_up_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < give_up_s:
        told = process.poll(0.1)
        if isinstance(told, DecodedUtterance):
            return told
    raise AssertionError("nothing was heard")
