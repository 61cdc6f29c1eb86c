"""The microphone while the assistant speaks: gated, or open until it turns out to hear itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tests.session.talk import shipped_case
from voicelist.answering_into import HEARS_ITSELF, GatedEar, OpenEar
from voicelist.audio.microphone import Block, MicrophoneLost, Told
from voicelist.listening.gate import MicrophoneGate
from voicelist.listening.own_speech import OwnSpeech
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import Piece
from voicelist.session.case import is_harmless
from voicelist.session.events import Equipment
from voicelist.session.state import State

NS = 1_000_000_000
CALL = "firm or loose the irrigation line"


class Microphone:
    """Gives what it is told, each block as of now."""

    def __init__(self, clock: Callable[[], int]) -> None:
        self.clock, self.sample = clock, 0
        self.due: list[Told] = []

    def hears(self, blocks: int, level: int = 5) -> None:
        for number in range(blocks):
            at_ns = self.clock() - (blocks - number) * NS // 50
            self.due.append(Block(self.sample, np.full((1, 320), level, np.int16), at_ns))
            self.sample += 320

    def read(self, timeout_s: float) -> Told | None:
        return self.due.pop(0) if self.due else None


class Hearer:
    """Counts what it is fed; `speaks` is how long somebody has been speaking."""

    def __init__(self) -> None:
        self.own_speech = OwnSpeech(is_harmless, shipped_case().natural.names_thing)
        self.fed: list[Piece] = []
        self.listened: list[State] = []
        self.speaks, self.asks_again_soon = 0.0, False

    def feed(self, piece: Piece) -> None:
        self.fed.append(piece)

    def listen_for(self, state: State) -> None:
        self.listened.append(state)

    def speaking_s(self) -> float:
        return self.speaks


class Scene:
    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now_ns = 100 * NS
        monkeypatch.setattr("time.monotonic_ns", lambda: self.now_ns)
        self.microphone = Microphone(lambda: self.now_ns)
        self.noticed: list[Equipment] = []
        self.room = LiveRoom(self.microphone, MicrophoneGate(), 1, noticed=self.noticed.append)
        self.hearer: Any = Hearer()
        self.gated = GatedEar(self.room, self.hearer)
        self.open = OpenEar(self.gated, lambda: State(current="irrigation-line"))

    def passes(self, seconds: float, level: int = 5) -> None:
        self.now_ns += round(seconds * NS)
        self.microphone.hears(round(seconds * 50), level)


@pytest.fixture
def scene(monkeypatch: pytest.MonkeyPatch) -> Scene:
    return Scene(monkeypatch)


def test_behind_the_gate_nothing_is_fed_and_the_microphone_is_read_all_the_same(
    scene: Scene,
) -> None:
    scene.passes(1.0)
    scene.gated.speech_begins(CALL)
    assert all(one.before_speech for one in scene.room.sound_due())
    scene.passes(2.0, level=3_000)
    assert not scene.gated.somebody_speaks()
    assert not scene.microphone.due
    assert not scene.room.sound_due()
    scene.gated.speech_ended(broken_off=False)
    scene.passes(0.5)
    scene.room.take_in()
    assert scene.room.sound_due()[0].whole_from is not None
    assert not scene.hearer.fed


def test_with_a_headset_somebody_who_speaks_makes_it_fall_silent_and_is_heard(
    scene: Scene,
) -> None:
    scene.open.speech_begins(CALL)
    assert scene.hearer.listened == [State(current="irrigation-line")]
    scene.passes(0.5)
    assert not scene.open.somebody_speaks()
    assert len(scene.hearer.fed) == 25
    scene.hearer.speaks = 0.1
    assert not scene.open.somebody_speaks(), "a cough is no answer"
    scene.hearer.speaks = 0.25
    assert scene.open.somebody_speaks()
    scene.hearer.speaks = 0.0
    assert scene.open.somebody_speaks(), "what was broken off stays so"
    scene.open.speech_ended(broken_off=True)
    assert scene.hearer.asks_again_soon


def test_a_microphone_that_hears_the_loudspeaker_after_all_is_gated_and_that_is_told(
    scene: Scene,
) -> None:
    scene.hearer.own_speech.heard_itself = 2
    scene.open.speech_begins(CALL)
    scene.passes(0.5)
    scene.hearer.speaks = 1.0
    assert not scene.open.somebody_speaks()
    assert not scene.hearer.fed
    assert scene.room.read() == HEARS_ITSELF


def test_a_loss_while_the_assistant_speaks_is_known_at_once_and_told_behind_it(
    scene: Scene,
) -> None:
    scene.passes(1.0)
    scene.gated.speech_begins(CALL)
    scene.microphone.due.append(MicrophoneLost("Headset", "no sound comes from it"))
    scene.gated.somebody_speaks()
    (lost,) = scene.noticed
    assert lost.key == "cannot-hear"
    scene.gated.speech_ended(broken_off=False)
    told = [scene.room.read() for _ in range(51)]
    assert told[-1] == lost
