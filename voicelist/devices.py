"""The sound devices of this computer, asked for in a child process.

The sound library may hang, crash, or write to the terminal while it looks for devices.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from voicelist.child import ChildEnd, ChildLost, ask_once, hush

PORTAUDIO_MISSING = (
    "PortAudio is missing, without which there is no loudspeaker or microphone;"
    " on Debian and Ubuntu run: apt install libportaudio2"
)
NO_DEVICES = (
    "There is no sound device; plug in a microphone or headset and run `voicelist devices` again."
    " Until then use --typed, or --audio with a file."
)
ANSWER_WITHIN_S = 10.0


@dataclass(frozen=True, slots=True)
class Device:
    """One direction of a sound device. `default` marks the one used when none is named."""

    name: str
    kind: Literal["input", "output"]
    channels: int
    default: bool


def list_devices() -> tuple[tuple[Device, ...], str | None]:
    """The devices, and a sentence with a remedy when there is none or they cannot be listed."""
    answer = ask_once("list of sound devices", _tell_devices, timeout_s=ANSWER_WITHIN_S)
    if isinstance(answer, ChildLost):
        sentence = (
            f"The sound devices cannot be listed ({answer.reason}); unplug them and try again."
        )
        return (), sentence
    if isinstance(answer, str):
        return (), answer
    devices: tuple[Device, ...] = answer
    return devices, None if devices else NO_DEVICES


def _tell_devices(end: ChildEnd) -> None:
    hush()
    try:
        import sounddevice
    except OSError:
        end.send(f"{PORTAUDIO_MISSING}.")
        return
    default_input, default_output = sounddevice.default.device
    found: list[Device] = []
    for index, device in enumerate(sounddevice.query_devices()):
        name, inputs, outputs = (
            device["name"],
            device["max_input_channels"],
            device["max_output_channels"],
        )
        if inputs:
            found.append(Device(name, "input", inputs, index == default_input))
        if outputs:
            found.append(Device(name, "output", outputs, index == default_output))
    end.send(tuple(found))
