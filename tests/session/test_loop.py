"""The shell around the machine: a voice that fails is shown, kept, and holds nothing up."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.session.talk import WHOLE_CASE, shipped_case
from voicelist.session.events import Event, Stop, Utterance, Voice
from voicelist.session.loop import Session
from voicelist.session.machine import context_of
from voicelist.session.records import Answered, Record, Said
from voicelist.session.state import State
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import Understanding, understand

LOST = "The loudspeaker was lost."


@dataclass
class Kept:
    records: list[Record] = field(default_factory=list)

    def keep(self, record: Record) -> None:
        self.records.append(record)


@dataclass
class Mute:
    """A speaker that never gets a sound out and says so."""

    tried: list[str] = field(default_factory=list)

    def speak(self, text: str) -> tuple[float, str]:
        self.tried.append(text)
        return 0.0, LOST

    def tone(self) -> None:
        pass

    def adjust(self, pace: int, level: int) -> None:
        pass


@dataclass
class Screen:
    said_texts: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)

    def said(self, text: str) -> None:
        self.said_texts.append(text)

    def heard(self, understanding: Understanding, voice: Voice) -> None:
        pass

    def taken(self) -> None:
        pass

    def show(self, kind: str, text: str) -> None:
        if kind == "notice":
            self.notices.append(text)


@dataclass
class Team:
    """Says the lines of a whole case, then stops."""

    lines: list[str]
    heard_s: float = 0.0

    def next_event(self, state: State) -> Event:
        if not self.lines:
            return Stop("the sound is over")
        words = tuple(self.lines.pop(0).split())
        context = context_of(shipped_case(), state)
        return Utterance(understand([Hypothesis(words)], (), context), Voice("typed"))


def test_what_could_not_be_spoken_is_shown_and_kept_and_the_case_goes_on() -> None:
    kept, mute, screen = Kept(), Mute(), Screen()
    session = Session(shipped_case(), State(), kept, mute, Team(list(WHOLE_CASE)), screen)
    assert session.run().closed == "completed"
    said = [one for one in kept.records if isinstance(one, Said)]
    assert len(said) == len(mute.tried) == len(screen.said_texts) > 20
    assert {(one.seconds, one.problem) for one in said} == {(0.0, LOST)}
    assert [one.text for one in said] == screen.said_texts, "every call can be read"
    assert screen.notices.count(LOST) == len(said)
    answered = {one.item for one in kept.records if isinstance(one, Answered)}
    due = {one.id for one in session.case.items.values() if one.when != "toric lens"}
    assert answered == due
