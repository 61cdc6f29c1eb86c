"""Hearing in a process of its own: it may die, hang or fall behind, and hearing goes on."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from spoken import SENTENCES, Sentences, say, silence, texts, with_silence

from voicelist.asr.recogniser_process import Ears, EarsBack, EarsLost, Flushed, Told
from voicelist.asr.streaming import Hearing
from voicelist.asr.utterance import Utterance
from voicelist.audio.samples import Samples
from voicelist.errors import MissingPart

PATIENCE_S = 60.0
PIECE = 1_600


def feed(ears: Ears, sound: Samples, first_sample: int = 0, channel: int = 0) -> None:
    for at in range(0, len(sound), PIECE):
        assert ears.feed(channel, sound[at : at + PIECE], first_sample + at)


def told_until(ears: Ears, enough: Callable[[list[Told]], bool]) -> list[Told]:
    told: list[Told] = []
    give_up_s = time.monotonic() + PATIENCE_S
    while not enough(told):
        assert time.monotonic() < give_up_s, told
        one = ears.poll(0.1)
        if one is not None:
            told.append(one)
    return told


def a_last(kind: type) -> Callable[[list[Told]], bool]:
    return lambda told: bool(told) and isinstance(told[-1], kind)


def heard(told: list[Told]) -> list[str]:
    return [texts(one)[0] for one in told if isinstance(one, Utterance)]


def taken_in(ears: Ears) -> None:
    give_up_s = time.monotonic() + PATIENCE_S
    while ears.behind_samples > 0:
        assert time.monotonic() < give_up_s
        ears.wait(0.1)


def test_speech_is_announced_and_then_understood(ears: Ears) -> None:
    number = ears.listen(Sentences())
    feed(ears, with_silence(say("irrigation line firm")))
    hearing, utterance = told_until(ears, a_last(Utterance))
    assert isinstance(hearing, Hearing)
    assert isinstance(utterance, Utterance)
    assert texts(utterance)[0] == "irrigation line firm"
    assert utterance.grammar_no == number
    assert utterance.second_look[0].text == "irrigation line firm"
    assert ears.load_s is not None


def test_each_channel_is_heard_by_itself(ears: Ears) -> None:
    ears.listen(Sentences())
    feed(ears, with_silence(say("irrigation line firm")), channel=0)
    feed(ears, with_silence(say("hold on please")), channel=1)
    told = told_until(ears, lambda told: len(heard(told)) == 2)
    by_channel = {one.channel: texts(one)[0] for one in told if isinstance(one, Utterance)}
    assert by_channel == {0: "irrigation line firm", 1: "hold on please"}


def test_times_are_right_after_a_gap(ears: Ears) -> None:
    ears.listen(Sentences())
    gap = 7 * 16_000 + 5
    feed(ears, silence(1.0))
    ears.skip(0, gap)
    speech = say("bottle height ninety")
    feed(ears, with_silence(speech), 16_000 + gap)
    (utterance,) = (
        one for one in told_until(ears, a_last(Utterance)) if isinstance(one, Utterance)
    )
    said_s = 1.0 + gap / 16_000 + 0.6
    words = utterance.alternatives[0].words
    assert words[0].start_s == pytest.approx(said_s, abs=0.15)
    assert words[-1].end_s == pytest.approx(said_s + len(speech) / 16_000, abs=0.15)


def test_results_of_an_earlier_grammar_are_discarded(ears: Ears) -> None:
    ears.listen(Sentences())
    first, second = with_silence(say("irrigation line firm")), with_silence(say("hold on please"))
    feed(ears, first)
    newer = ears.listen(Sentences())
    feed(ears, second, len(first))
    ears.finish(0)
    told = told_until(ears, a_last(Flushed))
    assert heard(told) == ["hold on please"]
    assert [one.grammar_no for one in told if isinstance(one, Utterance)] == [newer]


def test_the_end_of_the_sound_decides_everything(ears: Ears) -> None:
    ears.listen(Sentences())
    feed(ears, with_silence(say("the left eye is marked"), after_s=0.0))
    ears.finish(0)
    told = told_until(ears, a_last(Flushed))
    assert heard(told) == ["the left eye is marked"]
    assert told[-1] == Flushed(0)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
@pytest.mark.parametrize("blow", ["SIGKILL", "SIGSTOP", "SIGABRT"])
def test_a_lost_recogniser_is_replaced_and_hearing_goes_on(ears: Ears, blow: str) -> None:
    number = ears.listen(Sentences())
    sound = with_silence(say("irrigation line firm"))
    half = len(sound) // 2
    feed(ears, sound[:half])
    (hearing,) = told_until(ears, a_last(Hearing))
    taken_in(ears)
    assert ears.pid is not None
    struck = ears.pid
    os.kill(struck, getattr(signal, blow))
    lost, back = told_until(ears, a_last(EarsBack))
    assert isinstance(lost, EarsLost)
    assert isinstance(hearing, Hearing)
    assert lost.lost_samples == half - hearing.start_sample
    assert isinstance(back, EarsBack)
    assert ears.pid != struck
    feed(ears, with_silence(say("hold on please")), half)
    (utterance,) = (
        one for one in told_until(ears, a_last(Utterance)) if isinstance(one, Utterance)
    )
    assert texts(utterance)[0] == "hold on please"
    assert utterance.grammar_no == number
    assert utterance.start_sample / 16_000 == pytest.approx(half / 16_000 + 0.6, abs=0.15)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="the state is read from /proc")
def test_a_stopped_recogniser_is_noticed_by_its_state_and_not_by_waiting(
    ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelist.child.SILENT_AFTER_S", 1e9)
    monkeypatch.setattr("voicelist.child.STARVED_AFTER_S", 1e9)
    ears.listen(Sentences())
    feed(ears, silence(0.5))
    taken_in(ears)
    assert ears.pid is not None
    os.kill(ears.pid, signal.SIGSTOP)
    lost, back = told_until(ears, a_last(EarsBack))
    assert isinstance(lost, EarsLost)
    assert isinstance(back, EarsBack)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_sound_fed_while_the_recogniser_loads_is_heard(ears: Ears) -> None:
    ears.listen(Sentences())
    feed(ears, silence(0.5))
    taken_in(ears)
    assert ears.pid is not None
    os.kill(ears.pid, signal.SIGKILL)
    told_until(ears, a_last(EarsLost))
    feed(ears, with_silence(say("hold on please")), 8_000)
    told = told_until(ears, a_last(Utterance))
    assert isinstance(told[0], EarsBack)
    assert heard(told) == ["hold on please"]


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_a_waiting_end_comes_even_when_the_recogniser_is_lost(ears: Ears) -> None:
    ears.listen(Sentences())
    feed(ears, silence(0.5))
    taken_in(ears)
    assert ears.pid is not None
    os.kill(ears.pid, signal.SIGSTOP)
    feed(ears, with_silence(say("hold on please")), 8_000)
    ears.finish(0)
    told = told_until(ears, a_last(Flushed))
    assert isinstance(told[0], EarsLost)
    assert told[0].lost_samples == len(with_silence(say("hold on please")))
    assert heard(told) == []


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_a_hung_recogniser_with_a_full_pipe_is_replaced_quietly(
    ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    failed_threads: list[threading.ExceptHookArgs] = []
    monkeypatch.setattr(threading, "excepthook", failed_threads.append)
    ears.listen(Sentences())
    feed(ears, silence(0.5))
    taken_in(ears)
    assert ears.pid is not None
    os.kill(ears.pid, signal.SIGSTOP)
    minute = silence(60.0)
    for number in range(5):
        ears.feed(0, minute, 8_000 + number * len(minute))
    told = told_until(ears, a_last(EarsBack))
    assert isinstance(told[0], EarsLost)
    assert told[0].lost_samples == 5 * len(minute)
    ears.close()
    assert failed_threads == []


def test_a_model_that_cannot_be_loaded_ends_in_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    ears = Ears(tmp_path)
    with pytest.raises(MissingPart, match=r"cannot be loaded.*run `voicelist model`"):
        told_until(ears, lambda _: False)
    ears.close()
    assert capfd.readouterr() == ("", "")


def test_a_grammar_that_fails_is_told_in_its_own_words(ears: Ears) -> None:
    ears.listen(BrokenGrammar())
    feed(ears, with_silence(say("hold on please")))
    told = told_until(ears, a_last(EarsLost))
    assert isinstance(told[-1], EarsLost)
    assert "no such phrase" in told[-1].reason


class BrokenGrammar(Sentences):
    def phrase_list(self) -> tuple[str, ...]:
        raise LookupError("no such phrase")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
def test_memory_does_not_grow_with_what_is_heard(ears: Ears) -> None:
    def resident_mb() -> float:
        status = Path(f"/proc/{ears.pid}/status").read_text()
        return int(status.split("VmRSS:")[1].split()[0]) / 1024

    ears.listen(Sentences())
    a_round = np.concatenate([with_silence(say(sentence)) for sentence in SENTENCES[:5]])
    position, after_round = 0, []
    for _ in range(4):
        feed(ears, a_round, position)
        position += len(a_round)
        told_until(ears, lambda told: len(heard(told)) == 5)
        after_round.append(resident_mb())
    assert after_round[-1] - after_round[0] < 25
