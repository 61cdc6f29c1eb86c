"""Silence begins when the assistant has stopped speaking, not when it began."""

from __future__ import annotations

from typing import cast

import numpy as np

from tests.session.talk import Talk
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.listening.sound import PIECE_SAMPLES, Piece, SoundHearer
from voicelist.session.events import Silence
from voicelist.session.state import State

RATE_HZ = 16_000


class QuietRecogniser:
    """Takes everything in at once and hears nothing."""

    behind_samples = 0

    def listen(self, grammar: object) -> None: ...

    def feed(self, channel: int, samples: object, first_sample: int) -> None: ...

    def skip(self, channel: int, samples: int) -> None: ...

    def wait(self, timeout_s: float) -> None: ...

    def poll(self, timeout_s: float) -> None: ...

    def reached_sample(self, channel: int) -> int:
        return 0

    def open_from_sample(self, channel: int) -> None: ...


class GatedRoom:
    """A silent room; before the first piece the assistant spoke for some seconds."""

    channels = 1

    def __init__(self, spoke_s: float) -> None:
        self.position = round(spoke_s * RATE_HZ)

    def cue(self, state: State) -> None: ...

    def answered(self) -> None: ...

    def read(self) -> Piece:
        first, self.position = self.position, self.position + PIECE_SAMPLES
        return Piece(first, np.zeros((1, PIECE_SAMPLES), np.int16))


def test_the_assistants_own_speech_is_no_silence() -> None:
    talk, room = Talk(), GatedRoom(spoke_s=6.5)
    hearer = SoundHearer(
        talk.case, cast(RecogniserProcess, QuietRecogniser()), room, (), frozenset()
    )
    event = hearer.next_event(talk.state)
    assert isinstance(event, Silence)
    assert event.seconds >= 8.0
    assert room.position / RATE_HZ >= 6.5 + 8.0
