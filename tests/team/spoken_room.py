"""A case held by sound: lines are fed to the recogniser, and the session's own loop takes what they
amount to."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np

from tests.team.room import Room, case_of
from voicelist.asr.model import ModelPlace
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.listening.sound import PIECE_SAMPLES, Piece, SoundHearer
from voicelist.session.effects import Show
from voicelist.session.events import Equipment, Event, Voice
from voicelist.session.loop import Session
from voicelist.session.record_base import Record
from voicelist.session.state import State
from voicelist.understanding.interpretation import Understanding

ROLES = ("circulating-nurse", "surgeon")
# Longer than the recogniser waits for a sentence to go on (0.7 s), with what feeding may run ahead.
_QUIET_BEHIND_SAMPLES = int(0.9 * SAMPLE_RATE_HZ)
_SETTLED_WITHIN_S = 120.0
LINE_OVER = Equipment("team", "the line is over")


@dataclass(slots=True)
class Lines:
    """A sound source that plays what it is given to its end, then says so."""

    channels: int
    recogniser: RecogniserProcess
    position: int = 0
    _queue: Samples = field(default_factory=lambda: np.zeros((1, 0), np.int16))
    _settled: bool = True

    def play(self, samples: Samples, channel: int) -> None:
        self._queue = np.zeros((self.channels, samples.size + _QUIET_BEHIND_SAMPLES), np.int16)
        self._queue[min(channel, self.channels - 1), : samples.size] = samples
        self._settled = False

    def rest(self, seconds: float) -> None:
        self._queue = np.zeros((self.channels, int(seconds * SAMPLE_RATE_HZ)), np.int16)
        self._settled = False

    def cue(self, state: State) -> None:
        """Nothing: people finish their sentences."""

    def answered(self) -> None:
        """Nothing: as above."""

    def read(self) -> Piece | Event | None:
        if not self._queue.shape[1]:
            if self._settled:
                return LINE_OVER
            self._wait_for_the_ears()
        piece, self._queue = self._queue[:, :PIECE_SAMPLES], self._queue[:, PIECE_SAMPLES:]
        lacking = PIECE_SAMPLES - piece.shape[1]
        padded = np.pad(piece if piece.size else piece[: self.channels], ((0, 0), (0, lacking)))
        first, self.position = self.position, self.position + PIECE_SAMPLES
        return Piece(first, padded)

    def _wait_for_the_ears(self) -> None:
        """Whatever the machine's load, all that was said is decided before the line is over."""
        give_up_s = time.monotonic() + _SETTLED_WITHIN_S
        while self.recogniser.behind_samples > 0 and time.monotonic() < give_up_s:
            self.recogniser.wait(0.05)
        self._settled = True


class Listening:
    """The recogniser and the hearer of a plan, started once for all its cases."""

    def __init__(
        self, plan: str, first_section: str, model: ModelPlace, *, one_channel: bool
    ) -> None:
        self.case = case_of(plan, first_section)
        self.roles = () if one_channel else ROLES
        channels = 1 if one_channel else len(ROLES)
        self.recogniser = RecogniserProcess(wide_search_model(model), channels)
        self.lines = Lines(channels, self.recogniser)
        self.hearer = SoundHearer(
            self.case, self.recogniser, self.lines, self.roles, vocabulary(model.path)
        )

    def close(self) -> None:
        self.recogniser.close()


@dataclass(frozen=True, slots=True)
class Step:
    """One event: the state before, what was heard (None: nothing was) and what was kept."""

    before: State
    heard: Understanding | None
    voice: Voice | None
    records: tuple[Record, ...]
    after: State


class SpokenRoom(Room):
    """As `Room`, by sound. It is keeper, speaker and display of its session."""

    def __init__(self, listening: Listening) -> None:
        self.listening = listening
        self.last_heard: tuple[Understanding, Voice] | None = None
        self.session = Session(listening.case, State(), self, self, listening.hearer, _Screen(self))
        super().__init__(listening.case)

    def take(self, event: Event) -> list[str]:
        count, self.last_heard = len(self.said), None
        self.session.take(event)
        self.state = self.session.state
        return [text for _, text in self.said[count:]]

    def keep(self, record: Record) -> None:
        self.records.append(record)

    def speak(self, text: str) -> tuple[float, str]:
        self.said.append((self.session.state.current, text))
        return 0.0, ""

    def tone(self) -> None:
        self.tones += 1

    def adjust(self, pace: int, level: int) -> None:
        """Nobody listens to the assistant's voice here."""

    def hears(self, samples: Samples, channel: int) -> list[Step]:
        """A line is spoken; all that it led to."""
        self.listening.lines.play(samples, channel)
        return self._until_over()

    def rests(self, seconds: float) -> list[Step]:
        """Nobody speaks."""
        self.listening.lines.rest(seconds)
        return self._until_over()

    def _until_over(self) -> list[Step]:
        steps: list[Step] = []
        while not self.state.closed:
            event = self.listening.hearer.next_event(self.state)
            if event is LINE_OVER:
                return steps
            steps.append(self.step(event))
        self._play_out()
        return steps

    def step(self, event: Event) -> Step:
        before, count = self.state, len(self.records)
        self.take(event)
        heard, voice = self.last_heard or (None, None)
        return Step(before, heard, voice, tuple(self.records[count:]), self.state)

    def _play_out(self) -> None:
        """The case is closed: nobody listens to the rest of the line."""
        while self.listening.hearer.next_event(self.state) is not LINE_OVER:
            pass


@dataclass(slots=True)
class _Screen:
    """What the room sees."""

    room: SpokenRoom

    def said(self, text: str) -> None:
        """Seen and heard: kept once, by `speak`."""

    def heard(self, understanding: Understanding, voice: Voice) -> None:
        self.room.last_heard = (understanding, voice)

    def taken(self) -> None:
        """The tone is counted."""

    def show(self, kind: str, text: str) -> None:
        self.room.shown.append(Show(kind, text))
