"""What stands at the edges of an utterance: speech without a word, and words of the background.

The recogniser may take a short word before or behind a permitted sentence for noise; and from talk
in the background it makes words of its own. Where speech begins and ends is known from voice
activity; how loud it is tells whose it is.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.understanding.hypothesis import Hypothesis, NBest, Passes

# Own measurements: words left out lie from 2.9 dB below to 2.4 dB above the words heard, kitchen
# noise 6 dB below speech 4 to 15 dB below them.
_AS_LOUD_dB = -3.0
# Words of the background are so far below the loudest sound of the utterance, and no farther above
# its quietest. A speaker's own last word may be as faint (14 dB below), but in a quiet room the
# quietest is then far below it (45 dB), and under steady noise it stands out from that.
_FAINT_dB = -8.0
_ABOVE_ROOM_dB = 12.0
# So many seconds of speech around a sentence are talk in the background (95 of 100 orders had less
# in kitchen noise 6 dB below them, 95 of 100 more in the talk of eight 6 dB below them); in it
# words are faint, and speech is not meant for us, from here on.
_TALK_S = 2.0
_FAINT_IN_BABBLE_dB = -4.0
# A room is full of talk if it is never quieter than this below the words. There it is loud where
# the words stand out no farther from what surrounds them, elsewhere from the quietest of the sound.
# Measured on 296 orders: for 188 of them in the talk of eight 9 dB below them, 31 in talk 12 dB
# below, 58 in hum and hiss 12 dB below; in a kitchen for 35 at 6 dB, 6 at 9 dB, none at 12 dB.
_FULL_OF_BABBLE_dB = 20.0
_LOUD_BABBLE_dB = 9.5
_LOUD_ROOM_dB = 12.5
_AROUND_AT_LEAST_S = 0.3
# There, too, a voice goes on behind its last word where what comes next is no more than this part
# of the way down to what surrounds the words, and a hypothesis no farther behind the best has a
# word there (orders lose their end in talk: "with milk").
_GOES_ON = 0.6
_NEXT_S = 0.4
_BREATH_S = 0.04
_LIKELY_WORD = 3.0
# Words are hardly mistaken for others in a quiet room. Speech stands out by 38 dB and more from the
# floor of a quiet microphone, by 16 to 23 dB from noise 15 dB below it.
_QUIET_ROOM_dB = 30.0
_FRAME_SAMPLES = 320
_LOUD_PERCENTILE, _LOUDEST_PERCENTILE, _QUIETEST_PERCENTILE = 80.0, 95.0, 10.0

# The level of each 20 ms of a sound, in dB of one step of a sample.
Loudness = npt.NDArray[np.float64]
# The seconds at which a word begins and ends.
Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Sound:
    """The level of each 20 ms, in dB of one step of a sample, from `first_s` on; of its speech the
    bounds; the loudest and the quietest of it; where words of likely hypotheses begin."""

    levels: Loudness
    first_s: float
    speech_s: tuple[float, float]
    loudest: float
    quietest: float
    starts_s: frozenset[float]

    def loudness(self, from_s: float, to_s: float) -> float:
        """The level of the louder part of a stretch; far down where there is none."""
        first, end = self._frames(from_s, to_s)
        part = self.levels[first:end]
        return _percentile(part, _LOUD_PERCENTILE) if len(part) else -np.inf

    def _frames(self, from_s: float, to_s: float) -> tuple[int, int]:
        per_s = SAMPLE_RATE_HZ / _FRAME_SAMPLES
        first, end = (max(0, int((at - self.first_s) * per_s)) for at in (from_s, to_s))
        return first, end

    def is_faint(self, word: Span) -> bool:
        level = self.loudness(*word)
        return level - self.loudest <= _FAINT_dB and level - self.quietest <= _ABOVE_ROOM_dB

    def is_faint_in_babble(self, word: Span) -> bool:
        return self.loudness(*word) - self.loudest <= _FAINT_IN_BABBLE_dB

    def above_babble_dB(self, words: Sequence[Span], level: float) -> float | None:
        """How far words of this level stand out from what is heard before and behind them; None
        where that is not full of talk, or too short to tell."""
        first, end = self._frames(words[0][0], words[-1][1])
        around = np.concatenate([self.levels[:first], self.levels[end:]])
        long = len(around) * _FRAME_SAMPLES >= _AROUND_AT_LEAST_S * SAMPLE_RATE_HZ
        if not long or level - self.quietest > _FULL_OF_BABBLE_dB:
            return None
        return level - _percentile(around, _LOUD_PERCENTILE)

    def goes_on(self, end_s: float, level: float, above_babble_dB: float) -> bool:
        """Whether a voice of this level seems to go on behind its last word."""
        if not any(end_s <= at <= end_s + _NEXT_S for at in self.starts_s):
            return False
        next_s = end_s + _BREATH_S
        return level - self.loudness(next_s, next_s + _NEXT_S) <= above_babble_dB * _GOES_ON

    def around_s(self, words: Sequence[Span]) -> float:
        """Seconds of speech before and behind some words."""
        begin_s, end_s = self.speech_s
        return max(0.0, words[0][0] - begin_s) + max(0.0, end_s - words[-1][1])


def with_edges(
    hypotheses: NBest,
    levels: Loudness,
    first_sample: int,
    speech: tuple[int, int],
) -> NBest:
    """The hypotheses of one pass, each with what stands at its edges.

    `levels` begin at position `first_sample`; `speech` are the positions between which speech was
    found.
    """
    if not len(levels):
        return hypotheses
    quietest, loudest = _quietest_and_loudest(levels)
    first_s, begin_s, end_s = (at / SAMPLE_RATE_HZ for at in (first_sample, *speech))
    likely = [
        hypothesis
        for hypothesis in hypotheses
        if hypotheses[0].score - hypothesis.score < _LIKELY_WORD
    ]
    starts_s = frozenset(begins_s for hypothesis in likely for begins_s, _ in hypothesis.spans_s)
    speech_s = (begin_s, end_s)
    sound = _Sound(levels, first_s, speech_s, loudest, quietest, starts_s)
    return tuple(_with_edges(hypothesis, sound) for hypothesis in hypotheses)


def is_in_noise(levels: Loudness) -> bool:
    """Whether the loudest of a sound stands out little from its quietest."""
    if not len(levels):
        return False
    quietest, loudest = _quietest_and_loudest(levels)
    return loudest - quietest < _QUIET_ROOM_dB


def _with_edges(hypothesis: Hypothesis, sound: _Sound) -> Hypothesis:
    spans = hypothesis.spans_s
    if not spans:
        return hypothesis
    before, behind = _faint(spans, sound.is_faint_in_babble)
    loud = spans[before : len(spans) - behind]
    amid_babble = bool(loud) and sound.around_s(loud) >= _TALK_S
    if not amid_babble:
        before, behind = _faint(spans, sound.is_faint)
    own = spans[before : len(spans) - behind] or spans
    (begin_s, _), (_, end_s) = spans[0], spans[-1]
    least = sound.loudness(begin_s, end_s) + _AS_LOUD_dB
    if amid_babble:
        least = max(least, sound.loudest + _FAINT_IN_BABBLE_dB)
    before_s, behind_s = (
        max(0.0, to_s - from_s) if sound.loudness(from_s, to_s) >= least else 0.0
        for from_s, to_s in ((sound.speech_s[0], begin_s), (end_s, sound.speech_s[1]))
    )
    level = sound.loudness(own[0][0], own[-1][1])
    above_babble_dB = sound.above_babble_dB(own, level) if amid_babble else None
    if above_babble_dB is None:
        low_snr = level - sound.quietest <= _LOUD_ROOM_dB
    else:
        low_snr = above_babble_dB <= _LOUD_BABBLE_dB
        if sound.goes_on(end_s, level, above_babble_dB):
            behind_s = max(behind_s, _NEXT_S)
    return dataclasses.replace(
        hypothesis,
        before_s=before_s,
        behind_s=behind_s,
        background=(before, behind),
        amid_babble=amid_babble,
        low_snr=low_snr,
    )


def _faint(words: Sequence[Span], is_faint: Callable[[Span], bool]) -> tuple[int, int]:
    """How many words are faint at the beginning and at the end."""
    before, behind = (
        sum(1 for _ in itertools.takewhile(is_faint, edge)) for edge in (words, words[::-1])
    )
    return before, behind


def passes_with_edges(
    first: NBest, second: NBest, samples: Samples, first_sample: int, speech: tuple[int, int]
) -> Passes:
    """Both passes over `samples`, which begin at position `first_sample`, with what stands at the
    edges of each hypothesis, and whether they were in noise."""
    levels = loudness_of(samples)
    return Passes(
        with_edges(first, levels, first_sample, speech),
        with_edges(second, levels, first_sample, speech),
        is_in_noise(levels),
    )


def loudness_of(samples: Samples) -> Loudness:
    """How loud a sound is, from its beginning."""
    whole = len(samples) - len(samples) % _FRAME_SAMPLES
    frames = samples[:whole].astype(np.float64).reshape(-1, _FRAME_SAMPLES)
    levels: Loudness = 10.0 * np.log10(np.mean(frames**2, axis=1) + 1.0)
    return levels


def _quietest_and_loudest(levels: Loudness) -> tuple[float, float]:
    return _percentile(levels, _QUIETEST_PERCENTILE), _percentile(levels, _LOUDEST_PERCENTILE)


def _percentile(levels: Loudness, percent: float) -> float:
    """As numpy has it, which takes twenty times as long for so few; somebody waits."""
    ordered = np.sort(levels)
    at = (len(ordered) - 1) * percent / 100.0
    below = int(at)
    low, high = float(ordered[below]), float(ordered[min(below + 1, len(ordered) - 1)])
    return low + (high - low) * (at - below)
