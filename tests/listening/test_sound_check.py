"""The check before a case: what it says of made-up sound of known level, noise and clipping."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from voicelist.audio.microphone import Block, MicrophoneLost
from voicelist.audio.samples import Samples
from voicelist.listening.sound_check import SoundCheck, clipped_samples, dBFS

RATE_HZ = 16_000
BLOCK = 320


def noise(seconds: float, level_dBFS: float, seed: int) -> np.ndarray:
    rms = 32_768 * 10 ** (level_dBFS / 20)
    return np.random.default_rng(seed).normal(0, rms, round(seconds * RATE_HZ))


def spoken(room_dBFS: float, *channels_dBFS: float) -> Samples:
    """Two seconds of a room, a second of words with a short pause, two seconds of the room."""
    made = []
    for number, level in enumerate(channels_dBFS):
        sound = noise(5.0, room_dBFS, number)
        words = noise(1.2, level, 7)
        words[8_000:9_600] = 0
        sound[32_000 : 32_000 + len(words)] += words
        made.append(np.clip(np.round(sound), -32_768, 32_767))
    return np.stack(made).astype(np.int16)


def checked(*takes: Samples, roles: tuple[str, ...], names: tuple[str, ...]) -> list[str]:
    told: list[str] = []

    def blocks() -> Iterator[object]:
        for take in takes:
            for first in range(0, take.shape[1], BLOCK):
                yield Block(first, take[:, first : first + BLOCK], first)
            while not told[-1].endswith("one two three."):
                yield None
            yield MicrophoneLost("it", "a moment")

    coming = blocks()
    told.append("")
    SoundCheck(lambda: next(coming, None), told.append, lambda: False).run(roles, names)
    return told[1:]


def test_a_microphone_that_is_fit_is_told_so_with_its_figures() -> None:
    told = checked(spoken(-60, -24), roles=("Nurse",), names=("Headset",))
    assert told == [
        "Nurse: please say one two three.",
        "The level is good, -24 dBFS.",
        "Nothing is cut off.",
        "Speech is 36 dB above the room.",
        "Nurse is heard by Headset.",
    ]


@pytest.mark.parametrize(
    ("room_dBFS", "level_dBFS", "told"),
    [
        (-75, -50, "The level is low, -50 dBFS"),
        (-60, -5, "The level is high"),
        (-60, -5, "samples are cut off"),
        (-40, -28, "Speech is 12 dB above the room, which is little"),
    ],
)
def test_what_is_not_fit_is_told_with_a_remedy(
    room_dBFS: float, level_dBFS: float, told: str
) -> None:
    sentences = checked(spoken(room_dBFS, level_dBFS), roles=("",), names=("Headset",))
    (found,) = [one for one in sentences if told in one]
    assert ": " in found


def test_which_microphone_is_whose() -> None:
    roles, names = ("Nurse", "Surgeon"), ("left", "right")
    near_left, near_right = spoken(-70, -24, -36), spoken(-70, -36, -24)
    told = checked(near_left, near_right, roles=roles, names=names)
    assert "Nurse speaks into left, 12 dB louder than the other." in told
    assert "Surgeon speaks into right, 12 dB louder than the other." in told
    swapped = checked(near_right, near_left, roles=roles, names=names)
    assert sum("the two are swapped" in one for one in swapped) == 2
    same = checked(spoken(-70, -24, -26), near_right, roles=roles, names=names)
    assert any(one.startswith("Nurse is as loud in both microphones (2 dB apart)") for one in same)


def test_nobody_who_speaks_is_told_and_a_cough_is_nobody() -> None:
    quiet = noise(14.0, -60, 3)[None]
    quiet[0, 48_000 : 48_000 + 960] += noise(0.06, -20, 4)
    told = checked(np.round(quiet).astype(np.int16), roles=("Nurse",), names=("Headset",))
    assert told[1:] == ["Nurse was not heard: see whether the microphone is on and near."]


def test_a_peak_is_no_clipping() -> None:
    sound = np.array([0, 32_767, 0, 32_767, 32_767, 32_767, 0, -32_768, -32_768], np.int16)
    assert clipped_samples(sound) == 5
    # A full-scale square wave; AES17's dB FS would give it 3 dB more.
    assert dBFS(32_768.0**2) == 0
