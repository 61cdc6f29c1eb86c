"""Two devices heard as two channels, whatever becomes of one of them."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.pretend_devices import PretendDevices
from tests.pulse import pulse_room
from voicelist.audio.microphone import Block, MicrophoneBack, MicrophoneLost
from voicelist.audio.two_microphones import JoinedChannels, TwoMicrophones
from voicelist.errors import MissingPart, UsageError

RATE_HZ = 16_000
NS = 1_000_000_000
BLOCK = 320


def block(at_ms: int, value: int, first: int | None = None) -> Block:
    """20 ms of one value, sounded then; by default the device's count is right."""
    samples = np.full((1, BLOCK), value, np.int16)
    return Block(at_ms * 16 if first is None else first, samples, NS + at_ms * 1_000_000)


def all_of(joined: JoinedChannels) -> np.ndarray:
    found = []
    while (one := joined.next()) is not None:
        found.append(one.samples)
    return np.concatenate(found, axis=1) if found else np.zeros((2, 0), np.int16)


def test_what_was_sounded_at_the_same_time_comes_together() -> None:
    joined = JoinedChannels(2)
    for number in range(50):
        joined.add(0, block(number * 20, number))
        # Its count began elsewhere, and half a second later.
        if number >= 25:
            joined.add(1, block(number * 20, number, first=7_777 + (number - 25) * BLOCK))
    heard = all_of(joined)
    assert heard.shape[1] == 25 * BLOCK
    assert np.array_equal(heard[0], heard[1])
    assert heard[0, 0] == 25


def test_while_the_source_of_one_is_not_known_that_of_neither_counts_as_known() -> None:
    joined = JoinedChannels(2)
    joined.add(0, block(0, 5))
    joined.add(1, replace(block(0, 6), source_known=False))
    given = [joined.next()]
    joined.add(0, block(20, 5))
    joined.add(1, block(20, 6))
    given.append(joined.next())
    assert [one.source_known for one in given if one is not None] == [False, True]


def test_nothing_comes_before_both_have_given_theirs_or_one_is_known_to_be_lost() -> None:
    joined = JoinedChannels(2)
    joined.add(0, block(0, 5))
    assert joined.next() is None
    joined.add(1, block(0, 6))
    assert joined.next() is not None
    joined.add(0, block(20, 5))
    assert joined.next() is None
    joined.lost(1)
    one = joined.next()
    assert one is not None
    assert (one.samples[0] == 5).all()
    assert not one.samples[1].any()
    joined.add(0, block(40, 5))
    joined.add(1, block(40, 6))
    both = joined.next()
    assert both is not None
    assert both.samples[:, 0].tolist() == [5, 6]


@settings(max_examples=60, deadline=None)
@given(
    order=st.lists(
        st.tuples(st.integers(0, 1), st.sampled_from(["block", "lost", "gap"])), max_size=80
    )
)
def test_places_follow_each_other_without_a_gap_and_carry_their_time(
    order: list[tuple[int, str]],
) -> None:
    joined, at_ms, expected = JoinedChannels(2), [0, 0], None
    for channel, what in order:
        if what == "lost":
            joined.lost(channel)
            continue
        at_ms[channel] += 20 if what == "block" else 400
        joined.add(channel, block(at_ms[channel], channel + 1))
        while (one := joined.next()) is not None:
            assert one.samples.shape == (2, BLOCK)
            assert expected in (None, one.first_sample) or one.first_sample > expected + RATE_HZ
            expected = one.first_sample + BLOCK
            for heard, value in zip(one.samples, (1, 2), strict=True):
                assert set(np.unique(heard)) <= {0, value}


def test_while_both_are_lost_is_a_gap_and_not_an_hour_of_zeros() -> None:
    joined = JoinedChannels(2)
    for channel in (0, 1):
        joined.add(channel, block(0, 5))
    assert joined.next() is not None
    for channel in (0, 1):
        joined.lost(channel)
    later_ms = 3_600_000
    for number in range(3):
        for channel in (0, 1):
            joined.add(channel, block(later_ms + number * 20, 5))
    found = []
    while (one := joined.next()) is not None:
        found.append(one)
    assert [one.first_sample // 16 for one in found] == [later_ms, later_ms + 20, later_ms + 40]
    assert all((one.samples == 5).all() for one in found)
    assert found[0].mono_ns == NS + later_ms * 1_000_000


def test_two_devices_are_named_and_must_be_two(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch, devices=[["Nurse", 1, 0], ["Surgeon", 1, 0]])
    with pytest.raises(UsageError, match="same microphone"):
        TwoMicrophones("Nurse", "nur")
    with pytest.raises(MissingPart, match="no microphone named Third"):
        TwoMicrophones("Nurse", "Third")


def test_one_that_is_lost_is_told_with_its_channel_and_the_other_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, devices=[["Nurse", 1, 0], ["Surgeon", 1, 0]])
    with closing(TwoMicrophones("nurse", "surgeon")) as microphones:
        assert microphones.devices == ("Nurse", "Surgeon")
        heard = [microphones.read(2.0) for _ in range(30)]
        assert all(isinstance(one, Block) and one.samples.any(axis=1).all() for one in heard)
        devices.set(silent=["Surgeon"])
        lost = back = None
        alone = 0
        for _ in range(400):
            told = microphones.read(0.1)
            if isinstance(told, MicrophoneLost):
                lost = told
            elif isinstance(told, MicrophoneBack):
                back = told
            elif lost is not None and back is None and isinstance(told, Block):
                alone += 1
                assert told.samples[0].any()
                assert not told.samples[1].any() or alone <= 2
                if alone == 10:
                    devices.set(silent=[])
            elif back is not None and isinstance(told, Block) and told.samples.any(axis=1).all():
                break
        assert lost is not None
        assert (lost.device, lost.channel) == ("Surgeon", 1)
        assert back is not None
        assert (back.device, back.channel) == ("Surgeon", 1)


def test_a_sound_server_that_goes_over_to_another_microphone_is_a_loss(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PulseAudio goes on with the sound of the default device, and says nothing."""
    with (
        pulse_room(tmp_path, monkeypatch, ("nurse", "surgeon")) as room,
        closing(TwoMicrophones("nurse", "surgeon")) as microphones,
    ):
        told: list[object] = []

        def until(kind: type) -> object:
            for _ in range(600):
                told.append(microphones.read(0.1))
                if isinstance(told[-1], kind):
                    return told[-1]
            raise AssertionError(f"{kind.__name__} never came")

        until(Block)
        room.unload("surgeon")
        lost = until(MicrophoneLost)
        assert isinstance(lost, MicrophoneLost)
        assert (lost.channel, "another microphone" in lost.reason) == (1, True)
        assert not any(isinstance(one, MicrophoneBack) for one in told)
        until(Block)
        room.load("surgeon")
        back = until(MicrophoneBack)
        assert isinstance(back, MicrophoneBack)
        assert back.channel == 1
