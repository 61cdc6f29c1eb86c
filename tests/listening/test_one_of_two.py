"""One of two microphones is lost: whose is told, the other goes on, and nobody is known by it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import cast

import numpy as np

from tests.listening.test_silence_after_speech import QuietRecogniser
from tests.session.talk import Talk
from voicelist.activity import Activity
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.utterance import DecodedUtterance
from voicelist.audio.microphone import (
    Block,
    MicrophoneBack,
    MicrophoneLost,
    MicrophoneSilent,
    Told,
)
from voicelist.listening.gate import MicrophoneGate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import Piece, SoundHearer
from voicelist.session.events import Equipment, Event
from voicelist.session.records import Noticed
from voicelist.understanding.hypothesis import Passes

ROLES = ("circulating-nurse", "surgeon")


class Microphones:
    def __init__(self) -> None:
        self.due: list[Told] = []
        self.sample = 0

    def both(self, nurse: int = 5, surgeon: int = 5) -> None:
        samples = np.stack([np.arange(320) % 2 * nurse, np.arange(320) % 2 * surgeon])
        self.due.append(Block(self.sample, samples.astype(np.int16), self.sample * 62_500))
        self.sample += 320

    def read(self, timeout_s: float) -> Told | None:
        return self.due.pop(0) if self.due else None


def room_of(*told: Told | str) -> tuple[LiveRoom, list[Piece | Event]]:
    """What the room gives, where "both" and "nurse" stand for sound."""
    microphones = Microphones()
    for one in told:
        if one == "both":
            microphones.both()
        elif one == "nurse":
            microphones.both(surgeon=0)
        else:
            microphones.due.append(cast(Told, one))
    room = LiveRoom(microphones, MicrophoneGate(), 2, roles=ROLES)
    room.take_in()
    given: list[Piece | Event] = []
    while room._due:
        given.append(room.read())  # type: ignore[arg-type]  # it never ends
    return room, given


LOST = MicrophoneLost("Lapel", "no sound comes from it", 1)


def test_it_is_told_whose_it_is_and_told_again_when_there_is_sound() -> None:
    _, given = room_of("both", LOST, "nurse", MicrophoneBack("Lapel", 2.0, 1), "nurse", "both")
    news = [one for one in given if isinstance(one, Equipment)]
    assert [(one.key, one.role, one.channel, one.heard) for one in news] == [
        ("role-not-heard", "surgeon", 1, False),
        ("role-heard-again", "surgeon", 1, True),
    ]
    assert isinstance(given[-2], Equipment)
    assert sum(isinstance(one, Piece) for one in given) == 4


def test_a_silent_one_that_is_then_lost_is_told_once_and_both_lost_are_deaf() -> None:
    _, given = room_of("both", MicrophoneSilent("Lapel", 1), LOST, "nurse")
    assert [one.key for one in given if isinstance(one, Equipment)] == ["role-not-heard"]
    _, given = room_of("both", LOST, MicrophoneLost("Other", "gone", 0))
    keys = [one for one in given if isinstance(one, Equipment)]
    assert [one.key for one in keys] == ["role-not-heard", "cannot-hear"]
    activity = Activity()
    for one in keys:
        activity.equipment(one)
    assert (activity.shown, activity.unheard) == ("not-listening", frozenset(ROLES))


def test_it_is_said_by_role_and_kept() -> None:
    talk = Talk()
    lost = Equipment("microphone", "Lapel: gone", "role-not-heard", 1, "surgeon")
    assert talk.take(lost) == ["Surgeon is not heard just now."]
    assert Noticed("microphone", "Lapel: gone") in talk.records
    back = Equipment("microphone", "back", "role-heard-again", 1, "surgeon", heard=True)
    assert talk.take(back) == ["Surgeon is heard again."]
    nobodys = Equipment("microphone", "gone", "microphone-not-heard", 1)
    assert talk.take(nobodys) == ["One microphone gives no sound. The other goes on."]


class Script:
    """Gives what it holds, then ends."""

    channels = 2

    def __init__(self, *told: Piece | Event) -> None:
        self.told = list(told)

    def cue(self, state: object) -> None: ...

    def answered(self) -> None: ...

    def read(self) -> Piece | Event | None:
        return self.told.pop(0) if self.told else None


def role_from(hearer: SoundHearer, from_s: float) -> str:
    """By whose microphone somebody is known who began then."""
    first = round(from_s * 16_000)
    return hearer._role_by_channel(DecodedUtterance(0, 1, first, first, first, Passes(())))


def test_nobody_is_known_by_one_microphone_until_both_are_heard_from_the_beginning() -> None:
    talk = Talk()
    lost = Equipment("microphone", "gone", "role-not-heard", 1, "surgeon")
    back = Equipment("microphone", "back", "role-heard-again", 1, "surgeon", heard=True)
    second = np.zeros((2, 16_000), np.int16)
    source = Script(Piece(0, second), lost, Piece(16_000, second), back, Piece(32_000, second))
    recogniser = cast(RecogniserProcess, QuietRecogniser())
    hearer = SoundHearer(talk.case, recogniser, source, ROLES, frozenset())

    role = partial(role_from, hearer)
    assert role(0.0) == "circulating-nurse"
    assert hearer.next_event(talk.state) == lost
    assert role(0.0) == "", "it may have been heard by one alone"
    assert hearer.next_event(talk.state) == back
    assert role(1.5) == "", "begun before both were heard"
    assert role(2.0) == "circulating-nurse"


def test_nobody_is_known_while_it_is_not_known_whose_sound_it_is() -> None:
    talk = Talk()
    second = np.zeros((2, 16_000), np.int16)
    lost = Equipment("microphone", "gone", "cannot-hear")
    source = Script(Piece(0, second), Piece(16_000, second, source_known=False), lost)
    hearer = SoundHearer(
        talk.case, cast(RecogniserProcess, QuietRecogniser()), source, ROLES, frozenset()
    )
    role = partial(role_from, hearer)
    assert hearer.next_event(talk.state) == lost
    assert [role(0.0), role(1.9), role(2.0)] == ["", "", "circulating-nurse"]


def test_one_whose_source_is_not_known_makes_both_unknown_until_it_is() -> None:
    microphones = Microphones()
    microphones.both()
    microphones.both()
    microphones.due[1] = replace(cast(Block, microphones.due[1]), source_known=False)
    room = LiveRoom(microphones, MicrophoneGate(), 2, roles=ROLES)
    room.take_in()
    assert [one.source_known for one in room.sound_due()] == [True, False]
