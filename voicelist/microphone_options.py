"""The options of commands about microphones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer

MicNames = Annotated[
    list[str] | None,
    typer.Option("--mic", help="The microphone, by its name; twice for two people's."),
]
TwoChannels = Annotated[
    bool,
    typer.Option(
        "--two-channels/--one-channel", help="The microphone has a channel for each of two people."
    ),
]
MicRoles = Annotated[
    str | None,
    typer.Option("--mic-roles", help="Whose two channels are: circulating-nurse,surgeon."),
]
Headset = Annotated[
    bool,
    typer.Option(
        "--headset/--no-headset",
        help="Answers may begin while the assistant speaks: no microphone hears its loudspeaker"
        " (a headset, or the system cancels the echo).",
    ),
]
Check = Annotated[
    bool,
    typer.Option(
        "--sound-check/--no-sound-check",
        help="Before the case everybody says one two three, and is told how it is heard.",
    ),
]


def microphones_of(chosen: Mapping[str, Any], names: Sequence[str] | None) -> Any:
    """Which microphones the options of a command mean."""
    from voicelist.live_sound import Microphones

    roles = (one.strip() for one in (chosen["mic_roles"] or "").split(","))
    return Microphones(
        tuple(names or ()),
        chosen["two_channels"],
        tuple(one for one in roles if one),
        chosen["headset"],
        chosen["sound_check"],
    )
