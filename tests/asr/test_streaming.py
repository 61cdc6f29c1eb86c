"""One channel's stream: positions that survive gaps, grammars that change, sound in any pieces."""

from __future__ import annotations

import random
from typing import cast

import numpy as np
import pytest
from spoken import Sentences, say, silence, texts, with_silence

from voicelist.asr.offline import decode_whole
from voicelist.asr.recogniser import Look, Recogniser
from voicelist.asr.streaming import ChannelStream, Hearing, Told
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.samples import Samples
from voicelist.understanding.hypothesis import Hypothesis, NBest

SPOKEN = "irrigation line firm"


class NothingHeard:
    """Stands in for a look where only positions matter."""

    def feed(self, samples: Samples) -> None:
        pass

    def words_so_far(self) -> tuple[str, ...]:
        return ()

    def finish(self, first_sample: int) -> tuple[NBest, NBest, float]:
        return (Hypothesis(()),), (), 0.0

    def drop(self) -> None:
        pass


class Deaf:
    """Stands in for a recogniser where only positions matter."""

    def look(self, grammar: Sentences, channel: int = 0) -> NothingHeard:
        return NothingHeard()


@pytest.fixture
def stream(recogniser: Recogniser) -> ChannelStream:
    listening = ChannelStream(0, recogniser)
    listening.listen(1, Sentences())
    return listening


def utterances(told: list[Told]) -> list[DecodedUtterance]:
    return [one for one in told if isinstance(one, DecodedUtterance)]


@pytest.mark.parametrize("piece", [100, 512, 1_600, 100_000])
def test_sound_may_come_in_pieces_of_any_size(recogniser: Recogniser, piece: int) -> None:
    stream = ChannelStream(0, recogniser)
    stream.listen(1, Sentences())
    sound = with_silence(say(SPOKEN))
    told: list[Told] = []
    for at in range(0, len(sound), piece):
        told += stream.hear(sound[at : at + piece], at)
    assert stream.position == len(sound)
    hearing, utterance = told
    assert isinstance(hearing, Hearing)
    assert isinstance(utterance, DecodedUtterance)
    assert texts(utterance)[0] == SPOKEN
    assert utterance.grammar_no == 1
    assert hearing.start_sample == utterance.start_sample
    assert utterance.start_sample / 16_000 == pytest.approx(0.6, abs=0.1)


@pytest.mark.parametrize("by_skip", [True, False])
def test_times_are_right_after_a_gap(stream: ChannelStream, by_skip: bool) -> None:
    gap = 5 * 16_000 + 77
    stream.hear(silence(1.0), 0)
    if by_skip:
        stream.skip(gap)
    speech = say(SPOKEN)
    start = 16_000 + gap
    (utterance,) = utterances(stream.hear(with_silence(speech), start))
    spans_s = utterance.passes.first[0].spans_s
    said_s = start / 16_000 + 0.6
    assert texts(utterance)[0] == SPOKEN
    assert spans_s[0][0] == pytest.approx(said_s, abs=0.15)
    assert spans_s[-1][1] == pytest.approx(said_s + len(speech) / 16_000, abs=0.15)
    assert utterance.speech_end_s == pytest.approx(said_s + len(speech) / 16_000, abs=0.15)


