"""An utterance heard once more: the same words at their places, whatever the speed.

The speech is synthetic and the limits are own measurements.
"""

from __future__ import annotations

import os
import signal
import threading
import time

import numpy as np
import pytest
from spoken import PATIENCE_S, SENTENCES, Sentences, heard_by, say, silence, texts, with_silence

from voicelist.asr.offline import decode_stream, decode_whole, decode_whole_again
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import Ears, EarsLost
from voicelist.asr.redecoding import SPEEDS, look_again
from voicelist.asr.streaming import ChannelEar
from voicelist.asr.utterance import Utterance

SPOKEN = "irrigation line firm"


@pytest.mark.parametrize("speed", SPEEDS)
def test_a_file_is_heard_again_word_by_word_where_it_was(
    recogniser: Recogniser, speed: float
) -> None:
    samples = with_silence(say("bottle height ninety"))
    once = decode_whole(recogniser, samples, Sentences())
    again = decode_whole_again(recogniser, samples, Sentences(), once, speed)
    assert texts(again)[0] == texts(once)[0] == "bottle height ninety"
    assert again.second_look[0].text == "bottle height ninety"
    assert (again.start_sample, again.end_sample) == (once.start_sample, once.end_sample)
    for ours, theirs in zip(again.alternatives[0].words, once.alternatives[0].words, strict=True):
        assert ours.start_s == pytest.approx(theirs.start_s, abs=0.12)
        assert ours.end_s == pytest.approx(theirs.end_s, abs=0.12)


@pytest.mark.parametrize("sentence", SENTENCES)
def test_what_is_plain_is_the_same_at_every_speed(recogniser: Recogniser, sentence: str) -> None:
    samples = with_silence(say(sentence))
    for speed in SPEEDS:
        first, _ = look_again(recogniser, Sentences(), samples, 0, speed)
        assert first[0].text == sentence


def test_it_is_heard_the_same_each_time(recogniser: Recogniser) -> None:
    samples = with_silence(say(SPOKEN))
    one, other = (look_again(recogniser, Sentences(), samples, 0, 0.95) for _ in range(2))
    assert one == other


def test_the_voice_is_known_the_second_time(recogniser: Recogniser) -> None:
    look, samples = recogniser.look(Sentences()), with_silence(say(SPOKEN))
    look.feed(samples)
    look.begin_again()
    look.feed(samples)
    known, _, _ = look.finish(0)
    fresh = recogniser.look(Sentences())
    fresh.feed(samples)
    unknown, _, _ = fresh.finish(0)
    assert known[0].text == unknown[0].text == SPOKEN
    assert known[0].score != unknown[0].score


def test_one_of_several_utterances_is_heard_again(recogniser: Recogniser) -> None:
    ear = ChannelEar(0, recogniser)
    sound = np.concatenate([with_silence(say(one)) for one in ("hold on please", SPOKEN)])
    told = list(decode_stream(ear, sound, Sentences()))
    for utterance in told:
        again = ear.again(utterance, 1.0)
        assert again is not None
        assert texts(again)[0] == texts(utterance)[0]
        began_s = (
            again.alternatives[0].words[0].start_s,
            utterance.alternatives[0].words[0].start_s,
        )
        assert began_s[0] == pytest.approx(began_s[1], abs=0.12)


def test_it_is_heard_again_under_the_phrases_of_then(recogniser: Recogniser) -> None:
    ear = ChannelEar(0, recogniser)
    (utterance,) = decode_stream(ear, with_silence(say(SPOKEN)), Sentences())
    ear.listen(1, Sentences(("hold on please",)))
    again = ear.again(utterance, 1.0)
    assert again is not None
    assert texts(again)[0] == SPOKEN


def test_what_was_said_long_ago_is_forgotten(recogniser: Recogniser) -> None:
    ear = ChannelEar(0, recogniser)
    sound = np.concatenate([with_silence(say(SPOKEN)) for _ in range(6)])
    told = list(decode_stream(ear, sound, Sentences()))
    assert [ear.again(one, 1.0) is not None for one in told] == [False, False, *[True] * 4]


@pytest.mark.parametrize("channel", [0, 1])
def test_the_other_process_hears_it_again(ears: Ears, channel: int) -> None:
    ears.listen(Sentences())
    once = heard_by(ears, with_silence(say(SPOKEN)), channel)
    again = ears.again(once, 0.95, PATIENCE_S)
    assert again is not None
    assert texts(again)[0] == SPOKEN
    assert again.channel == channel
    assert again.decided_sample == once.decided_sample


def test_sound_that_comes_meanwhile_is_heard_afterwards(ears: Ears) -> None:
    ears.listen(Sentences())
    sound = with_silence(say(SPOKEN))
    once = heard_by(ears, sound)
    ears.feed(0, with_silence(say("hold on please")), len(sound))
    assert ears.again(once, 1.0, PATIENCE_S) is not None
    give_up_s = time.monotonic() + PATIENCE_S
    told = None
    while not isinstance(told, Utterance):
        assert time.monotonic() < give_up_s
        told = ears.poll(0.1)
    assert texts(told)[0] == "hold on please"


def test_what_is_forgotten_cannot_be_had(ears: Ears) -> None:
    ears.listen(Sentences())
    once = heard_by(ears, with_silence(say(SPOKEN)))
    assert ears.again(Utterance(0, 1, 1, 2, 3, (), (), 0.0), 1.0, PATIENCE_S) is None
    assert ears.again(once, 1.0, PATIENCE_S) is not None


def test_what_takes_too_long_is_not_waited_for(ears: Ears) -> None:
    ears.listen(Sentences())
    once = heard_by(ears, with_silence(say(SPOKEN)))
    assert ears.again(once, 1.0, 0.0) is None
    # What comes late is not taken for what was asked for next.
    later = ears.again(once, 0.95, PATIENCE_S)
    direct = ears.again(once, 0.95, PATIENCE_S)
    assert later == direct
    assert later is not None


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
@pytest.mark.parametrize("blow", ["SIGKILL", "SIGSTOP"])
def test_a_recogniser_lost_meanwhile_is_not_waited_for(ears: Ears, blow: str) -> None:
    ears.listen(Sentences())
    once = heard_by(ears, with_silence(say(SPOKEN)))
    assert ears.pid is not None
    # Long enough to be at it when it is struck.
    ears.feed(0, silence(60.0), 10 * 16_000)
    threading.Timer(0.05, os.kill, (ears.pid, getattr(signal, blow))).start()
    began_s = time.monotonic()
    assert ears.again(once, 1.0, PATIENCE_S) is None
    assert time.monotonic() - began_s < 3.5
    assert isinstance(ears.poll(), EarsLost)
