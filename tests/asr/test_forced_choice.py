"""A sound heard where nothing but some sentences is permitted; whether it was said in noise.

The speech and the noise are synthetic, the limits own measurements.
"""

from __future__ import annotations

import numpy as np
import pytest
from spoken import PATIENCE_S, Sentences, heard_by, say, texts, with_silence

from voicelist.asr.edges import is_in_noise, loudness_of
from voicelist.asr.offline import Whole, decode_stream, decode_whole
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import Ears
from voicelist.asr.streaming import ChannelEar
from voicelist.asr.utterance import Utterance
from voicelist.asr.verifier import OnCall
from voicelist.audio.samples import Samples

SPOKEN = "irrigation line firm"
ASKED = (
    ("irrigation", "line", "firm"),
    ("irrigation", "line", "third"),
    ("irrigation", "phacoemulsification", "firm"),
    ("hold", "on", "please"),
)
FORGOTTEN = Utterance(0, 0, 1, 2, 3, (), (), 0.0)


def noisy(samples: Samples, below_dB: float) -> Samples:
    """With white noise so far below the loudest tenth of a second."""
    frames = samples[: len(samples) // 1_600 * 1_600].astype(np.float64).reshape(-1, 1_600)
    loudest = float(np.sqrt((frames**2).mean(axis=1).max()))
    noise = np.random.default_rng(1).normal(0.0, loudest * 10 ** (-below_dB / 20), len(samples))
    mixed: Samples = np.clip(samples + noise, -32_768, 32_767).astype(np.int16)
    return mixed


def test_what_was_said_is_nearest_and_what_is_unknown_is_none(recogniser: Recogniser) -> None:
    samples = with_silence(say(SPOKEN))
    whole = decode_whole(recogniser, samples, Sentences())
    ear = ChannelEar(0, recogniser)
    (streamed,) = decode_stream(ear, samples, Sentences())
    for near in (
        Whole(recogniser, samples, Sentences(), OnCall()).among(whole, ASKED),
        ear.among(streamed, ASKED),
    ):
        assert near is not None
        assert len(near) == len(ASKED)
        assert near[0] is not None
        assert near[2] is None
        assert all(one is None or one < near[0] for one in near[1:])
    assert ear.among(FORGOTTEN, ASKED) is None


def test_another_word_is_found_where_it_was_said(recogniser: Recogniser) -> None:
    samples = with_silence(say("irrigation line third"))
    whole = decode_whole(recogniser, samples, Sentences())
    near = Whole(recogniser, samples, Sentences(), OnCall()).among(whole, ASKED)
    found = [-np.inf if one is None else one for one in near]
    assert found.index(max(found)) == 1


def test_the_other_process_tells_it(ears: Ears) -> None:
    ears.listen(Sentences())
    once = heard_by(ears, with_silence(say(SPOKEN)))
    assert texts(once)[0] == SPOKEN
    assert ears.among(once, ASKED, 0.0) is None
    near = ears.among(once, ASKED, PATIENCE_S)
    assert near is not None
    assert near[0] == max(one for one in near if one is not None)
    assert ears.among(FORGOTTEN, ASKED, PATIENCE_S) is None


@pytest.mark.parametrize(("below_dB", "in_noise"), [(10.0, True), (20.0, True), (60.0, False)])
def test_a_sound_is_in_noise_where_speech_stands_out_little(
    recogniser: Recogniser, below_dB: float, in_noise: bool
) -> None:
    samples = noisy(with_silence(say(SPOKEN)), below_dB)
    assert is_in_noise(loudness_of(samples)) is in_noise
    assert decode_whole(recogniser, samples, Sentences()).in_noise is in_noise
    (streamed,) = decode_stream(ChannelEar(0, recogniser), samples, Sentences())
    assert streamed.in_noise is in_noise


def test_nothing_is_not_in_noise() -> None:
    assert not is_in_noise(loudness_of(np.zeros(0, np.int16)))
    assert not is_in_noise(loudness_of(np.zeros(100, np.int16)))
