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

from voicelist.asr.recogniser_process import (
    Flushed,
    RecogniserBack,
    RecogniserLost,
    RecogniserProcess,
    Told,
)
from voicelist.asr.streaming import Hearing
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.samples import Samples
from voicelist.errors import MissingPart

PATIENCE_S = 60.0
PIECE = 1_600


def feed(
    process: RecogniserProcess, sound: Samples, first_sample: int = 0, channel: int = 0
) -> None:
    for at in range(0, len(sound), PIECE):
        assert process.feed(channel, sound[at : at + PIECE], first_sample + at)


def told_until(process: RecogniserProcess, enough: Callable[[list[Told]], bool]) -> list[Told]:
    told: list[Told] = []
    give_up_s = time.monotonic() + PATIENCE_S
    while not enough(told):
        assert time.monotonic() < give_up_s, told
        one = process.poll(0.1)
        if one is not None:
            told.append(one)
    return told


def a_last(kind: type) -> Callable[[list[Told]], bool]:
    return lambda told: bool(told) and isinstance(told[-1], kind)


def heard(told: list[Told]) -> list[str]:
    return [texts(one)[0] for one in told if isinstance(one, DecodedUtterance)]


def taken_in(process: RecogniserProcess) -> None:
    give_up_s = time.monotonic() + PATIENCE_S
    while process.behind_samples > 0:
        assert time.monotonic() < give_up_s
        process.wait(0.1)


def test_speech_is_announced_and_then_understood(process: RecogniserProcess) -> None:
    number = process.listen(Sentences())
    feed(process, with_silence(say("irrigation line firm")))
    hearing, utterance = told_until(process, a_last(DecodedUtterance))
    assert isinstance(hearing, Hearing)
    assert isinstance(utterance, DecodedUtterance)
    assert texts(utterance)[0] == "irrigation line firm"
    assert utterance.grammar_no == number
    assert utterance.passes.second[0].text == "irrigation line firm"
    assert process.load_s is not None


