"""The shell around the machine: it hears, keeps, speaks and shows, one event at a time."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass, field

from voicelist.session.case import Case
from voicelist.session.effects import Adjust, Effect, Keep, Say, Show, Tone
from voicelist.session.events import Begin, Event, Stop, Utterance
from voicelist.session.machine import step
from voicelist.session.ports import (
    Display,
    Hearer,
    Keeper,
    NeverAsked,
    NoWatch,
    Speaker,
    Stopping,
    Watch,
)
from voicelist.session.record_base import Record
from voicelist.session.record_stopped import in_progress, tell_record_stopped
from voicelist.session.records import Said
from voicelist.session.spans import span_words
from voicelist.session.state import State, evolve
from voicelist.session.wording import spoken

_OF_THE_CLOCK = {
    "forward": "clock-forward",
    "back": "clock-back",
    "slept": "clock-slept",
    "stood-still": "clock-stood-still",
}


@dataclass(slots=True)
class Session:
    """One case in the room. `run` returns the state in which it ended; `remedy` is shown if the
    record fails."""

    case: Case
    state: State
    keeper: Keeper
    speaker: Speaker
    hearer: Hearer
    display: Display
    stopping: Stopping = field(default_factory=NeverAsked)
    watch: Watch = field(default_factory=NoWatch)
    remedy: str = ""
    _on_disk: State = field(init=False)
    _lost: bool = False

    def __post_init__(self) -> None:
        self._on_disk = self.state

    def run(self) -> State:
        """Go on until the case is closed. Whoever asks the program to stop ends it as stopped.

        Raises what the keeper raised if the record fails, and whatever was not expected: by then
        the room knows.
        """
        if self.state.pace or self.state.level:
            self.speaker.adjust(self.state.pace, self.state.level)
        try:
            if not self.stopping.reason:
                self.take(Begin())
            while not self.state.closed:
                self.take(self._next_event())
        except Exception:
            self._end_unexpectedly()
            raise
        return self.state

    def _end_unexpectedly(self) -> None:
        """A defect of the program is no reason to fall silent and leave the case open."""
        if not (self._lost or self.state.closed):
            with contextlib.suppress(Exception):
                self.take(Stop("the program met something that it did not expect"))

    def _next_event(self) -> Event:
        try:
            with self.stopping.breaking_in():
                event = self.hearer.next_event(self.state)
        except KeyboardInterrupt:
            event = Stop("interrupted")
        if isinstance(event, Stop):
            event = Stop(self.stopping.reason or event.reason)
            self.stopping.taken_up()
        return event

    def take(self, event: Event) -> None:
        """One event through the machine, and its effects in order."""
        if isinstance(event, Utterance):
            self.display.heard(event.understanding, event.voice)
        self.state, effects = step(self.case, self.state, event)
        self._perform(effects)

    def look_at_clocks(self) -> None:
        """Keep and show what has happened to the clocks since the last look."""
        if self.state.closed:
            return
        with self.stopping.held_back():
            for change in self.watch.look():
                self._write(change, ())
                text = self.case.text(_OF_THE_CLOCK[change.what], span=span_words(change.seconds))
                self.display.show("notice", text)

    def _perform(self, effects: tuple[Effect, ...]) -> None:
        for place, effect in enumerate(effects):
            match effect:
                case Keep():
                    self._keep(effect.record, effects[place + 1 :])
                case Say():
                    self._say(effect.text, effects[place + 1 :])
                case Tone():
                    self.display.taken()
                    self.speaker.tone()
                case Adjust():
                    self.speaker.adjust(effect.pace, effect.level)
                case Show():
                    self.display.show(effect.kind, effect.text)

    def _say(self, text: str, then: Iterable[Effect]) -> None:
        self.display.said(text)
        bundle = self.case.bundle
        seconds, problem = self.speaker.speak(spoken(bundle.sentences, bundle.lexicon, text))
        self._keep(Said(text, round(seconds, 3), problem), then)
        if problem:
            self.display.show("notice", problem)

    def _keep(self, record: Record, then: Iterable[Effect]) -> None:
        self.look_at_clocks()
        self._write(record, then)

    def _write(self, record: Record, then: Iterable[Effect]) -> None:
        """Nothing after a record that failed is acknowledged: the room is told, and it ends."""
        try:
            self.keeper.keep(record)
        except Exception:
            self._lost = True
            self.stopping.taken_up()
            later = (one.record for one in then if isinstance(one, Keep))
            item = in_progress(self._on_disk, (record, *later))
            tell_record_stopped(self.case, self.speaker, self.display, item, self.remedy)
            raise
        self._on_disk = evolve(self._on_disk, record)
