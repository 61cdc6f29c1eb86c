"""The shell around the machine: it hears, keeps, speaks and shows, one event at a time."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import dataclass

from voicelist.session.case import Case
from voicelist.session.effects import Adjust, Effect, Keep, Say, Show, Tone
from voicelist.session.events import Begin, Event, Stop, Utterance
from voicelist.session.machine import step
from voicelist.session.ports import Display, Hearer, Keeper, Speaker
from voicelist.session.records import Said
from voicelist.session.state import State
from voicelist.session.wording import spoken

_LOG = logging.getLogger(__name__)


@dataclass(slots=True)
class Session:
    """One case in the room. `run` returns the state in which it ended."""

    case: Case
    state: State
    keeper: Keeper
    speaker: Speaker
    hearer: Hearer
    display: Display

    def run(self) -> State:
        """Go on until the case is closed. An interrupt from the keyboard ends it as stopped."""
        if self.state.pace or self.state.level:
            self.speaker.adjust(self.state.pace, self.state.level)
        self.take(Begin())
        while not self.state.closed:
            try:
                event = self.hearer.next_event(self.state)
            except KeyboardInterrupt:
                event = Stop("interrupted")
            self.take(event)
        return self.state

    def take(self, event: Event) -> None:
        """One event through the machine, and its effects in order."""
        if isinstance(event, Utterance):
            self.display.heard(event.understanding, event.voice)
        self.state, effects = step(self.case, self.state, event)
        self._perform(effects)

    def _perform(self, effects: Iterable[Effect]) -> None:
        for effect in effects:
            match effect:
                case Keep():
                    self.keeper.keep(effect.record)
                case Say():
                    self._say(effect.text)
                case Tone():
                    self.display.taken()
                    self.speaker.tone()
                case Adjust():
                    self.speaker.adjust(effect.pace, effect.level)
                case Show():
                    self.display.show(effect.kind, effect.text)

    def _say(self, text: str) -> None:
        self.display.said(text)
        bundle = self.case.bundle
        seconds, problem = self.speaker.speak(spoken(bundle.sentences, bundle.lexicon, text))
        self.keeper.keep(Said(text, round(seconds, 3), problem))
        if problem:
            _LOG.warning("%s", problem)
            self.display.show("notice", problem)
