"""A stand-in for the sound library with pretend devices, put before the real one by tests.

What it does is read from the JSON file that VOICELIST_PRETEND names, at every step, so that a test
can pull a device out while it is in use. Keys, all optional: `portaudio` (false: missing),
`devices` (list of [name, inputs, outputs]), `rates` (rates accepted), `write` ("paced", "hangs",
"fails"), `played` (a file for the bytes written), `sound` (false: the microphone stops calling),
`silent` (names of devices that stop calling), `stalled` (names of devices that call no more until
they are taken out again), `overflow` (names of devices that have just lost some sound),
`opens` ({name: "hangs" or "fails"}), `listing` ("hangs" or "fails", after the first time),
`value` (a constant that it hears instead of a tone; by name, where it is a mapping), `rate` (the
devices' own), `looks` (a file that grows by a line with each look for devices).
"""

from __future__ import annotations

import json
import math
import os
import struct
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

BLOCK_S = 0.02
TONE_HZ = 440.0


class PortAudioError(Exception):
    """As in the real library."""


def _state() -> dict[str, Any]:
    for _ in range(5):
        try:
            found: dict[str, Any] = json.loads(Path(os.environ["VOICELIST_PRETEND"]).read_text())
            return found
        except json.JSONDecodeError:
            time.sleep(0.01)
    return {}


if not _state().get("portaudio", True):
    raise OSError("PortAudio library not found")


def _devices() -> list[dict[str, Any]]:
    return [
        {
            "name": name,
            "index": index,
            "max_input_channels": inputs,
            "max_output_channels": outputs,
            "default_samplerate": float(_state().get("rate", 48_000)),
        }
        for index, (name, inputs, outputs) in enumerate(_state().get("devices", []))
    ]


def _first(key: str) -> int:
    return next((one["index"] for one in _devices() if one[key]), -1)


def _initialize() -> None:
    """As in the real library, which lists the devices once, when it begins."""
    how = _state().get("listing", "")
    if how == "hangs":
        time.sleep(3600)
    if how == "fails":
        raise PortAudioError("Host API not found")
    now.listed = _devices()


def _terminate() -> None:
    now.listed = None


def _noted_look() -> None:
    if looks := _state().get("looks"):
        with Path(looks).open("a") as file:
            file.write(f"{os.getpid()}\n")


# `recording_from` is the device of the stream that is open; for the pretend sound server.
now = SimpleNamespace(listed=_devices(), recording_from="")
default = SimpleNamespace(device=[_first("max_input_channels"), _first("max_output_channels")])


def query_devices(device: str | int | None = None, kind: str | None = None) -> Any:
    if now.listed is None:
        raise PortAudioError("PortAudio not initialized")
    if kind is None:
        _noted_look()
        return now.listed
    key = f"max_{kind}_channels"
    fitting = [one for one in now.listed if one[key] and device in (None, one["name"])]
    if not fitting:
        raise ValueError(f"No {kind} device matching {device!r}")
    return fitting[0]


class _Stream:
    def __init__(self, samplerate: int, channels: int) -> None:
        if samplerate not in _state().get("rates", [samplerate]):
            raise PortAudioError("Invalid sample rate")
        self.samplerate = float(samplerate)
        self.channels = channels
        self.latency = 0.04

    def __enter__(self) -> _Stream:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None: ...

    def abort(self, ignore_errors: bool = True) -> None: ...

    def close(self, ignore_errors: bool = True) -> None: ...


class RawOutputStream(_Stream):
    def __init__(
        self,
        samplerate: int,
        blocksize: int,
        device: str | None,
        channels: int,
        dtype: str,
        latency: float,
    ) -> None:
        super().__init__(samplerate, channels)
        self._due_s = 0.0

    def write(self, data: bytes) -> bool:
        how = _state().get("write", "paced")
        if how == "hangs":
            time.sleep(3600)
        if how == "fails":
            raise PortAudioError("Unanticipated host error")
        if played := _state().get("played"):
            with Path(played).open("ab") as file:
                file.write(data)
        now_s = time.monotonic()
        self._due_s = max(self._due_s, now_s) + len(data) / 2 / self.channels / self.samplerate
        time.sleep(max(0.0, self._due_s - self.latency - now_s))
        return False


class RawInputStream(_Stream):
    def __init__(
        self,
        samplerate: int,
        blocksize: int,
        device: int,
        channels: int,
        dtype: str,
        callback: Any,
    ) -> None:
        super().__init__(samplerate, channels)
        assert now.listed is not None
        self._callback = callback
        self._name = now.listed[device]["name"]
        self._frame = 0
        self._closed = False
        here = [one["name"] for one in _devices()]
        how = _state().get("opens", {}).get(self._name, "")
        if how == "hangs":
            time.sleep(3600)
        if how == "fails" or self._name not in here:
            raise PortAudioError("Device unavailable")

    def start(self) -> None:
        now.recording_from = self._name
        threading.Thread(target=self._run, daemon=True).start()

    def close(self, ignore_errors: bool = True) -> None:
        now.recording_from = ""
        self._closed = True

    def _run(self) -> None:
        due_s = time.monotonic()
        status = SimpleNamespace(input_overflow=False)
        count = round(self.samplerate * BLOCK_S)
        while not self._closed and (state := _state()).get("sound", True):
            if self._name in state.get("silent", []):
                return
            due_s += BLOCK_S
            time.sleep(max(0.0, due_s - time.monotonic()))
            if self._name in state.get("stalled", []):
                continue
            status.input_overflow = self._name in state.get("overflow", [])
            now_s = time.time()
            times = SimpleNamespace(currentTime=now_s, inputBufferAdcTime=now_s - BLOCK_S)
            self._callback(self._heard(count), count, times, status)

    def _heard(self, count: int) -> bytes:
        """Channel 0 has the tone (or the constant), channel 1 half of it."""
        constant = _state().get("value")
        if isinstance(constant, dict):
            constant = constant.get(self._name)
        values = []
        for frame in range(self._frame, self._frame + count):
            turn = 2 * math.pi * TONE_HZ * frame / self.samplerate
            full = round(10_000 * math.sin(turn)) if constant is None else constant
            values.extend((full, full // 2)[: self.channels])
        self._frame += count
        return struct.pack(f"<{len(values)}h", *values)
