"""A lost microphone comes back, on a busy machine, from a slow sound server, out of a library that
hangs; and nothing is waited for without an end."""

from __future__ import annotations

import time
from contextlib import closing
from pathlib import Path

import pytest

from tests.audio.test_microphone import a_second, blocks, has, told_until
from tests.pretend_devices import HEADSET, PretendDevices
from voicelist.audio.capture import Wanted, capture_loop
from voicelist.audio.looking import LONGEST_PAUSE_S, pauses_s
from voicelist.audio.microphone import (
    Block,
    Microphone,
    MicrophoneBack,
    MicrophoneLost,
    MicrophoneSilent,
)
from voicelist.audio.two_microphones import TwoMicrophones
from voicelist.child import Child, ChildEnd

RATE_HZ = 16_000
NS = 1_000_000_000
_BEGINS_AFTER_S = 6.0


def begins_late(end: ChildEnd, wanted: Wanted) -> None:
    """As on a machine that has much else to do."""
    if wanted.exact:
        time.sleep(_BEGINS_AFTER_S)
    capture_loop(end, wanted)


def went_over(told: object) -> bool:
    """On a busy machine there are stalls, too."""
    return isinstance(told, MicrophoneLost) and "another microphone" in told.reason


def test_a_process_that_begins_slowly_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    monkeypatch.setattr("voicelist.audio.microphone.capture_loop", begins_late)
    with Microphone("Headset") as microphone:
        told_until(microphone, a_second)
        devices.set(silent=["Headset"])
        told_until(microphone, has(MicrophoneLost))
        devices.set(silent=[])
        told_until(microphone, has(MicrophoneBack))


def test_a_sound_server_that_answers_slowly_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, server={})
    with Microphone("Headset") as microphone:
        told_until(microphone, a_second)
        devices.set(silent=["Headset"], server={"slow_s": 1.5})
        told_until(microphone, has(MicrophoneLost))
        devices.set(silent=[])
        told_until(microphone, has(MicrophoneBack))


def test_a_source_that_is_known_late_is_no_other_microphone_but_another_one_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, server={"slow_s": 3.5})
    with Microphone("Headset") as microphone:
        told = [microphone.read(0.1) for _ in range(300)]
        assert not any(went_over(one) for one in told)
        devices.set(server={"gives": {"Headset": "Webcam"}})
        told_until(microphone, lambda told: any(went_over(one) for one in told))
        quiet_until_s = time.monotonic() + 5.0
        while time.monotonic() < quiet_until_s:
            assert microphone.read(0.1) is None, "another source must not do"
        devices.set(server={})
        told_until(microphone, has(MicrophoneBack))


def test_whose_sound_it_is_counts_as_unknown_while_the_server_does_not_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, server={})
    with Microphone("Headset") as microphone:
        told = told_until(microphone, a_second)
        assert all(one.source_known for one in told if isinstance(one, Block))
        devices.set(server={"slow_s": 2.5, "gives": {"Headset": "Webcam"}})
        told = told_until(microphone, lambda told: any(went_over(one) for one in told))
        assert [one for one in told if isinstance(one, Block) and not one.source_known]


def test_a_source_that_is_being_moved_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch, server={})
    with Microphone("Headset") as microphone:
        told_until(microphone, a_second)
        devices.set(server={"gives": {"Headset": ""}})
        told = told_until(microphone, a_second)
        assert not any(went_over(one) for one in told)


def test_one_process_looks_again_and_again_for_a_device_that_is_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks = tmp_path / "looks"
    devices = PretendDevices(tmp_path, monkeypatch)
    with Microphone("Headset") as microphone:
        told_until(microphone, a_second)
        devices.set(sound=False, devices=[["Other", 1, 0]], looks=str(looks))
        told = told_until(
            microphone, lambda _: looks.exists() and len(looks.read_text().split()) >= 4
        )
        assert sum(isinstance(one, MicrophoneLost) for one in told) == 1
        devices.set(sound=True, devices=[["Other", 1, 0], HEADSET])
        told_until(microphone, has(MicrophoneBack))
        assert set(looks.read_text().split()) == {str(microphone.pid)}


