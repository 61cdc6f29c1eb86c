"""When speech begins and ends, told by probabilities alone. One chunk is 32 ms."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from voicelist.audio.endpoint import CHUNK_SAMPLES, Began, Ended, Endpointer, EndpointRules
from voicelist.audio.voice_activity import VoiceActivity

RULES = EndpointRules()


def events(
    probabilities: list[float], can_grow: bool = False, endpointer: Endpointer | None = None
) -> list[Began | Ended]:
    used = endpointer or Endpointer()
    told = (used.push(probability, lambda: can_grow) for probability in probabilities)
    return [event for event in told if event is not None]


def speech(before: int, voiced: int, after: int) -> list[float]:
    return [0.1] * before + [0.9] * voiced + [0.1] * after


def test_silence_is_no_utterance() -> None:
    assert events([0.1] * 1000) == []


def test_a_single_voiced_chunk_is_no_utterance() -> None:
    assert events(speech(20, 1, 30)) == []


def test_speech_begins_with_its_first_chunk_and_a_pre_roll_of_320_ms() -> None:
    assert events(speech(20, 2, 0)) == [Began(first=10, speech=20)]


def test_the_pre_roll_is_shorter_at_the_start_of_the_stream() -> None:
    assert events(speech(3, 2, 0)) == [Began(first=0, speech=3)]


def test_speech_ends_after_256_ms_of_pause() -> None:
    assert events(speech(20, 10, 7)) == [Began(10, 20)]
    assert events(speech(20, 10, 8))[1] == Ended(speech=20, end=30, decided=38, by="pause")


def test_a_chunk_before_the_end_it_is_known_to_be_near() -> None:
    endpointer = Endpointer()
    near = []
    for probability in speech(20, 10, 8):
        endpointer.push(probability, lambda: False)
        near.append(endpointer.ends_next)
    assert [at for at, one in enumerate(near) if one] == [36]


def test_what_can_grow_is_waited_for_704_ms() -> None:
    assert len(events(speech(20, 10, 21), can_grow=True)) == 1
    assert events(speech(20, 10, 22), can_grow=True)[1] == Ended(20, 30, 52, "pause")


def test_the_wait_is_over_as_soon_as_nothing_can_follow() -> None:
    answers = iter([True, True, True, False])
    endpointer = Endpointer()
    told = [
        endpointer.push(probability, lambda: next(answers)) for probability in speech(20, 10, 11)
    ]
    assert told[-1] == Ended(20, 30, 41, "pause")


def test_a_word_within_the_wait_belongs_to_the_same_utterance() -> None:
    told = events(speech(20, 10, 15) + speech(0, 10, 22), can_grow=True)
    assert told == [Began(10, 20), Ended(20, 55, 77, "pause")]


def test_a_short_dip_does_not_end_speech() -> None:
    told = events(speech(20, 10, 7) + speech(0, 5, 8))
    assert told == [Began(10, 20), Ended(20, 42, 50, "pause")]


def test_soft_speech_holds_on_but_does_not_begin() -> None:
    assert events([0.4] * 50) == []
    assert events([0.9] * 2 + [0.4] * 20 + [0.1] * 8)[1] == Ended(0, 22, 30, "pause")


def test_speech_without_end_is_cut_after_20_s_and_goes_on_as_another() -> None:
    told = events([0.9] * 700)
    assert told == [Began(0, 0), Ended(0, 625, 625, "length"), Began(625, 625)]


def test_the_pre_roll_does_not_reach_into_the_utterance_before() -> None:
    told = events(speech(20, 10, 8) + speech(0, 5, 8))
    assert told[2] == Began(first=30, speech=38)


def test_the_end_of_the_stream_ends_what_is_open() -> None:
    endpointer = Endpointer()
    events(speech(20, 10, 3), can_grow=True, endpointer=endpointer)
    assert endpointer.finish() == Ended(20, 30, 33, "pause")
    assert endpointer.finish() is None
    assert not endpointer.in_speech


def test_after_a_gap_nothing_before_it_counts() -> None:
    endpointer = Endpointer()
    events(speech(20, 5, 0), endpointer=endpointer)
    endpointer.restart_at(100)
    assert not endpointer.in_speech
    assert events(speech(2, 2, 0), endpointer=endpointer) == [Began(first=100, speech=102)]


def test_one_voiced_chunk_before_a_gap_does_not_count_after_it() -> None:
    endpointer = Endpointer()
    events([0.9], endpointer=endpointer)
    endpointer.restart_at(50)
    assert events([0.9], endpointer=endpointer) == []


@given(
    st.lists(st.floats(0, 1), max_size=300),
    st.lists(st.booleans(), min_size=300, max_size=300),
)
def test_beginnings_and_ends_alternate_and_never_overlap(
    probabilities: list[float], growing: list[bool]
) -> None:
    answers = iter(growing)
    rules = EndpointRules(longest=60)
    endpointer = Endpointer(rules)
    pushed = [endpointer.push(probability, lambda: next(answers)) for probability in probabilities]
    told = [event for event in pushed if event is not None]
    position = 0
    for began, ended in zip(told[::2], [*told[1::2], None], strict=False):
        assert isinstance(began, Began)
        assert position <= began.first <= began.speech
        if ended is not None:
            assert isinstance(ended, Ended)
            assert began.speech < ended.end <= ended.decided <= began.speech + rules.longest
            position = ended.end


def test_digital_silence_is_no_speech() -> None:
    judge = VoiceActivity()
    assert judge.probability(np.zeros(CHUNK_SAMPLES, np.int16)) == 0.0
