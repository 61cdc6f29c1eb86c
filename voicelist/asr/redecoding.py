"""The same sound decoded again: the voice and the room are known from its first word on, and it may
be slower or faster.

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

from voicelist.asr.edges import passes_with_edges
from voicelist.asr.recogniser import PhraseLists, Recogniser
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import quiet
from voicelist.understanding.hypothesis import Hypothesis, NBest, Passes

_PIECE_SAMPLES = 1_600


@dataclass(frozen=True, slots=True)
class Past:
    """The sound of an utterance that was decided, and under what: its first sample stands at
    position `first_sample`, speech was found between the positions `speech`, and so many samples of
    `quiet` are put before and behind it."""

    grammar: PhraseLists
    samples: Samples
    first_sample: int
    speech: tuple[int, int]
    quiet: tuple[int, int]

    def fed(self) -> Samples:
        """With the quiet around it."""
        before, behind = self.quiet
        return np.concatenate([quiet(before), self.samples, quiet(behind)])


def decoded_again(
    recogniser: Recogniser, past: Past, speed: float, beat: Callable[[], None] = lambda: None
) -> Passes:
    """Both passes once more, at a speed."""
    fed_from = past.first_sample - past.quiet[0]
    both = both_passes_again(recogniser, past.grammar, past.fed(), fed_from, speed, beat)
    return passes_with_edges(*both, past.samples, past.first_sample, past.speech)


def both_passes_again(
    recogniser: Recogniser,
    grammar: PhraseLists,
    samples: Samples,
    first_sample: int,
    speed: float,
    beat: Callable[[], None] = lambda: None,
) -> tuple[NBest, NBest]:
    """The hypotheses of both passes, as `Look.finish` gives them. `samples` are all that was fed,
    the first at position `first_sample`."""
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


def _as_it_was(hypotheses: NBest, begin_s: float, speed: float) -> NBest:
    """With the times of the words in the sound as it was said."""
    return tuple(_placed(one, begin_s, speed) for one in hypotheses)


def _placed(one: Hypothesis, begin_s: float, speed: float) -> Hypothesis:
    spans_s = tuple(
        (begin_s + from_s * speed, begin_s + to_s * speed) for from_s, to_s in one.spans_s
    )
    return dataclasses.replace(one, spans_s=spans_s)
