"""The microphone while the assistant speaks: gated, or open where it hears no loudspeaker."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import SoundHearer
from voicelist.session.events import Equipment
from voicelist.session.state import State

# Rendered sentences end with so much silence, and a little less of it is counted on.
_SILENT_END_S = 0.02
# So long somebody has to speak before the assistant falls silent: longer than a cough. Project
# choice.
_SPEAKS_S = 0.2
# Twice in a row is no chance: this microphone hears the loudspeaker.
_HEARD_ITSELF_AT_MOST = 2
HEARS_ITSELF = Equipment(
    "microphone", "it hears the loudspeaker, and is closed while the assistant speaks", "hears-me"
)


@dataclass(slots=True)
class GatedEar:
    """The gate is closed from the first sound to behind the last one, pauses between sentences
    included."""

    room: LiveRoom
    hearer: SoundHearer | None = None

    def speech_begins(self, text: str) -> None:
        self.room.speech_begins()
        if self.hearer is not None and text:
            self.hearer.own_speech.says(text, self.room.sample_now(), open_microphone=False)

    def somebody_speaks(self) -> bool:
        self.room.take_in()
        return False

    def speech_ended(self, *, broken_off: bool) -> None:
        self.room.speech_ended(0.0 if broken_off else _SILENT_END_S)
        if self.hearer is not None:
            self.hearer.own_speech.said(self.room.sample_now())


@dataclass(slots=True)
class OpenEar:
    """The microphone is never closed, until it turns out to hear the loudspeaker: then the gate is
    used after all, and that is told."""

    gated: GatedEar
    state: Callable[[], State] | None = None
    _behind_gate: bool = False
    _spoken_into: bool = field(default=False)

    @property
    def _hearer(self) -> SoundHearer | None:
        return None if self._behind_gate else self.gated.hearer

    def speech_begins(self, text: str) -> None:
        self._close_if_it_hears_itself()
        hearer = self._hearer
        if hearer is None or self.state is None:
            self.gated.speech_begins(text)
            return
        self._spoken_into = False
        if text:
            hearer.listen_for(self.state())
            hearer.own_speech.says(text, self.gated.room.sample_now(), open_microphone=True)

    def somebody_speaks(self) -> bool:
        hearer = self._hearer
        if hearer is None or self.state is None:
            return self.gated.somebody_speaks()
        self.gated.room.take_in()
        for piece in self.gated.room.sound_due():
            hearer.feed(piece)
        self._spoken_into = self._spoken_into or hearer.speaking_s() >= _SPEAKS_S
        return self._spoken_into

    def speech_ended(self, *, broken_off: bool) -> None:
        hearer = self._hearer
        if hearer is None or self.state is None:
            self.gated.speech_ended(broken_off=broken_off)
            return
        hearer.own_speech.said(self.gated.room.sample_now())
        hearer.asks_again_soon = self._spoken_into

    def _close_if_it_hears_itself(self) -> None:
        hearer = self._hearer
        if hearer is not None and hearer.own_speech.heard_itself >= _HEARD_ITSELF_AT_MOST:
            self._behind_gate = True
            self.gated.room.tell(HEARS_ITSELF)