def test_the_pauses_between_looks_are_bounded_and_a_fresh_process_goes_on() -> None:
    pauses = list(pauses_s())
    assert max(pauses) == LONGEST_PAUSE_S <= 2.0
    assert sum(pauses) <= 60.0


def test_a_stall_is_told_and_over_without_a_new_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    # So that a busy machine does not end it meanwhile.
    monkeypatch.setattr("voicelist.audio.microphone.GIVEN_UP_AFTER_S", 60.0, raising=False)
    with Microphone("Headset") as microphone:
        before, pid = blocks(told_until(microphone, a_second))[-1], microphone.pid
        devices.set(stalled=["Headset"])
        told = told_until(microphone, has(MicrophoneLost))
        stalled_until_s = time.monotonic() + 1.5
        while time.monotonic() < stalled_until_s:
            assert microphone.read(0.1) is None
        devices.set(stalled=[])
        told += told_until(microphone, has(MicrophoneBack))
        told += told_until(microphone, a_second)
        assert sum(isinstance(one, MicrophoneLost) for one in told) == 1
        assert microphone.pid == pid
    last = blocks(told)[-1]
    elapsed_s = (last.mono_ns - before.mono_ns) / NS
    assert (last.first_sample - before.first_sample) / RATE_HZ == pytest.approx(elapsed_s, abs=0.3)


@pytest.mark.parametrize(
    "where",
    [
        {"opens": {"Surgeon": "hangs"}},
        # Where it is not there at first, the library is asked for a new list.
        {"listing": "hangs", "devices": [["Nurse", 1, 0]]},
    ],
)
def test_a_child_that_hangs_in_the_library_is_given_up_and_the_other_one_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: dict[str, object]
) -> None:
    both = [["Nurse", 1, 0], ["Surgeon", 1, 0]]
    devices = PretendDevices(tmp_path, monkeypatch, devices=both)
    with closing(TwoMicrophones("nurse", "surgeon")) as microphones:
        while not isinstance(microphones.read(5.0), Block):
            pass
        devices.set(silent=["Surgeon"], **where)
        hung = set[int | None]()
        nurse = 0
        end_s = time.monotonic() + 120.0
        while time.monotonic() < end_s:
            told = microphones.read(0.1)
            if isinstance(told, MicrophoneBack) and told.channel == 1:
                break
            nurse += isinstance(told, Block) and bool(told.samples[0].any())
            hung.add(microphones.processes[1])
            if len(hung - {None}) >= 3:
                devices.set(devices=both, silent=[], opens={}, listing="")
        assert isinstance(told, MicrophoneBack), "it never came back"
        assert nurse >= 100


def test_a_device_that_cannot_be_listed_or_opened_is_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    looks = tmp_path / "looks"
    with Microphone("Headset") as microphone:
        told_until(microphone, a_second)
        devices.set(silent=["Headset"], opens={"Headset": "fails"}, looks=str(looks))
        told_until(microphone, lambda _: looks.exists() and len(looks.read_text().split()) >= 2)
        devices.set(listing="fails")
        time.sleep(2.5)
        devices.set(silent=[], opens={}, listing="")
        told_until(microphone, has(MicrophoneBack))


def test_a_machine_that_starts_no_process_for_a_while_ends_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    devices = PretendDevices(tmp_path, monkeypatch)
    tries: list[Child] = []

    def refused(child: Child) -> None:
        tries.append(child)
        raise OSError("Cannot allocate memory")

    with Microphone("Headset") as microphone:
        told_until(microphone, a_second)
        with monkeypatch.context() as patch:
            patch.setattr(Child, "start", refused)
            devices.set(silent=["Headset"])
            told = told_until(microphone, lambda _: len(tries) >= 3)
        assert sum(isinstance(one, MicrophoneLost) for one in told) == 1
        devices.set(silent=[])
        told_until(microphone, has(MicrophoneBack))


def test_one_that_is_muted_beside_one_that_is_heard_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    both = [["Nurse", 1, 0], ["Surgeon", 1, 0]]
    PretendDevices(tmp_path, monkeypatch, devices=both, value={"Surgeon": 0})
    with closing(TwoMicrophones("nurse", "surgeon")) as microphones:
        told = [microphones.read(0.1) for _ in range(200)]
    assert MicrophoneSilent("Surgeon", 1) in told
