"""A stand-in for the sound library with pretend devices, put before the real one by tests.

What it does is read from the JSON file that VOICELIST_PRETEND names, at every step, so that a test
can pull a device out while it is in use. Keys, all optional: `portaudio` (false: missing),
`devices` (list of [name, inputs, outputs]), `rates` (rates accepted), `write` ("paced", "hangs",
"fails"), `played` (a file for the bytes written), `sound` (false: the microphone stops calling),
`silent` (names of devices that stop calling),
`value` (a constant that it hears instead of a tone), `rate` (the devices' own).
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


default = SimpleNamespace(device=[_first("max_input_channels"), _first("max_output_channels")])


def query_devices(device: str | int | None = None, kind: str | None = None) -> Any:
    if kind is None:
        return _devices()
    key = f"max_{kind}_channels"
    fitting = [one for one in _devices() if one[key] and device in (None, one["name"])]
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
        self._callback = callback
        self._name = _devices()[device]["name"]
        self._frame = 0

    def start(self) -> None:
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        due_s = time.monotonic()
        status = SimpleNamespace(input_overflow=False)
        count = round(self.samplerate * BLOCK_S)
        while _state().get("sound", True) and self._name not in _state().get("silent", []):
            due_s += BLOCK_S
            time.sleep(max(0.0, due_s - time.monotonic()))
            now_s = time.time()
            times = SimpleNamespace(currentTime=now_s, inputBufferAdcTime=now_s - BLOCK_S)
            self._callback(self._heard(count), count, times, status)

    def _heard(self, count: int) -> bytes:
        """Channel 0 has the tone (or the constant), channel 1 half of it."""
        constant = _state().get("value")
        values = []
        for frame in range(self._frame, self._frame + count):
            turn = 2 * math.pi * TONE_HZ * frame / self.samplerate
            full = round(10_000 * math.sin(turn)) if constant is None else constant
            values.extend((full, full // 2)[: self.channels])
        self._frame += count
        return struct.pack(f"<{len(values)}h", *values)
