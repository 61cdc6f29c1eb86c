"""A stand-in for the sound server's client library, beside the pretend sound library.

Of the same JSON file the key `server` counts; without it there is no server. Its keys: `slow_s`
(how long an answer takes), `gives` ({device: source} where the server gives another source than the
device's own, which is the device's name with `.source`), `sources` (what it lists; by itself the
own sources of all devices).
"""

from __future__ import annotations

import os
import time
from types import SimpleNamespace
from typing import Any

import sounddevice


class PulseError(Exception):
    """As in the real library."""


class Pulse:
    def __init__(self, client: str, connect: bool = True) -> None: ...

    def __enter__(self) -> Pulse:
        return self

    def __exit__(self, *_: object) -> None: ...

    def connect(self, autospawn: bool = False, timeout: float | None = None) -> None:
        _server()

    def source_output_list(self) -> list[Any]:
        server = _server()
        time.sleep(server.get("slow_s", 0.0))
        device = sounddevice.now.recording_from
        if not device:
            return []
        source = server.get("gives", {}).get(device, f"{device}.source")
        process = {"application.process.id": str(os.getpid())}
        return [SimpleNamespace(source=source, proplist=process)]

    def source_list(self) -> list[Any]:
        devices = [name for name, inputs, _ in sounddevice._state().get("devices", []) if inputs]
        sources = _server().get("sources", [f"{name}.source" for name in devices])
        given = _server().get("gives", {}).values()
        return [SimpleNamespace(index=name, name=name) for name in {*sources, *given} if name]


def _server() -> dict[str, Any]:
    server: dict[str, Any] | None = sounddevice._state().get("server")
    if server is None:
        raise PulseError("Failed to connect to pulseaudio server")
    return server
