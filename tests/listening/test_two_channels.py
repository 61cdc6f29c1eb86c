"""Two microphones in one room, through the recogniser: who answered, and what must not pass."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.asr.spoken import say, silence
from tests.command import PLAN, Command, voicelist
from voicelist.asr.model import ModelPlace
from voicelist.audio.samples import Samples

__all__ = ["voicelist"]

FOUND, MISSING = "reflux control found", "reflux control missing"
BEFORE_S, AFTER_S = 0.8, 1.6
# As of a second microphone one metre further away: sound takes 3 ms a metre (343 m/s in air at
# 20 degrees C; ISO 9613-1), and 12 dB is four times the distance in the open (inverse square law).
DELAY_SAMPLES, FARTHER_dB = 48, -12.0


def in_a_quiet_room(speech: Samples, seed: int) -> Samples:
    return np.concatenate([silence(BEFORE_S, seed=seed), speech, silence(AFTER_S, seed=seed + 1)])


def at_level(speech: Samples, rms: float) -> Samples:
    heard = speech.astype(float)
    return np.clip(heard * rms / np.sqrt(np.mean(heard**2)), -32768, 32767).astype(np.int16)


def farther(speech: Samples) -> Samples:
    quieter = speech * 10 ** (FARTHER_dB / 20)
    return np.concatenate([np.zeros(DELAY_SAMPLES), quieter])[: len(speech)].astype(np.int16)


class Room:
    """Runs a case from its section `pedal` on a recording of two channels; tells its journal."""

    def __init__(self, voicelist: Command, folder: Path) -> None:
        self._voicelist = voicelist
        self._folder = folder

    def hears(self, *channels: Samples) -> list[dict[str, Any]]:
        sound, journal = self._folder / "room.wav", self._folder / "room.journal"
        soundfile.write(sound, np.stack(channels, axis=1), 16_000)
        how = ("--from", "pedal", "--audio", sound, "--pace", "fast", "--voice", "none")
        run = self._voicelist("run", PLAN, *how)
        assert run.code == 0, run.text
        told = self._voicelist(
            "record", "export", "practice-007", "--format", "journal", "-o", journal
        )
        assert told.code == 0, told.text
        return [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]


@pytest.fixture
def room(voicelist: Command, speech_model: ModelPlace, tmp_path: Path) -> Room:
    return Room(voicelist, tmp_path)


def bodies(journal: list[dict[str, Any]], kind: str) -> list[dict[str, Any]]:
    return [row["body"] for row in journal if row.get("kind") == kind]


@pytest.mark.parametrize(("near", "role"), [(0, "circulating-nurse"), (1, "surgeon")])
def test_the_same_sentence_on_both_channels_is_one_answer_of_the_nearer_role(
    room: Room, near: int, role: str
) -> None:
    speech = say(FOUND)
    channels = [in_a_quiet_room(speech, seed=1), in_a_quiet_room(farther(speech), seed=5)]
    journal = room.hears(*(channels if near == 0 else channels[::-1]))
    (answered,) = bodies(journal, "answered")
    assert (answered["item"], answered["answer"]) == ("reflux", "said-done")
    assert (answered["role"], answered["role_known_by"]) == (role, "channel")
    heard = {one["channel"]: one for one in bodies(journal, "heard")}
    assert len(bodies(journal, "heard")) == 2
    assert (heard[near]["status"], heard[near]["words"]) == ("understood", FOUND)
    assert (heard[1 - near]["status"], heard[1 - near]["words"]) == ("not-taken", FOUND)
    assert "nearer microphone" in heard[1 - near]["why"]
    assert not bodies(journal, "asked-again")


@pytest.mark.parametrize("other", [MISSING, "did you see the match last night"])
@pytest.mark.parametrize("swapped", [False, True])
def test_two_sentences_at_the_same_time_and_level_pass_nothing(
    room: Room, other: str, swapped: bool
) -> None:
    one, another = at_level(say(FOUND), 2_500.0), at_level(say(other), 2_500.0)
    length = max(len(one), len(another))
    channels = [
        in_a_quiet_room(np.pad(speech, (0, length - len(speech))), seed=seed)
        for seed, speech in enumerate((one, another), start=1)
    ]
    journal = room.hears(*(channels[::-1] if swapped else channels))
    assert not bodies(journal, "answered")
    assert {one["channel"] for one in bodies(journal, "heard")} == {0, 1}
    assert "understood" not in {one["status"] for one in bodies(journal, "heard")}


def test_the_same_two_sentences_one_after_the_other_are_both_heard(room: Room) -> None:
    """The sound of the test above passes where it is not at the same time."""
    one, another = say(FOUND), say("pedal in reach")
    quiet = silence(2.0)
    first = np.concatenate([one, silence((len(quiet) + len(another)) / 16_000)])
    second = np.concatenate([silence((len(quiet) + len(one)) / 16_000), another])
    journal = room.hears(in_a_quiet_room(first, 1), in_a_quiet_room(second, 5))
    answered = [(one["item"], one["role"]) for one in bodies(journal, "answered")]
    assert answered == [("reflux", "circulating-nurse"), ("pedal-reach", "surgeon")]


def test_one_voice_at_the_same_level_in_both_microphones_passes_nothing(room: Room) -> None:
    sound = in_a_quiet_room(say(FOUND), seed=1)
    journal = room.hears(sound, sound)
    assert not bodies(journal, "answered")
    whys = {one["why"] for one in bodies(journal, "heard")}
    assert whys == {"both channels heard somebody, and neither microphone is plainly nearer"}


def test_a_channel_of_digital_silence_changes_nothing(room: Room) -> None:
    sound = in_a_quiet_room(say(FOUND), seed=1)
    journal = room.hears(np.zeros_like(sound), sound)
    (answered,) = bodies(journal, "answered")
    assert (answered["item"], answered["role"]) == ("reflux", "surgeon")
    assert [one["channel"] for one in bodies(journal, "heard")] == [1]
