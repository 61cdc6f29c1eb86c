"""A live microphone: its sound with true times, and its loss, silence and return."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.pretend_devices import HEADSET, PretendDevices
from tests.pulse import PulseRoom, pulse_room
from tests.session.talk import Talk
from voicelist.asr.decoder import DecoderHere
from voicelist.asr.model import ModelPlace
from voicelist.asr.offline import decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.verifier import VerifierOnCall
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.capture import Captured, Converter, NotOpened, Wanted, choose_device
from voicelist.audio.microphone import (
    Block,
    Microphone,
    MicrophoneBack,
    MicrophoneLost,
    MicrophoneSilent,
    SampleClock,
    SignalWatch,
    Told,
)
from voicelist.audio.samples import Samples
from voicelist.errors import MissingPart, UsageError
from voicelist.listening.sound import context_by_sound
from voicelist.session.case import is_harmless
from voicelist.session.order import heard_here
from voicelist.speaking.speaker import SpeechOutput
from voicelist.understanding.decision import decide
from voicelist.understanding.interpretation import Understood
from voicelist.understanding.phrase_lists import hearing_grammar
from voicelist.understanding.policy import POLICY

RATE_HZ = 16_000
NS = 1_000_000_000


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseRoom]:
    with pulse_room(tmp_path, monkeypatch) as running:
        yield running


def told_until(
    microphone: Microphone, done: Callable[[list[Told]], bool], within_s: float = 30.0
) -> list[Told]:
    """What the microphone tells until it is enough."""
    told: list[Told] = []
    end_s = time.monotonic() + within_s
    while not done(told):
        assert time.monotonic() < end_s, f"it never came: {[type(one).__name__ for one in told]}"
        if (one := microphone.read(0.1)) is not None:
            told.append(one)
    return told


def blocks(told: list[Told]) -> list[Block]:
    return [one for one in told if isinstance(one, Block)]


def sound_of(told: list[Told]) -> np.ndarray:
    return np.concatenate([block.samples[0] for block in blocks(told)])


def a_second(told: list[Told]) -> bool:
    return sum(block.samples.shape[1] for block in blocks(told)) >= RATE_HZ


def has(kind: type) -> Callable[[list[Told]], bool]:
    return lambda told: any(isinstance(one, kind) for one in told)


def pitch_hz(sound: np.ndarray) -> float:
    return float(np.abs(np.fft.rfft(sound.astype(float))).argmax() * RATE_HZ / len(sound))


def test_blocks_follow_each_other_without_a_gap_and_carry_their_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch)
    before_ns = time.monotonic_ns()
    with Microphone(None) as microphone:
        assert microphone.device == "Headset"
        heard = blocks(told_until(microphone, a_second))
    after_ns = time.monotonic_ns()
    assert heard[0].first_sample == 0
    for block, following in pairwise(heard):
        assert following.first_sample == block.first_sample + block.samples.shape[1]
        assert following.mono_ns > block.mono_ns
    assert all(block.samples.shape == (1, 320) for block in heard)
    assert all(before_ns <= block.mono_ns <= after_ns for block in heard)
    assert pitch_hz(sound_of(list(heard))) == pytest.approx(440, abs=2)


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_a_device_that_refuses_16_khz_is_resampled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rate: int
) -> None:
    PretendDevices(tmp_path, monkeypatch, rates=[rate], rate=rate)
    with Microphone(None) as microphone:
        told = told_until(microphone, a_second)
    heard = blocks(told)
    for block, following in pairwise(heard):
        assert following.first_sample == block.first_sample + block.samples.shape[1]
    assert pitch_hz(sound_of(told)[2_000:]) == pytest.approx(440, abs=2)


def test_two_channels_stay_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    PretendDevices(tmp_path, monkeypatch, devices=[["Two lapels", 2, 0]])
    with Microphone("lapel", 2) as microphone:
        samples = np.concatenate(
            [block.samples for block in blocks(told_until(microphone, a_second))], axis=1
        )
    left, right = samples.astype(int)
    assert np.abs(left - 2 * right).max() <= 2
    assert np.abs(left).max() > 9_000


def test_a_lost_microphone_is_told_once_and_comes_back_with_true_sample_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    with Microphone("Headset") as microphone:
        before = blocks(told_until(microphone, a_second))
        devices.set(sound=False, devices=[["Other", 1, 0]])
        lost = told_until(microphone, has(MicrophoneLost))
        assert lost[-1] == MicrophoneLost("Headset", "no sound comes from it")
        quiet_until_s = time.monotonic() + 2.0
        while time.monotonic() < quiet_until_s:
            assert microphone.read(0.1) is None, "another device must not do, nor a second telling"
        devices.set(sound=True, devices=[["Other", 1, 0], HEADSET])
        back = told_until(microphone, a_second)
    assert isinstance(back[0], MicrophoneBack)
    assert back[0].device == "Headset"
    assert back[0].gap_s >= 2.0
    last = (blocks(lost) or before)[-1]
    first = blocks(back)[0]
    elapsed_s = (first.mono_ns - last.mono_ns) / NS
    assert (first.first_sample - last.first_sample) / RATE_HZ == pytest.approx(elapsed_s, abs=0.01)


def test_a_killed_capture_is_a_loss_and_is_started_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch)
    with Microphone(None) as microphone:
        told_until(microphone, a_second)
        pid = microphone.pid
        assert pid is not None
        os.kill(pid, signal.SIGKILL)
        told = told_until(microphone, has(MicrophoneBack))
        assert sum(isinstance(one, MicrophoneLost) for one in told) == 1
        assert microphone.pid != pid


def test_a_microphone_without_signal_is_told_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, value=0)
    with Microphone(None) as microphone:
        told = told_until(microphone, has(MicrophoneSilent))
        told += told_until(microphone, a_second)
        assert [one for one in told if not isinstance(one, Block)] == [
            MicrophoneSilent("Headset", 0)
        ]
        devices.set(value=None)
        told_until(microphone, a_second)
        devices.set(value=0)
        told_until(microphone, has(MicrophoneSilent))


def test_a_reader_that_sleeps_finds_a_gap_not_a_shift(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch)
    with Microphone(None) as microphone:
        first = blocks(told_until(microphone, a_second))[-1]
        time.sleep(8.0)
        told = told_until(microphone, lambda told: microphone.dropped_blocks > 0)
        told += told_until(microphone, a_second)
    last = blocks(told)[-1]
    assert not has(MicrophoneLost)(told)
    elapsed_s = (last.mono_ns - first.mono_ns) / NS
    assert (last.first_sample - first.first_sample) / RATE_HZ == pytest.approx(elapsed_s, abs=0.1)


def test_what_waits_can_be_discarded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    PretendDevices(tmp_path, monkeypatch)
    with Microphone(None) as microphone:
        told_until(microphone, a_second)
        time.sleep(1.0)
        now_ns = time.monotonic_ns()
        microphone.discard()
        (block,) = blocks(told_until(microphone, lambda told: len(blocks(told)) == 1))
    assert block.mono_ns > now_ns - NS // 4


@pytest.mark.parametrize("name", [None, "Headset"])
def test_without_a_microphone_a_sentence_says_how_to_list_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str | None
) -> None:
    PretendDevices(tmp_path, monkeypatch, devices=[["Monitor", 0, 2]])
    with pytest.raises(
        MissingPart, match=r"There is no microphone.*`voicelist devices`"
    ) as missing:
        Microphone(name)
    assert missing.value.exit_code == 3


def test_without_portaudio_the_package_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch, portaudio=False)
    with pytest.raises(MissingPart, match="libportaudio2"):
        Microphone(None)


@pytest.mark.parametrize(
    ("name", "channels", "why"),
    [("head", 1, "More than one"), ("Headset A", 2, "one channel"), (None, 3, "1 or 2 channels")],
)
def test_a_name_or_channels_that_do_not_fit_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str | None, channels: int, why: str
) -> None:
    PretendDevices(tmp_path, monkeypatch, devices=[["Headset A", 1, 0], ["Headset B", 1, 0]])
    with pytest.raises(UsageError, match=why):
        Microphone(name, channels)


def device(name: str, inputs: int, index: int) -> dict[str, object]:
    return {"name": name, "max_input_channels": inputs, "index": index}


DEVICES = (device("Monitor", 0, 0), device("Line 1", 2, 1), device("Line 12", 2, 2))


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (Wanted(None, 1), "Line 12"),
        (Wanted("Line 1", 1), "Line 1"),
        (Wanted("12", 2), "Line 12"),
        (Wanted("line 1", 1, exact=True), None),
        (Wanted("Line", 1), None),
        (Wanted("Monitor", 1), None),
    ],
)
def test_an_exact_name_wins_over_a_part_and_a_lost_device_needs_its_exact_name(
    wanted: Wanted, found: str | None
) -> None:
    chosen = choose_device(DEVICES, 2, wanted)
    assert (None if isinstance(chosen, NotOpened) else chosen["name"]) == found


def captured(first: int, mono_s: float, count: int = 320, overflowed: bool = False) -> Captured:
    return Captured(first, np.zeros((1, count), np.int16), round(mono_s * NS), overflowed, 0)


def test_the_clock_goes_on_through_drops_overflows_and_restarts() -> None:
    clock = SampleClock()
    assert clock.place(captured(0, 10.0)) == 0
    assert clock.place(captured(320, 10.02)) == 320
    assert clock.place(captured(960, 10.06)) == 960, "a dropped block is a gap"
    assert clock.place(captured(1_280, 10.58, overflowed=True)) == 1_280 + 8_000
    assert clock.place(captured(1_600, 10.60)) == 1_600 + 8_000
    clock.restart()
    assert clock.place(captured(0, 13.62)) == 1_920 + 8_000 + 48_000


def test_the_clock_never_goes_back() -> None:
    clock = SampleClock()
    clock.place(captured(0, 10.0))
    clock.restart()
    assert clock.place(captured(0, 9.9)) == 320


def test_resampled_samples_keep_the_time_of_what_they_were_made_of() -> None:
    converter = Converter(48_000, 1, 1)
    tick = np.zeros(48_000, np.int16)
    tick[24_000] = 30_000
    made, placed = [], []
    for at in range(0, 48_000, 960):
        first, samples, mono_ns = converter.convert(
            at, round(at / 48_000 * NS), tick[at : at + 960].tobytes()
        )
        placed.append((first, mono_ns))
        made.append(samples[0])
    heard = np.concatenate(made)
    assert int(np.abs(heard).argmax()) == pytest.approx(8_000, abs=2)
    for first, mono_ns in placed:
        assert mono_ns == pytest.approx(first / RATE_HZ * NS, abs=NS / 1_000)


@pytest.mark.parametrize("value", [0, -7])
def test_a_dead_channel_beside_a_live_one_is_told_once(value: int) -> None:
    watch = SignalWatch(2)
    live = np.arange(RATE_HZ, dtype=np.int16)
    dead = np.full(RATE_HZ, value, np.int16)
    told = [watch.feed(np.stack([live, dead])) for _ in range(5)]
    assert told == [(), (), (1,), (), ()]
    assert watch.feed(np.stack([live, live])) == ()


def test_a_microphone_that_gives_nothing_between_words_is_told_ever_more_rarely() -> None:
    watch = SignalWatch(1)
    word, nothing = np.arange(RATE_HZ, dtype=np.int16), np.zeros(RATE_HZ, np.int16)
    told_at_s = []
    for second in range(3_600):
        speaks = second % 130 == 0
        if watch.feed(np.stack([word if speaks else nothing])):
            told_at_s.append(second % 130)
    assert told_at_s[:4] == [3, 9, 33, 121]
    assert set(told_at_s[4:]) == {121}, "and a muted one is still told within two minutes"


def test_steps_between_constants_are_a_signal() -> None:
    watch = SignalWatch(1)
    for number in range(200):
        assert watch.feed(np.full((1, 320), number % 3, np.int16)) == ()


def answer_in(samples: Samples, model: ModelPlace) -> str:
    """The phrase that a case would take the sound for while the irrigation line is asked."""
    talk = Talk()
    case, known = talk.case, vocabulary(model.path)
    grammar = hearing_grammar(
        case.grammar, case.room, known, heard_here(case, talk.state), is_harmless
    )
    recogniser = Recogniser(wide_search_model(model))
    sound = decode_whole(recogniser, samples, grammar)
    decoder = DecoderHere(recogniser, VerifierOnCall(), past_of(samples, grammar))
    understood = decide(sound.passes, context_by_sound(case, talk.state), decoder, POLICY)
    assert isinstance(understood, Understood), understood
    return understood.match.rule


def test_what_is_said_in_the_room_is_heard(
    room: PulseRoom, tmp_path: Path, speech_model: ModelPlace
) -> None:
    spoken = tmp_path / "answer.wav"
    with SpeechOutput("hibari", play=False, out=spoken) as mouth:
        mouth.say("irrigation line firm")
    with Microphone(None) as microphone, ThreadPoolExecutor(1) as somebody:
        told_until(microphone, a_second)
        saying = somebody.submit(room.play, spoken)
        told = told_until(microphone, lambda _: saying.done())
        saying.result()
        told += told_until(microphone, a_second)
    said, _ = soundfile.read(spoken, dtype="int16")
    heard = np.trim_zeros(sound_of(told))
    assert answer_in(heard, speech_model) == "irrigation-line.done"
    assert len(heard) == pytest.approx(len(np.trim_zeros(said)), abs=0.1 * RATE_HZ)


def test_a_microphone_pulled_out_and_plugged_in_is_lost_and_back(room: PulseRoom) -> None:
    with Microphone(None) as microphone:
        told_until(microphone, a_second)
        room.unload()
        told_until(microphone, has(MicrophoneLost))
        room.load()
        told = told_until(microphone, has(MicrophoneBack))
        told_until(microphone, a_second)
    assert not any(isinstance(one, MicrophoneLost) for one in told)
