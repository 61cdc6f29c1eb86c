"""The command about sound devices, wiring only."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer

from voicelist.errors import MissingPart
from voicelist.microphone_options import MicNames, MicRoles, TwoChannels, microphones_of


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
    listen: Annotated[
        bool, typer.Option("--listen", help="Show how loud the microphones are, and check them.")
    ] = False,
    mic: MicNames = None,
    two_channels: TwoChannels = False,
    mic_roles: MicRoles = None,
    seconds: Annotated[
        float, typer.Option(min=0.5, max=600, help="With --listen, how long levels are shown.")
    ] = 5.0,
) -> None:
    """List microphones, loudspeakers and voices, or listen to the microphones."""
    if listen:
        _listen({"two_channels": two_channels, "mic_roles": mic_roles}, mic, seconds)
        return
    from voicelist.clinical.room import NEAR_IS_LOUD, room_words
    from voicelist.devices import list_devices
    from voicelist.speaking.voices import list_voices

    found, problem = list_devices()
    for device in found:
        mark = "  (default)" if device.default else ""
        typer.echo(f"{device.kind:6}  {device.channels} channel(s)  {device.name}{mark}")
    for voice in list_voices():
        if not voice.name.startswith("system:") or "/en" in voice.name:
            typer.echo(f"voice   {voice.name}: {voice.about}")
    typer.echo(NEAR_IS_LOUD if speech_index is None else room_words(speech_index))
    if problem:
        typer.echo(problem, err=True)
        sys.exit(MissingPart.exit_code)


def _listen(chosen: Mapping[str, Any], names: Sequence[str] | None, seconds: float) -> None:
    """Levels of each channel a few times a second, then the check of those who speak."""
    from voicelist.live_sound import CHANNEL_ROLES, open_microphones, shown_levels

    wanted = microphones_of({**chosen, "headset": False, "sound_check": True}, names)
    with contextlib.ExitStack() as stack:
        live = open_microphones(wanted, stack)
        for line in shown_levels(live, seconds):
            typer.echo(line)
        two = live.room.channels > 1
        roles = [one.replace("-", " ") for one in wanted.roles or CHANNEL_ROLES] if two else []
        live.check([one.capitalize() for one in roles], typer.echo, lambda: "")
