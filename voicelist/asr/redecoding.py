"""The same sound heard once more: the voice and the room are known from its first word on, and it
may be slower or faster.

The recogniser learns how a voice sounds while it listens, so it knows least about the first words.
What is doubtful at one speed is often plain at another; what is said there in truth stays the same.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import soxr

from voicelist.asr.edges import loudness_of, with_edges
from voicelist.asr.recogniser import Alternatives, HearingGrammar, Recogniser
from voicelist.asr.utterance import Alternative, Utterance
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import quiet

# One after the other, as long as there is need; project choice, measured on orders in noise
# (tests/benchmarks/orders.py).
SPEEDS = (1.0, 0.95, 1.05, 0.9, 1.1)
_PIECE_SAMPLES = 1_600


@dataclass(frozen=True, slots=True)
class Past:
    """The sound of an utterance that was decided, and under what; so many samples of `quiet` are
    put before and behind it."""

    grammar: HearingGrammar
    samples: Samples
    first_sample: int
    quiet: tuple[int, int]

    def fed(self) -> Samples:
        """With the quiet around it."""
        before, behind = self.quiet
        return np.concatenate([quiet(before), self.samples, quiet(behind)])


def heard_again(
    recogniser: Recogniser,
    heard: Utterance,
    past: Past,
    speed: float,
    beat: Callable[[], None] = lambda: None,
) -> Utterance:
    """An utterance heard once more."""
    first_sample = past.first_sample - past.quiet[0]
    looks = look_again(recogniser, past.grammar, past.fed(), first_sample, speed, beat)
    speech = (heard.start_sample, heard.end_sample)
    levels = loudness_of(past.samples)
    first, second = (with_edges(one, levels, past.first_sample, speech) for one in looks)
    return dataclasses.replace(heard, alternatives=first, second_look=second)


def look_again(
    recogniser: Recogniser,
    grammar: HearingGrammar,
    samples: Samples,
    first_sample: int,
    speed: float,
    beat: Callable[[], None] = lambda: None,
) -> tuple[Alternatives, Alternatives]:
    """Alternatives of both looks, as `Look.finish` gives them. `samples` are all that was fed, the
    first at position `first_sample`."""
    heard = _at_speed(samples, speed)
    look = recogniser.look(grammar)
    # Somebody waits for this.
    with ThreadPoolExecutor() as pool:
        for once_more in (False, True):
            if once_more:
                look.begin_again()
            for at in range(0, len(heard), _PIECE_SAMPLES):
                look.feed(heard[at : at + _PIECE_SAMPLES], pool)
                beat()
    first, second, _ = look.finish(0)
    begin_s = first_sample / SAMPLE_RATE_HZ
    return _as_it_was(first, begin_s, speed), _as_it_was(second, begin_s, speed)


def _at_speed(samples: Samples, speed: float) -> Samples:
    if speed == 1.0:
        return samples
    wave = soxr.resample(samples.astype(np.float32), SAMPLE_RATE_HZ * speed, SAMPLE_RATE_HZ)
    limits = np.iinfo(np.int16)
    slower: Samples = np.clip(np.rint(wave), limits.min, limits.max).astype(np.int16)
    return slower


def _as_it_was(alternatives: Alternatives, begin_s: float, speed: float) -> Alternatives:
    """With the times of the words in the sound as it was said."""
    return tuple(_placed(one, begin_s, speed) for one in alternatives)


def _placed(one: Alternative, begin_s: float, speed: float) -> Alternative:
    words = tuple(
        dataclasses.replace(
            word,
            start_s=begin_s + word.start_s * speed,
            end_s=begin_s + word.end_s * speed,
        )
        for word in one.words
    )
    return dataclasses.replace(one, words=words)