def test_an_utterance_cut_off_by_a_gap_has_no_words(stream: ChannelStream) -> None:
    sound = with_silence(say(SPOKEN))[: 16_000 * 6 // 5]
    (hearing,) = stream.hear(sound, 0)
    assert isinstance(hearing, Hearing)
    (cut,) = utterances(stream.skip(8_000))
    assert cut.passes.first == ()
    assert cut.passes.second == ()
    assert cut.end_sample == len(sound)
    assert stream.position == len(sound) + 8_000
    (after,) = utterances(stream.hear(with_silence(say("hold on please")), stream.position))
    assert texts(after)[0] == "hold on please"
    assert after.passes.second[0].text == "hold on please"


def test_nothing_is_heard_before_the_first_grammar(recogniser: Recogniser) -> None:
    stream = ChannelStream(0, recogniser)
    sound = with_silence(say(SPOKEN))
    assert stream.hear(sound, 0) == []
    assert stream.position == len(sound)


def test_an_utterance_under_way_is_decoded_anew_under_a_new_grammar(stream: ChannelStream) -> None:
    sound = with_silence(say(SPOKEN))
    half = len(sound) // 2
    stream.hear(sound[:half], 0)
    stream.listen(2, Sentences(("irrigation line",)))
    (utterance,) = utterances(stream.hear(sound[half:], half))
    assert utterance.grammar_no == 2
    assert texts(utterance)[0].startswith("irrigation line")
    assert SPOKEN not in texts(utterance)
    assert utterance.start_sample / 16_000 == pytest.approx(0.6, abs=0.1)


def test_what_can_grow_is_waited_for(stream: ChannelStream) -> None:
    sound = np.concatenate(
        [silence(0.6), say("vacuum three fifty"), silence(0.4), say("five"), silence(1.0)]
    )
    told = utterances(stream.hear(sound, 0))
    assert [texts(one)[0] for one in told] == ["vacuum three fifty five"]


def test_two_answers_in_one_breath_are_two(stream: ChannelStream) -> None:
    sound = np.concatenate(
        [silence(0.6), say(SPOKEN), silence(0.45), say("aspiration line firm"), silence(1.0)]
    )
    told = utterances(stream.hear(sound, 0))
    assert [texts(one)[0] for one in told] == [SPOKEN, "aspiration line firm"]
    assert told[0].decided_sample < told[1].start_sample


@pytest.mark.parametrize("after_s", [0.0, 0.1])
def test_the_end_of_the_sound_decides_what_is_open(stream: ChannelStream, after_s: float) -> None:
    sound = with_silence(say(SPOKEN), after_s=after_s)
    assert utterances(stream.hear(sound, 0)) == []
    (utterance,) = utterances(stream.finish())
    assert texts(utterance)[0] == SPOKEN
    assert utterance.end_sample <= utterance.decided_sample <= len(sound)
    assert stream.finish() == []
    assert stream.position == len(sound)


@pytest.mark.parametrize("seed", range(5))
def test_every_hearing_has_exactly_one_utterance(seed: int) -> None:
    chance = random.Random(seed)
    stream = ChannelStream(0, Deaf())  # type: ignore[arg-type]  # stands in
    stream.listen(1, Sentences())
    sounds = [say("irrigation line firm"), silence(0.3), say("hold on please"), silence(1.0)]
    told: list[Told] = []
    for _ in range(40):
        match chance.choice(("hear", "hear", "hear", "skip", "leap", "listen")):
            case "hear":
                told += stream.hear(chance.choice(sounds), stream.position)
            case "skip":
                told += stream.skip(chance.randrange(1, 20_000))
            case "leap":
                told += stream.hear(
                    chance.choice(sounds), stream.position + chance.randrange(20_000)
                )
            case "listen":
                stream.listen(1, Sentences())
    told += stream.finish()
    assert len(told) > 4
    position = 0
    for hearing, utterance in zip(told[::2], told[1::2], strict=True):
        assert isinstance(hearing, Hearing)
        assert isinstance(utterance, DecodedUtterance)
        assert position <= hearing.start_sample == utterance.start_sample < utterance.end_sample
        assert utterance.end_sample <= utterance.decided_sample <= stream.position
        position = utterance.end_sample


class Counting:
    """A recogniser that counts its looks."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser, self.looks = recogniser, 0

    def look(self, grammar: Sentences) -> Look:
        self.looks += 1
        return self._recogniser.look(grammar)


def test_a_voice_that_goes_on_when_its_end_was_begun_ahead_is_heard_whole(
    recogniser: Recogniser,
) -> None:
    """Pauses of 180 to 300 ms: the end is begun 32 ms before it stands."""
    went_on = 0
    for pause_ms in range(180, 301, 8):
        counting = Counting(recogniser)
        stream = ChannelStream(0, cast(Recogniser, counting))
        stream.listen(1, Sentences())
        pause = silence(pause_ms / 1000)
        speech = np.concatenate([say("vacuum three fifty five"), pause, say("hold on please")])
        found = utterances(stream.hear(with_silence(speech), 0))
        words = " ".join(texts(one)[0] for one in found)
        assert words == "vacuum three fifty five hold on please", pause_ms
        went_on += counting.looks > len(found)
    assert went_on


def test_the_end_begun_ahead_is_that_of_the_sound(recogniser: Recogniser) -> None:
    """As if all of it had been fed before."""
    stream = ChannelStream(0, recogniser)
    stream.listen(1, Sentences())
    (streamed,) = utterances(stream.hear(with_silence(say(SPOKEN)), 0))
    whole = decode_whole(recogniser, with_silence(say(SPOKEN)), Sentences())
    best, best_whole = streamed.passes.first[0], whole.passes.first[0]
    assert best.words == best_whole.words
    for ours, theirs in zip(best.spans_s, best_whole.spans_s, strict=True):
        assert ours[0] == pytest.approx(theirs[0], abs=0.1)
    assert streamed.decided_sample - streamed.end_sample == 8 * 512