def test_each_channel_is_heard_by_itself(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    feed(process, with_silence(say("irrigation line firm")), channel=0)
    feed(process, with_silence(say("hold on please")), channel=1)
    told = told_until(process, lambda told: len(heard(told)) == 2)
    by_channel = {one.channel: texts(one)[0] for one in told if isinstance(one, DecodedUtterance)}
    assert by_channel == {0: "irrigation line firm", 1: "hold on please"}


def test_times_are_right_after_a_gap(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    gap = 7 * 16_000 + 5
    feed(process, silence(1.0))
    process.skip(0, gap)
    speech = say("bottle height ninety")
    feed(process, with_silence(speech), 16_000 + gap)
    (utterance,) = (
        one
        for one in told_until(process, a_last(DecodedUtterance))
        if isinstance(one, DecodedUtterance)
    )
    said_s = 1.0 + gap / 16_000 + 0.6
    spans_s = utterance.passes.first[0].spans_s
    assert spans_s[0][0] == pytest.approx(said_s, abs=0.15)
    assert spans_s[-1][1] == pytest.approx(said_s + len(speech) / 16_000, abs=0.15)


def test_results_of_an_earlier_grammar_are_discarded(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    first, second = with_silence(say("irrigation line firm")), with_silence(say("hold on please"))
    feed(process, first)
    newer = process.listen(Sentences())
    feed(process, second, len(first))
    process.finish(0)
    told = told_until(process, a_last(Flushed))
    assert heard(told) == ["hold on please"]
    assert [one.grammar_no for one in told if isinstance(one, DecodedUtterance)] == [newer]


def test_the_end_of_the_sound_decides_everything(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    feed(process, with_silence(say("the left eye is marked"), after_s=0.0))
    process.finish(0)
    told = told_until(process, a_last(Flushed))
    assert heard(told) == ["the left eye is marked"]
    assert told[-1] == Flushed(0)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
@pytest.mark.parametrize("blow", ["SIGKILL", "SIGSTOP", "SIGABRT"])
def test_a_lost_recogniser_is_replaced_and_hearing_goes_on(
    process: RecogniserProcess, blow: str
) -> None:
    number = process.listen(Sentences())
    sound = with_silence(say("irrigation line firm"))
    half = len(sound) // 2
    feed(process, sound[:half])
    (hearing,) = told_until(process, a_last(Hearing))
    taken_in(process)
    assert process.pid is not None
    struck = process.pid
    os.kill(struck, getattr(signal, blow))
    lost, back = told_until(process, a_last(RecogniserBack))
    assert isinstance(lost, RecogniserLost)
    assert isinstance(hearing, Hearing)
    assert lost.lost_samples == half - hearing.start_sample
    assert isinstance(back, RecogniserBack)
    assert process.pid != struck
    feed(process, with_silence(say("hold on please")), half)
    (utterance,) = (
        one
        for one in told_until(process, a_last(DecodedUtterance))
        if isinstance(one, DecodedUtterance)
    )
    assert texts(utterance)[0] == "hold on please"
    assert utterance.grammar_no == number
    assert utterance.start_sample / 16_000 == pytest.approx(half / 16_000 + 0.6, abs=0.15)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="the state is read from /proc")
def test_a_stopped_recogniser_is_noticed_by_its_state_and_not_by_waiting(
    process: RecogniserProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelist.child.SILENT_AFTER_S", 1e9)
    monkeypatch.setattr("voicelist.child.STARVED_AFTER_S", 1e9)
    process.listen(Sentences())
    feed(process, silence(0.5))
    taken_in(process)
    assert process.pid is not None
    os.kill(process.pid, signal.SIGSTOP)
    lost, back = told_until(process, a_last(RecogniserBack))
    assert isinstance(lost, RecogniserLost)
    assert isinstance(back, RecogniserBack)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_sound_fed_while_the_recogniser_loads_is_heard(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    feed(process, silence(0.5))
    taken_in(process)
    assert process.pid is not None
    os.kill(process.pid, signal.SIGKILL)
    told_until(process, a_last(RecogniserLost))
    feed(process, with_silence(say("hold on please")), 8_000)
    told = told_until(process, a_last(DecodedUtterance))
    assert isinstance(told[0], RecogniserBack)
    assert heard(told) == ["hold on please"]


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_a_waiting_end_comes_even_when_the_recogniser_is_lost(process: RecogniserProcess) -> None:
    process.listen(Sentences())
    feed(process, silence(0.5))
    taken_in(process)
    assert process.pid is not None
    os.kill(process.pid, signal.SIGSTOP)
    feed(process, with_silence(say("hold on please")), 8_000)
    process.finish(0)
    told = told_until(process, a_last(Flushed))
    assert isinstance(told[0], RecogniserLost)
    assert told[0].lost_samples == len(with_silence(say("hold on please")))
    assert heard(told) == []


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_a_hung_recogniser_with_a_full_pipe_is_replaced_quietly(
    process: RecogniserProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    failed_threads: list[threading.ExceptHookArgs] = []
    monkeypatch.setattr(threading, "excepthook", failed_threads.append)
    process.listen(Sentences())
    feed(process, silence(0.5))
    taken_in(process)
    assert process.pid is not None
    os.kill(process.pid, signal.SIGSTOP)
    minute = silence(60.0)
    for number in range(5):
        process.feed(0, minute, 8_000 + number * len(minute))
    told = told_until(process, a_last(RecogniserBack))
    assert isinstance(told[0], RecogniserLost)
    assert told[0].lost_samples == 5 * len(minute)
    process.close()
    assert failed_threads == []


def test_a_model_that_cannot_be_loaded_ends_in_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    process = RecogniserProcess(tmp_path)
    with pytest.raises(MissingPart, match=r"cannot be loaded.*run `voicelist model`"):
        told_until(process, lambda _: False)
    process.close()
    assert capfd.readouterr() == ("", "")


def test_a_grammar_that_fails_is_told_in_its_own_words(process: RecogniserProcess) -> None:
    process.listen(BrokenGrammar())
    feed(process, with_silence(say("hold on please")))
    told = told_until(process, a_last(RecogniserLost))
    assert isinstance(told[-1], RecogniserLost)
    assert "no such phrase" in told[-1].reason


class BrokenGrammar(Sentences):
    def phrase_list(self) -> tuple[str, ...]:
        raise LookupError("no such phrase")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
def test_memory_does_not_grow_with_what_is_heard(process: RecogniserProcess) -> None:
    def resident_mb() -> float:
        status = Path(f"/proc/{process.pid}/status").read_text()
        return int(status.split("VmRSS:")[1].split()[0]) / 1024

    process.listen(Sentences())
    a_round = np.concatenate([with_silence(say(sentence)) for sentence in SENTENCES[:5]])
    position, after_round = 0, []
    for _ in range(4):
        feed(process, a_round, position)
        position += len(a_round)
        told_until(process, lambda told: len(heard(told)) == 5)
        after_round.append(resident_mb())
    assert after_round[-1] - after_round[0] < 25
