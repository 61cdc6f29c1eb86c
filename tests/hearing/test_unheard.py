"""Speech at the edges of an utterance for which a hypothesis has no word."""

from __future__ import annotations

import numpy as np
import pytest

from voicelist.hearing.sources import Samples
from voicelist.hearing.unheard import with_unheard
from voicelist.hearing.utterance import SAMPLE_RATE_HZ, Alternative, Word
from voicelist.phrases.grammar import UNHEARD
from voicelist.session.sound import hypothesis_of

STARTS_AT = 8_000


def sound(*parts: tuple[float, float]) -> Samples:
    """Noise in parts of so many seconds and so large an amplitude."""
    chance = np.random.default_rng(7)
    made = [chance.normal(0.0, size, int(length * SAMPLE_RATE_HZ)) for length, size in parts]
    return np.concatenate(made).astype(np.int16)


def heard(
    samples: Samples, words: tuple[float, float], speech: tuple[float, float]
) -> tuple[float, float]:
    """Seconds unheard before and behind, for words and speech between these seconds of it."""
    offset_s = STARTS_AT / SAMPLE_RATE_HZ
    word = Word("firm", words[0] + offset_s, words[1] + offset_s)
    ends = (STARTS_AT + int(at * SAMPLE_RATE_HZ) for at in speech)
    (one,) = with_unheard(
        (Alternative((word,), 0.0),), samples, STARTS_AT, (next(ends), next(ends))
    )
    return one.before_s, one.behind_s


def test_speech_as_loud_as_the_words_is_unheard() -> None:
    samples = sound((0.5, 2000), (1.0, 2000), (0.4, 2000))
    assert heard(samples, (0.5, 1.5), (0.0, 1.9)) == pytest.approx((0.5, 0.4), abs=0.001)


def test_what_is_quieter_than_the_words_is_the_room() -> None:
    samples = sound((0.5, 1000), (1.0, 2000), (0.4, 1000))
    assert heard(samples, (0.5, 1.5), (0.0, 1.9)) == (0.0, 0.0)


def test_what_lies_outside_of_speech_does_not_count() -> None:
    samples = sound((0.5, 2000), (1.0, 2000), (0.4, 2000))
    assert heard(samples, (0.5, 1.5), (0.5, 1.5)) == pytest.approx((0.0, 0.0), abs=0.001)


def test_of_no_words_nothing_is_said() -> None:
    nothing = Alternative((), 0.0)
    assert with_unheard((nothing,), sound((1.0, 2000)), 0, (0, 16_000)) == (nothing,)


def test_long_unheard_speech_stands_in_the_place_of_a_word() -> None:
    word = Word("firm", 1.0, 1.5)
    short = hypothesis_of(Alternative((word,), 0.0, before_s=0.2, behind_s=0.25))
    assert short.words == ("firm",)
    long = hypothesis_of(Alternative((word,), 0.0, before_s=0.3, behind_s=0.4))
    assert long.words == (UNHEARD, "firm", UNHEARD)
    assert long.seconds == pytest.approx((0.3, 0.5, 0.4))
