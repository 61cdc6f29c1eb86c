"""Live microphones assembled: opened, gated or open while the assistant speaks, lines typed beside
them while nothing is heard."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Collection
from dataclasses import dataclass

from voicelist.activity import Activity, WatchedSource
from voicelist.answering_into import GatedEar, OpenEar
from voicelist.audio.microphone import Microphone
from voicelist.audio.two_microphones import TwoMicrophones
from voicelist.errors import UsageError
from voicelist.keys import Keys
from voicelist.listening.gate import Gate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import SoundHearer, SoundSource
from voicelist.listening.typed import TypedHearer
from voicelist.session.state import State
from voicelist.typed_beside import TypedBeside

# Two channels are two close microphones, in this order, unless other roles are named.
CHANNEL_ROLES = ("circulating-nurse", "surgeon")

Hearing = Callable[[SoundSource], SoundHearer]


@dataclass(frozen=True, slots=True)
class Microphones:
    """Which microphones are heard: the default one, one by its name, or two. `two_channels`: the
    one has a channel for each of two people. `roles` are those of two channels, () for the usual
    ones. `headset`: none of them hears the loudspeaker."""

    names: tuple[str, ...] = ()
    two_channels: bool = False
    roles: tuple[str, ...] = ()
    headset: bool = False

    def __post_init__(self) -> None:
        if len(self.names) > 2:
            raise UsageError("At most two microphones are heard: name --mic once or twice.")
        if self.two_channels and len(self.names) == 2:
            raise UsageError("Two microphones have a channel each: leave out --two-channels.")
        if self.roles and len(set(self.roles)) != 2:
            raise UsageError("Name two roles, with a comma between: --mic-roles NURSE,SURGEON.")

    def roles_among(self, known: Collection[str]) -> tuple[str, ...]:
        """Whose the two channels are in a list with these roles; nobody's where it has not the
        usual ones. Raises UsageError for a named one that it has not."""
        for role in self.roles:
            if role not in known:
                raise UsageError(
                    f"Nobody answers as {role} in this list: choose of {', '.join(known)}."
                )
        roles = self.roles or CHANNEL_ROLES
        return roles if set(roles).issubset(known) else ()


@dataclass(slots=True)
class LiveSound:
    """The room by its microphones, and what becomes of them while the assistant speaks."""

    room: LiveRoom
    ear: GatedEar | OpenEar

    def hearer(
        self,
        source: SoundSource,
        typed: TypedHearer,
        keys: Keys,
        activity: Activity,
        hearing: Hearing,
    ) -> SoundHearer:
        """A hearer of this room, or of what holds its sound (`source`)."""
        beside = TypedBeside(WatchedSource(source, activity), activity, typed, keys)
        hearer = hearing(beside)
        self.room.meanwhile = lambda: beside.line(hearer.each_pass)
        gated = self.ear if isinstance(self.ear, GatedEar) else self.ear.gated
        gated.hearer = hearer
        return hearer

    def asks_in(self, state: Callable[[], State]) -> None:
        """Where the case stands, for answers into a call."""
        if isinstance(self.ear, OpenEar):
            self.ear.state = state


def open_microphones(wanted: Microphones, stack: contextlib.ExitStack) -> LiveSound:
    """Raises MissingPart or UsageError where one of them cannot be heard."""
    heard: Microphone | TwoMicrophones
    if len(wanted.names) == 2:
        heard = TwoMicrophones(*wanted.names)
    else:
        heard = Microphone(next(iter(wanted.names), None), 2 if wanted.two_channels else 1)
    stack.callback(heard.close)
    room = LiveRoom(heard, Gate(), heard.channels)
    gated = GatedEar(room)
    return LiveSound(room, OpenEar(gated) if wanted.headset else gated)
