"""Live microphones assembled: opened, gated or open while the assistant speaks, lines typed beside
them while nothing is heard."""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

from voicelist.activity import SILENCE_DBFS, Activity, WatchedSource, level_dBFS
from voicelist.answering_into import GatedEar, OpenEar
from voicelist.audio.microphone import Microphone
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.audio.two_microphones import TwoMicrophones
from voicelist.errors import UsageError
from voicelist.keys import Keys
from voicelist.listening.gate import MicrophoneGate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import Piece, SoundHearer, SoundSource
from voicelist.listening.sound_check import ASKS_FOR_WORDS, SoundCheck
from voicelist.listening.typed import TypedHearer
from voicelist.session.case import Case
from voicelist.session.state import State
from voicelist.status_line import meter
from voicelist.typed_beside import TypedBeside

# Two channels are two close microphones, in this order, unless other roles are named.
CHANNEL_ROLES = ("circulating-nurse", "surgeon")

_SHOWN_EVERY_SAMPLES = SAMPLE_RATE_HZ // 2

Hearing = Callable[[SoundSource], SoundHearer]


@dataclass(frozen=True, slots=True)
class Microphones:
    """Which microphones are heard: the default one, one by its name, or two. `two_channels`: the
    one has a channel for each of two people. `roles` are those of two channels, () for the usual
    ones. `headset`: none of them hears the loudspeaker. `check`: everybody is asked to say
    something before the case begins."""

    names: tuple[str, ...] = ()
    two_channels: bool = False
    roles: tuple[str, ...] = ()
    headset: bool = False
    check: bool = False

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
    names: tuple[str, ...] = ()

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
        hearer.microphones = self.room
        self.room.noticed = activity.equipment
        self.room.meanwhile = lambda: beside.line(hearer.each_pass)
        gated = self.ear if isinstance(self.ear, GatedEar) else self.ear.gated
        gated.hearer = hearer
        return hearer

    @property
    def channel_names(self) -> tuple[str, ...]:
        """By what people know each channel."""
        one_each = len(self.names) == self.room.channels
        return self.names if one_each else ("channel 1", "channel 2")

    def check(
        self, roles: Sequence[str], tell: Callable[[str], None], stopped: Callable[[], object]
    ) -> None:
        """Everybody says something, and is told how it is heard. News of the microphone is left for
        the case."""
        due: deque[Piece] = deque()

        def read() -> Piece | None:
            if not due:
                self.room.wait_for_sound()
                due.extend(self.room.sound_due())
            return due.popleft() if due else None

        everybody = roles or [""] * self.room.channels
        SoundCheck(read, tell, stopped).run(everybody, self.channel_names)

    def check_aloud(
        self,
        case: Case,
        show: Callable[[str], None],
        speak: Callable[[str], object],
        stopped: Callable[[], object],
    ) -> None:
        """The same with everybody asked aloud, by role."""

        def tell(text: str) -> None:
            show(text)
            if text.endswith(ASKS_FOR_WORDS):
                speak(text)

        self.check([case.text(f"role.{one}") for one in self.room.roles], tell, stopped)

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
    room = LiveRoom(heard, MicrophoneGate(), heard.channels)
    gated = GatedEar(room)
    names = heard.devices if isinstance(heard, TwoMicrophones) else (heard.device,)
    return LiveSound(room, OpenEar(gated) if wanted.headset else gated, names)


def shown_levels(live: LiveSound, seconds: float) -> Iterator[str]:
    """Twice a second a line for each channel: a row of cells and the level of the loudest 20 ms."""
    loudest = [SILENCE_DBFS] * live.room.channels
    taken = shown = 0
    while taken < seconds * SAMPLE_RATE_HZ:
        live.room.wait_for_sound()
        for piece in live.room.sound_due():
            taken += piece.samples.shape[1]
            levels = [level_dBFS(one[None]) for one in piece.samples]
            loudest = [max(pair) for pair in zip(loudest, levels, strict=True)]
        for event in live.room.news():
            yield event.what
        if taken - shown >= _SHOWN_EVERY_SAMPLES:
            shown = taken
            for name, level in zip(live.channel_names, loudest, strict=True):
                cells = meter(level, letters_alone=True)
                yield f"{name}  {cells}  {level:.0f} dBFS"
            loudest = [SILENCE_DBFS] * live.room.channels
