"""The partner in the room: its lines typed, or spoken in another voice than the assistant's and
heard like anybody's."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import cycle

import numpy as np

from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.errors import MissingPart, SoundError
from voicelist.gated_speaker import Ear
from voicelist.listening.sound import PIECE_SAMPLES, Piece, SoundSource
from voicelist.listening.typed import TypedHearer
from voicelist.practice.partner import TYPED, Before, Part, PartnerLine, next_line
from voicelist.session.case import Case
from voicelist.session.events import Event, Stop
from voicelist.session.ports import nothing
from voicelist.session.state import State
from voicelist.speaking.playing import Loudspeaker
from voicelist.speaking.rendering import Failure, Renderer
from voicelist.speaking.speaker import never
from voicelist.speaking.speech import Sound
from voicelist.speaking.voices import SYSTEM, VoiceChoice, list_voices, voice_named

NOT_UNDERSTOOD = "the partner was not understood, however often it said it"
# A person takes a moment before answering (turn gaps of about 200 ms; Levinson & Torreira 2015).
_MOMENT_SAMPLES = int(0.2 * SAMPLE_RATE_HZ)
# Longer than the recogniser waits for a sentence to go on (0.7 s).
_QUIET_BEHIND_SAMPLES = int(0.9 * SAMPLE_RATE_HZ)
_TRIED_BY = 3
# Voices that are told apart well, the first ones first; from memory.
_LIKED = ("system:gmw/en-gb-x-rp", "system:gmw/en-us", "hibari", "system:gmw/en-gb-scotland")


@dataclass(slots=True)
class Partner:
    """Says the next line of its part, and tells whoever wants to know."""

    case: Case
    part: Part
    tell: Callable[[PartnerLine], None]
    before: Before = field(default_factory=Before)

    def next(self, state: State) -> PartnerLine | None:
        line, self.before = next_line(self.case, state, self.part, self.before)
        if line is not None:
            self.tell(line)
        return line


@dataclass(slots=True)
class TypedPartner:
    """A hearer: the partner's lines as if typed, everybody else's from `typed`."""

    partner: Partner
    typed: TypedHearer
    each_pass: Callable[[], None] = nothing

    @property
    def heard_s(self) -> float:
        return 0.0

    def next_event(self, state: State) -> Event:
        self.typed.each_pass = self.each_pass
        line = self.partner.next(state)
        if line is not None:
            event = self.typed.event_of(f"{line.role}: {line.text}", state)
            return event or self.next_event(state)
        if self.partner.part.everyone:
            return Stop(NOT_UNDERSTOOD)
        return self.typed.next_event(state)


class PartnerVoices:
    """A voice for each role, made of the voices given, in turn. Close it when done."""

    def __init__(self, choices: Sequence[VoiceChoice], roles: Sequence[str]) -> None:
        self._renderers = {one.name: Renderer(one) for one in choices}
        self._of_role = dict(zip(roles, cycle(self._renderers.values()), strict=False))

    def sound_of(self, role: str, text: str) -> Sound:
        """Raises SoundError where the voice does not make it."""
        found = self._of_role[role].sound_of(text, never)
        if not isinstance(found, Sound):
            why = found.sentence if isinstance(found, Failure) else "It was interrupted."
            raise SoundError(f"The partner cannot speak. {why} Or type: --typed.")
        return found

    def close(self) -> None:
        for renderer in self._renderers.values():
            renderer.close()


def partner_voices(assistant: str | None, wanted: Sequence[str], count: int) -> list[VoiceChoice]:
    """The voices of a partner: those wanted, or `count` others than the assistant's. Raises
    UsageError for a voice that there is not, MissingPart where there is none."""
    if wanted:
        return [voice_named(one) for one in wanted]
    return [voice_named(one) for one in other_voices(assistant)[:count]]


def trial_voices(wanted: Sequence[str]) -> list[VoiceChoice]:
    """Three voices to try wordings with, those wanted first."""
    names = dict.fromkeys((*wanted, *other_voices("none")))
    return [voice_named(one) for one in list(names)[:_TRIED_BY]]


def other_voices(assistant: str | None) -> list[str]:
    """The voices besides the assistant's, those that are told apart well first. Raises MissingPart
    where there is none."""
    there = [one.name for one in list_voices()]
    own = (assistant or "hibari").strip().lower()
    english = [one for one in there if one.startswith(f"{SYSTEM.name}:") and "/en" in one]
    names = dict.fromkeys((*(one for one in _LIKED if one in there), *english))
    others = [one for one in names if one != own]
    if not others:
        raise MissingPart(
            "There is no second voice for the partner: install espeak-ng, or type with --typed."
        )
    return others


@dataclass(slots=True)
class PartnerRoom:
    """A sound source of one channel: the partner's lines where it is its turn, and otherwise the
    room's own sound; without a room silence, until the partner has nothing more to say. What was
    not heard, however often it was said, it types."""

    partner: Partner
    voices: PartnerVoices
    room: SoundSource | None
    play: Callable[[Sound], None]
    as_spoken: Callable[[str], str]
    typed: TypedHearer
    channels: int = 1
    _state: State = field(default_factory=State)
    _due: bool = False
    _over: bool = False
    _queue: Samples = field(default_factory=lambda: np.zeros(0, np.int16))
    _position: int = 0
    _of_room: int = 0

    def cue(self, state: State) -> None:
        self._state, self._due = state, True
        if self.room is not None:
            self.room.cue(state)

    def answered(self) -> None:
        if self._queue.size <= _QUIET_BEHIND_SAMPLES:
            self._queue = self._queue[:0]
        if self.room is not None:
            self.room.answered()

    def read(self) -> Piece | Event | None:
        if self._due and not self._queue.size:
            self._due = False
            line = self.partner.next(self._state)
            if line is not None and line.purpose == TYPED:
                return self.typed.event_of(f"{line.role}: {line.text}", self._state)
            self._begin(line)
        if self._queue.size:
            samples, self._queue = self._queue[:PIECE_SAMPLES], self._queue[PIECE_SAMPLES:]
            return self._piece(np.pad(samples, (0, PIECE_SAMPLES - samples.size))[np.newaxis])
        if self.room is not None:
            return self._of_the_room(self.room)
        return None if self._over else self._piece(np.zeros((1, PIECE_SAMPLES), np.int16))

    def _begin(self, line: PartnerLine | None) -> None:
        if line is None:
            self._over = True
            return
        sound = self.voices.sound_of(line.role, self.as_spoken(line.text))
        self.play(sound)
        said = np.frombuffer(sound.pcm, np.int16)
        self._queue = np.pad(said, (_MOMENT_SAMPLES, _QUIET_BEHIND_SAMPLES))

    def _piece(self, samples: Samples) -> Piece:
        first, self._position = self._position, self._position + samples.shape[1]
        return Piece(first, samples)

    def _of_the_room(self, room: SoundSource) -> Piece | Event | None:
        """The room's next piece on our own count of samples; its gaps stay gaps."""
        told = room.read()
        if not isinstance(told, Piece):
            return told
        self._position += max(0, told.first_sample - self._of_room)
        self._of_room = told.first_sample + told.samples.shape[1]
        return self._piece(told.samples[:1])


def played_on(loudspeaker: Loudspeaker | None, ear: Ear) -> Callable[[Sound], None]:
    """Plays the partner's lines, the microphone gated; without a loudspeaker there is nothing to
    wait for."""

    def play(sound: Sound) -> None:
        if loudspeaker is not None:
            ear.speech_begins("")
            loudspeaker.play(sound, ear.somebody_speaks)
            ear.speech_ended(broken_off=False)

    return play


def roles_played(roles: Mapping[str, str], play: Sequence[str]) -> frozenset[str]:
    """The roles of a list that are named: by id, by words, or `nurse` for each that ends so."""
    return frozenset(
        role for role, words in roles.items() if any(_is_named(one, role, words) for one in play)
    )


def _is_named(name: str, role: str, words: str) -> bool:
    named = name.strip().lower().replace(" ", "-")
    return named in (role, words.replace(" ", "-")) or role.endswith(f"-{named}")
