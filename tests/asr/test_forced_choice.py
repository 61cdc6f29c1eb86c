"""A sound heard where nothing but some sentences is permitted; whether it was said in noise.

The speech and the noise are synthetic, the limits own measurements.
"""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from spoken import PATIENCE_S, Sentences, heard_by, say, texts, with_silence

from voicelist.asr.edges import is_in_noise, loudness_of
from voicelist.asr.forced_choice import decoded_under, forced_choice
from voicelist.asr.offline import decode_stream, decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.streaming import ChannelStream
from voicelist.audio.samples import Samples
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.questions import DecodeUnder, ForcedChoice

SPOKEN = "irrigation line firm"
ASKED = (
    ("irrigation", "line", "firm"),
    ("irrigation", "line", "third"),
    ("irrigation", "phacoemulsification", "firm"),
    ("hold", "on", "please"),
)


def noisy(samples: Samples, below_dB: float) -> Samples:
    """With white noise so far below the loudest tenth of a second."""
    frames = samples[: len(samples) // 1_600 * 1_600].astype(np.float64).reshape(-1, 1_600)
    loudest = float(np.sqrt((frames**2).mean(axis=1).max()))
    noise = np.random.default_rng(1).normal(0.0, loudest * 10 ** (-below_dB / 20), len(samples))
    mixed: Samples = np.clip(samples + noise, -32_768, 32_767).astype(np.int16)
    return mixed


def test_what_was_said_is_nearest_and_what_is_unknown_is_not_found(
    recogniser: Recogniser,
) -> None:
    samples = with_silence(say(SPOKEN))
    stream = ChannelStream(0, recogniser)
    (streamed,) = decode_stream(stream, samples, Sentences())
    decoder = stream.decoder(streamed.start_sample)
    assert decoder is not None
    for near in (
        forced_choice(recogniser, past_of(samples, Sentences()), ASKED),
        decoder.ask(ForcedChoice(ASKED), math.inf),
    ):
        assert isinstance(near, tuple)
        assert len(near) == len(ASKED)
        assert near[2] == -math.inf < near[0]
        assert all(one < near[0] for one in near[1:])
    assert stream.decoder(1) is None


def test_another_word_is_found_where_it_was_said(recogniser: Recogniser) -> None:
    samples = with_silence(say("irrigation line third"))
    near = forced_choice(recogniser, past_of(samples, Sentences()), ASKED)
    assert near.index(max(near)) == 1


def test_what_is_heard_under_word_pairs_need_be_none_of_the_phrases(recogniser: Recogniser) -> None:
    samples = with_silence(say("the irrigation line is firm"))
    phrases = ("the irrigation tubing", "irrigation line loose", "line is loose", "is firm", "frm")
    heard = decoded_under(recogniser, past_of(samples, Sentences()), phrases)
    assert heard[0].text == "the irrigation line is firm"
    assert [one.score for one in heard] == sorted((one.score for one in heard), reverse=True)


def test_the_other_process_tells_what_is_heard_under_word_pairs(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)))
    found = process.ask(once, DecodeUnder((SPOKEN,)), time.monotonic() + PATIENCE_S)
    assert isinstance(found, Passes)
    assert (found.first[0].text, found.second) == (SPOKEN, ())


def test_the_other_process_tells_it(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)))
    assert texts(once)[0] == SPOKEN
    near = process.ask(once, ForcedChoice(ASKED), time.monotonic() + PATIENCE_S)
    assert isinstance(near, tuple)
    assert near[0] == max(near)


@pytest.mark.parametrize(("below_dB", "in_noise"), [(10.0, True), (20.0, True), (60.0, False)])
def test_a_sound_is_in_noise_where_speech_stands_out_little(
    recogniser: Recogniser, below_dB: float, in_noise: bool
) -> None:
    samples = noisy(with_silence(say(SPOKEN)), below_dB)
    assert is_in_noise(loudness_of(samples)) is in_noise
    assert decode_whole(recogniser, samples, Sentences()).passes.in_noise is in_noise
    (streamed,) = decode_stream(ChannelStream(0, recogniser), samples, Sentences())
    assert streamed.passes.in_noise is in_noise


def test_nothing_is_not_in_noise() -> None:
    assert not is_in_noise(loudness_of(np.zeros(0, np.int16)))
    assert not is_in_noise(loudness_of(np.zeros(100, np.int16)))
