"""Playing: to the end, until interrupted, or until the device is late; never held up for good."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.pretend_devices import HEADSET, PretendDevices
from tests.speaking import fake_voices
from voicelist.speaking import playing
from voicelist.speaking.playing import Loudspeaker, Played
from voicelist.speaking.speaker import SENTENCE_GAP_S, SpeechOutput, never
from voicelist.speaking.speech import RATE_HZ, Sound
from voicelist.speaking.tone import soft_tone


def hum(seconds: float) -> Sound:
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return Sound((8_000 * np.sin(2 * np.pi * 300 * time_s)).astype("<i2").tobytes())


def speaking_mouth(**options: object) -> SpeechOutput:
    return SpeechOutput(fake_voices.choice("steady"), play=True, **{"out": None} | options)


def after(seconds: float):
    end_s = time.monotonic() + seconds
    return lambda: time.monotonic() >= end_s


def test_a_sound_is_played_to_its_end_sample_by_sample(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    speaker = Loudspeaker()
    began_s = time.monotonic()
    assert speaker.wait_ready()
    began_s = time.monotonic()
    assert speaker.play(hum(0.5), never) == Played(0.5, True)
    assert time.monotonic() - began_s >= 0.45, "it comes back when the sound is over"
    speaker.close()
    assert devices.played.read_bytes().startswith(hum(0.5).pcm)
    assert not any(devices.played.read_bytes()[len(hum(0.5).pcm) :])


@pytest.mark.parametrize("rates", [[44_100], [48_000]])
def test_a_device_that_refuses_16_khz_gets_its_own_rate(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rates: list[int]
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, rates=rates, rate=rates[0])
    speaker = Loudspeaker()
    assert speaker.play(hum(0.5), never) == Played(0.5, True)
    speaker.close()
    samples = np.frombuffer(devices.played.read_bytes(), dtype="<i2").astype(float)
    loud = samples[: int(0.5 * rates[0])]
    assert np.abs(loud[-2_000:]).max() > 7_000
    pitch_hz = np.abs(np.fft.rfft(loud)).argmax() * rates[0] / len(loud)
    assert pitch_hz == pytest.approx(300, abs=3)


def test_an_interruption_stops_the_sound_and_leaves_what_was_heard_in_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    out = tmp_path / "voice.wav"
    with speaking_mouth(out=out) as mouth:
        mouth.say("one")
        spoken = mouth.say("word " * 40, after(0.8))
        assert not spoken.played
        assert spoken.problem is None
        assert 0.0 < spoken.seconds < 5.0
        written = devices.played.stat().st_size
        assert mouth.say("two").played, "the next sound is not stopped by the old interruption"
    assert written < 7 * RATE_HZ * 2
    spoken_in_file_s = soundfile.info(out).duration - 3 * 0.4 - 0.5
    assert spoken_in_file_s == pytest.approx(spoken.seconds, abs=0.1)


def test_an_interruption_in_a_gap_leaves_the_next_sentence_unsaid(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch)
    sounding: list[bool] = []
    with speaking_mouth(on_sound=sounding.append) as mouth:
        spoken = mouth.say("One. Two three four.", lambda: sounding == [True, False])
    assert not spoken.played
    assert spoken.seconds == pytest.approx(0.25, abs=0.02)
    assert sounding == [True, False]


def test_the_gate_is_told_before_and_after_each_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch)
    told: list[tuple[bool, float]] = []
    with speaking_mouth(on_sound=lambda on: told.append((on, time.monotonic()))) as mouth:
        assert mouth.say("One two. Three.").played
        mouth.tone()
    assert [on for on, _ in told] == [True, False] * 3
    assert told[2][1] - told[1][1] >= SENTENCE_GAP_S


def test_a_device_that_hangs_is_given_up_at_its_deadline(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, write="hangs")
    monkeypatch.setattr(playing, "OPEN_DEADLINE_S", 0.5)
    with speaking_mouth() as mouth:
        spoken = mouth.say("one two")
        assert not spoken.played
        assert spoken.problem == ("The loudspeaker did not take the sound in time; read it here.")
        devices.set(write="paced")
        assert mouth.say("one two").played


def test_a_device_that_hangs_in_the_middle_is_given_up_a_second_late(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    with speaking_mouth() as mouth:
        assert mouth.say("one").played

        def pull_out() -> bool:
            if devices.played.stat().st_size > 2 * RATE_HZ:
                devices.set(write="hangs")
            return False

        spoken = mouth.say("one two three four", pull_out)
        assert not spoken.played
        assert "did not take the sound in time" in (spoken.problem or "")


def test_a_device_that_fails_is_a_problem_and_is_opened_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, write="fails")
    with speaking_mouth() as mouth:
        assert mouth.say("one").problem == (
            "The loudspeaker failed (Unanticipated host error); read it here."
        )
        devices.set(write="paced")
        assert mouth.say("one").played


def test_after_two_failures_in_a_row_speech_is_not_held_up_by_further_tries(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch, write="fails")
    monkeypatch.setattr(playing, "RETRY_AFTER_S", 3600.0)
    with speaking_mouth() as mouth:
        problems = [mouth.say("one").problem for _ in range(3)]
        assert problems[0] is not None
        assert problems[1] is not None
        assert problems[2] is None
        assert "loudspeaker" not in mouth.child_pids


def test_a_killed_player_is_a_problem_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    PretendDevices(tmp_path, monkeypatch)
    with speaking_mouth() as mouth:
        mouth.say("one")
        os.kill(mouth.child_pids["loudspeaker"], signal.SIGKILL)
        assert "was lost" in (mouth.say("one").problem or "")
        assert mouth.say("one").played


def test_without_a_loudspeaker_there_is_a_note_and_the_file_is_still_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, devices=[["Microphone", 1, 0]])
    out = tmp_path / "voice.wav"
    with speaking_mouth(out=out) as mouth:
        spoken = mouth.say("One two. Three.")
        assert (spoken.played, spoken.problem) == (False, None)
        (note,) = mouth.notes
        assert note.startswith("There is no loudspeaker")
        assert "voicelist devices" in note
        monkeypatch.setattr(playing, "RETRY_AFTER_S", 0.0)
        mouth.say("one")
    assert soundfile.info(out).duration == pytest.approx(
        0.75 + SENTENCE_GAP_S + 0.4 + 0.25 + 0.4, abs=0.05
    )
    assert not devices.played.exists()


def test_a_loudspeaker_that_is_plugged_in_later_is_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, devices=[])
    monkeypatch.setattr(playing, "RETRY_AFTER_S", 0.0)
    with speaking_mouth() as mouth:
        assert not mouth.say("one").played
        devices.set(devices=[HEADSET])
        assert mouth.say("one").played


def test_without_portaudio_there_is_a_note_naming_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch, portaudio=False)
    with speaking_mouth() as mouth:
        assert not mouth.say("one").played
        (note,) = mouth.notes
    assert "libportaudio2" in note


def test_a_second_tone_within_a_second_is_left_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    with speaking_mouth() as mouth:
        assert mouth.tone().played
        size = devices.played.stat().st_size
        assert not mouth.tone().played
        assert devices.played.stat().st_size < size + 0.3 * 2 * RATE_HZ
        time.sleep(1.0)
        assert mouth.tone().played
    assert devices.played.read_bytes().count(soft_tone().pcm) == 2
