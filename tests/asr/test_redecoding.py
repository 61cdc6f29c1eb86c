"""An utterance decoded again: the same words at their places, whatever the speed.

The speech is synthetic and the limits are own measurements.
"""

from __future__ import annotations

import math
import os
import signal
import threading
import time

import numpy as np
import pytest
from spoken import PATIENCE_S, SENTENCES, Sentences, heard_by, say, silence, texts, with_silence

from voicelist.asr.decoder import DecoderHere
from voicelist.asr.offline import decode_stream, decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import RecogniserLost, RecogniserProcess
from voicelist.asr.redecoding import both_passes_again, decoded_again
from voicelist.asr.streaming import ChannelStream
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import VerifierOnCall
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import DecodeAgain, ForcedChoice, FreeTranscript

SPEEDS = POLICY.speeds
SPOKEN = "irrigation line firm"


@pytest.mark.parametrize("speed", SPEEDS)
def test_a_file_is_heard_again_word_by_word_where_it_was(
    recogniser: Recogniser, speed: float
) -> None:
    samples = with_silence(say("bottle height ninety"))
    once = decode_whole(recogniser, samples, Sentences())
    again = decoded_again(recogniser, past_of(samples, Sentences()), speed)
    assert again.first[0].text == texts(once)[0] == "bottle height ninety"
    assert again.second[0].text == "bottle height ninety"
    assert again.in_noise == once.passes.in_noise
    spans_s = again.first[0].spans_s, once.passes.first[0].spans_s
    for ours, theirs in zip(*spans_s, strict=True):
        assert ours == pytest.approx(theirs, abs=0.12)


@pytest.mark.parametrize("sentence", SENTENCES)
def test_what_is_plain_is_the_same_at_every_speed(recogniser: Recogniser, sentence: str) -> None:
    samples = with_silence(say(sentence))
    for speed in SPEEDS:
        first, _ = both_passes_again(recogniser, Sentences(), samples, 0, speed)
        assert first[0].text == sentence


def test_it_is_heard_the_same_each_time(recogniser: Recogniser) -> None:
    samples = with_silence(say(SPOKEN))
    one, other = (both_passes_again(recogniser, Sentences(), samples, 0, 0.95) for _ in range(2))
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


def test_one_of_several_utterances_is_decoded_again(recogniser: Recogniser) -> None:
    stream = ChannelStream(0, recogniser)
    sound = np.concatenate([with_silence(say(one)) for one in ("hold on please", SPOKEN)])
    for utterance in list(decode_stream(stream, sound, Sentences())):
        again = asked_again(stream, utterance)
        assert again is not None
        assert again.first[0].text == texts(utterance)[0]
        began_s = again.first[0].spans_s[0][0], utterance.passes.first[0].spans_s[0][0]
        assert began_s[0] == pytest.approx(began_s[1], abs=0.12)


def asked_again(stream: ChannelStream, utterance: DecodedUtterance) -> Passes | None:
    decoder = stream.decoder(utterance.start_sample)
    found = decoder.ask(DecodeAgain(1.0), math.inf) if decoder is not None else None
    return found if isinstance(found, Passes) else None


def test_it_is_decoded_again_under_the_phrases_of_then(recogniser: Recogniser) -> None:
    stream = ChannelStream(0, recogniser)
    (utterance,) = decode_stream(stream, with_silence(say(SPOKEN)), Sentences())
    stream.listen(1, Sentences(("hold on please",)))
    again = asked_again(stream, utterance)
    assert again is not None
    assert again.first[0].text == SPOKEN


def test_what_was_said_long_ago_is_forgotten(recogniser: Recogniser) -> None:
    stream = ChannelStream(0, recogniser)
    sound = np.concatenate([with_silence(say(SPOKEN)) for _ in range(6)])
    told = list(decode_stream(stream, sound, Sentences()))
    known = [asked_again(stream, one) is not None for one in told]
    assert known == [False, False, *[True] * 4]


def again_by(
    process: RecogniserProcess, utterance: DecodedUtterance, speed: float = 1.0
) -> Passes | None:
    """Decoded again in the other process."""
    found = process.ask(utterance, DecodeAgain(speed), time.monotonic() + PATIENCE_S)
    return found if isinstance(found, Passes) else None


@pytest.mark.parametrize("channel", [0, 1])
def test_the_other_process_decodes_it_again(process: RecogniserProcess, channel: int) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)), channel)
    again = again_by(process, once, 0.95)
    assert again is not None
    assert again.first[0].text == SPOKEN


def test_sound_that_comes_meanwhile_is_heard_afterwards(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    sound = with_silence(say(SPOKEN))
    once = heard_by(process, sound)
    process.feed(0, with_silence(say("hold on please")), len(sound))
    assert again_by(process, once) is not None
    give_up_s = time.monotonic() + PATIENCE_S
    told = None
    while not isinstance(told, DecodedUtterance):
        assert time.monotonic() < give_up_s
        told = process.poll(0.1)
    assert texts(told)[0] == "hold on please"


def test_what_is_forgotten_cannot_be_had(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)))
    assert again_by(process, DecodedUtterance(0, 1, 1, 2, 3, Passes(()))) is None
    assert again_by(process, once) is not None


def test_what_takes_too_long_is_not_waited_for(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)))
    began_s = time.monotonic()
    assert process.ask(once, DecodeAgain(1.0), began_s + 0.02) is None
    assert process.ask(once, DecodeAgain(1.0), began_s) is None
    # What comes late is not taken for what was asked for next.
    later = again_by(process, once, 0.95)
    assert later is not None
    assert later == again_by(process, once, 0.95)


def test_nothing_is_decoded_whose_deadline_has_passed(recogniser: Recogniser) -> None:
    """By a clock that counts the signs of life: decoding is given up in the middle."""
    past, beats = past_of(with_silence(say(SPOKEN)), Sentences()), [0]

    def beat() -> None:
        beats[0] += 1

    decoder = DecoderHere(recogniser, VerifierOnCall(), past, beat, clock=lambda: float(beats[0]))
    for question in (DecodeAgain(1.0), FreeTranscript()):
        assert decoder.ask(question, math.inf) is not None
    for question in (DecodeAgain(1.0), ForcedChoice((("line",),)), FreeTranscript()):
        begun = beats[0]
        assert decoder.ask(question, begun + 3.0) is None
        assert beats[0] == begun + 3
    begun = beats[0]
    assert decoder.ask(DecodeAgain(1.0), float(begun)) is None
    assert beats[0] == begun + 1


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
@pytest.mark.parametrize("blow", ["SIGKILL", "SIGSTOP"])
def test_a_recogniser_lost_meanwhile_is_not_waited_for(
    process: RecogniserProcess, blow: str
) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)))
    assert process.pid is not None
    # Long enough to be at it when it is struck.
    process.feed(0, silence(60.0), 10 * 16_000)
    threading.Timer(0.05, os.kill, (process.pid, getattr(signal, blow))).start()
    began_s = time.monotonic()
    assert again_by(process, once) is None
    assert time.monotonic() - began_s < 3.5
    assert isinstance(process.poll(), RecogniserLost)
