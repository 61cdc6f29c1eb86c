"""Live microphones assembled: opened, gated or open while the assistant speaks, lines typed beside
them while nothing is heard."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass

from voicelist.activity import Activity, WatchedSource
from voicelist.answering_into import GatedEar, OpenEar
from voicelist.audio.microphone import Microphone
from voicelist.keys import Keys
from voicelist.listening.gate import Gate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import SoundHearer, SoundSource
from voicelist.listening.typed import TypedHearer
from voicelist.session.state import State
from voicelist.typed_beside import TypedBeside

Hearing = Callable[[SoundSource], SoundHearer]


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


def open_microphone(device: str | None, stack: contextlib.ExitStack, *, headset: bool) -> LiveSound:
    """Raises MissingPart or UsageError where it cannot be heard."""
    microphone = Microphone(device, 1)
    stack.callback(microphone.close)
    room = LiveRoom(microphone, Gate(), 1)
    gated = GatedEar(room)
    return LiveSound(room, OpenEar(gated) if headset else gated)
