"""The command about sound devices, wiring only."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from voicelist.errors import MissingPart


def register(app: typer.Typer) -> None:
    """Add it to the command line."""
    app.command()(devices)


def devices(
    speech_index: Annotated[
        float | None,
        typer.Option(
            min=0, max=1, help="Speech transmission index of the room, if somebody measured it."
        ),
    ] = None,
) -> None:
    """List microphones, loudspeakers and voices."""
    from voicelist.clinical.room import NEAR_IS_LOUD, room_words
    from voicelist.devices import list_devices
    from voicelist.speaking.voices import list_voices

    found, problem = list_devices()
    for device in found:
        mark = "  (default)" if device.default else ""
        print(f"{device.kind:6}  {device.channels} channel(s)  {device.name}{mark}")
    for voice in list_voices():
        if not voice.name.startswith("system:") or "/en" in voice.name:
            print(f"voice   {voice.name}: {voice.about}")
    print(NEAR_IS_LOUD if speech_index is None else room_words(speech_index))
    if problem:
        print(problem, file=sys.stderr)
        sys.exit(MissingPart.exit_code)
