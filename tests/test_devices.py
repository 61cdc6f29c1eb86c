"""The list of sound devices, and a sentence where there is nothing to list."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pretend_devices import PretendDevices
from voicelist import devices
from voicelist.devices import Device, list_devices


def test_each_direction_of_a_device_is_listed_and_the_default_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(
        tmp_path, monkeypatch, devices=[["Monitor", 0, 2], ["Headset", 1, 2], ["Two lapels", 2, 0]]
    )
    assert list_devices() == (
        (
            Device("Monitor", "output", 2, True),
            Device("Headset", "input", 1, True),
            Device("Headset", "output", 2, False),
            Device("Two lapels", "input", 2, False),
        ),
        None,
    )


def test_where_there_is_no_device_a_sentence_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch, devices=[])
    found, sentence = list_devices()
    assert found == ()
    assert sentence is not None
    assert "plug in" in sentence
    assert "--typed" in sentence


def test_without_portaudio_the_package_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PretendDevices(tmp_path, monkeypatch, portaudio=False)
    found, sentence = list_devices()
    assert found == ()
    assert "libportaudio2" in (sentence or "")


def test_a_library_that_hangs_is_answered_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(devices, "_tell_devices", _hang)
    monkeypatch.setattr(devices, "ANSWER_WITHIN_S", 1.0)
    found, sentence = list_devices()
    assert found == ()
    assert "no answer in 1 s" in (sentence or "")


def _hang(_: object) -> None:
    import time

    time.sleep(3600)
