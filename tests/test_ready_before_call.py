"""Nothing is called before it can be heard."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.command import PLAN, Command, voicelist
from tests.session.talk import shipped_case
from voicelist.asr.model import ModelPlace
from voicelist.audio.microphone import Block, MicrophoneLost, MicrophoneSilent
from voicelist.display import TerminalDisplay
from voicelist.errors import MissingPart
from voicelist.listening.gate import MicrophoneGate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import Piece, SoundHearer
from voicelist.session.events import Begin, Equipment
from voicelist.session.machine import step
from voicelist.session.order import heard_here
from voicelist.session.state import State

__all__ = ["voicelist"]


def test_the_recogniser_is_there_and_knows_the_phrases_before_the_first_word_is_spoken(
    voicelist: Command, speech_model: ModelPlace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert speech_model
    hearers: list[Any] = []
    at_first_word: list[tuple[float | None, object, tuple[str, ...]]] = []
    real_ready, real_said = SoundHearer.make_ready, TerminalDisplay.said

    def ready(self: SoundHearer, *arguments: Any) -> None:
        hearers.append(self)
        real_ready(self, *arguments)

    def said(self: TerminalDisplay, text: str) -> None:
        for one in hearers[len(at_first_word) :]:
            recogniser = one._recogniser
            at_first_word.append((recogniser.load_s, recogniser._listening, one._listening_to))
        real_said(self, text)

    monkeypatch.setattr(SoundHearer, "make_ready", ready)
    monkeypatch.setattr(TerminalDisplay, "said", said)
    room = tmp_path / "room.wav"
    soundfile.write(room, np.zeros(16_000, np.int16), 16_000)
    answer = voicelist("run", PLAN, "--audio", room, "--pace", "fast", "--voice", "none")
    assert answer.code == 0, answer.text
    ((load_s, listening, roots),) = at_first_word
    assert load_s is not None
    assert listening is not None
    case = shipped_case()
    assert roots == heard_here(case, step(case, State(), Begin())[0])


class RecogniserToBe:
    """Takes a few looks to be there, or never comes."""

    def __init__(self, looks: int, failure: MissingPart | None = None) -> None:
        self.load_s: float | None = None
        self.looks = looks
        self.failure = failure
        self.listened = 0

    def listen(self, grammar: object) -> int:
        self.listened += 1
        return self.listened

    def wait(self, timeout_s: float) -> None:
        self.looks -= 1
        if self.failure is not None:
            raise self.failure
        if self.looks <= 0:
            self.load_s = 0.1


class Quiet:
    channels = 1

    def cue(self, state: State) -> None: ...

    def answered(self) -> None: ...

    def read(self) -> None:
        return None


def hearer_with(recogniser: RecogniserToBe) -> SoundHearer:
    words = frozenset(shipped_case().grammar.vocabulary() | shipped_case().room.words())
    return SoundHearer(shipped_case(), recogniser, Quiet(), (), words)  # type: ignore[arg-type]  # stands in


@pytest.fixture(scope="module")
def first() -> State:
    return step(shipped_case(), State(), Begin())[0]


def test_it_is_waited_for_until_somebody_wants_to_stop(first: State) -> None:
    recogniser = RecogniserToBe(looks=3)
    hearer_with(recogniser).make_ready(first, lambda: "")
    assert (recogniser.listened, recogniser.looks) == (1, 0)
    never = RecogniserToBe(looks=1_000_000)
    asked: list[int] = []
    hearer_with(never).make_ready(first, lambda: asked.append(1) or len(asked) > 2)
    assert never.load_s is None


def test_what_cannot_be_started_ends_the_case_where_it_listens(first: State) -> None:
    hearer = hearer_with(RecogniserToBe(3, MissingPart("The recogniser cannot be kept running.")))
    hearer.make_ready(first, lambda: "")
    with pytest.raises(MissingPart, match="cannot be kept running"):
        hearer.next_event(first)


class Microphone:
    def __init__(self, *told: object) -> None:
        self.told = list(told)

    def read(self, timeout_s: float) -> object:
        return self.told.pop(0) if self.told else None


BLOCK = Block(0, np.ones((1, 512), np.int16), 5)


def live(*told: object) -> LiveRoom:
    return LiveRoom(Microphone(*told), MicrophoneGate(), 1)  # type: ignore[arg-type]  # stands in


def test_the_microphone_gives_sound_before_the_first_word() -> None:
    room = live(None, None, BLOCK, BLOCK)
    room.begin(lambda: False)
    assert isinstance(room.read(), Piece)


@pytest.mark.parametrize("news", [MicrophoneLost("it", "gone"), MicrophoneSilent("it", 0)])
def test_one_that_gives_none_is_told_at_once(news: object) -> None:
    room = live(None, news, BLOCK)
    room.begin(lambda: False)
    told = room.read()
    assert isinstance(told, Equipment)
    assert told.key == "cannot-hear"


def test_somebody_who_wants_to_stop_is_not_kept_waiting() -> None:
    live().begin(lambda: True)
