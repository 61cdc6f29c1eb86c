"""A case held by typed lines, with everything that it led to."""

from __future__ import annotations

from functools import cache

from voicelist.documents.bundle import load_bundle
from voicelist.listening.typed import typed_words
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case
from voicelist.session.effects import Keep, Say, Show, Tone
from voicelist.session.events import Begin, Event, Silence, Utterance, Voice
from voicelist.session.machine import context_of, step
from voicelist.session.record_base import Record
from voicelist.session.state import State, evolve
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import understand


@cache
def case_of(plan: str, first_section: str = "") -> Case:
    """The case of a shipped plan."""
    return compile_case(load_bundle(shipped("grammars") / "plans" / f"{plan}.yaml"), first_section)


class Room:
    """`said` has what the assistant spoke, by the item that was current before; `records` all that
    was kept."""

    def __init__(self, case: Case, first: Record | None = None) -> None:
        self.case = case
        self.state = State() if first is None else evolve(State(), first)
        self.records: list[Record] = [] if first is None else [first]
        self.said: list[tuple[str, str]] = []
        self.shown: list[Show] = []
        self.tones = 0
        self.take(Begin())

    def take(self, event: Event) -> list[str]:
        """One event; the sentences that are spoken after it."""
        self.state, effects = step(self.case, self.state, event)
        spoken = [effect.text for effect in effects if isinstance(effect, Say)]
        self.records += [effect.record for effect in effects if isinstance(effect, Keep)]
        self.shown += [effect for effect in effects if isinstance(effect, Show)]
        self.tones += sum(isinstance(effect, Tone) for effect in effects)
        self.said += [(self.state.current, text) for text in spoken]
        return spoken

    def says(self, *lines: str, role: str = "") -> list[str]:
        """Somebody says the lines; what is spoken after the last."""
        reply: list[str] = []
        for line in lines:
            words = typed_words(line, "en")
            context = context_of(self.case, self.state)
            heard = understand([Hypothesis(words)], (), context)
            voice = Voice("typed", role, "typed" if role else "")
            reply = self.take(Utterance(heard, voice))
        return reply

    def waits(self, seconds: float) -> list[str]:
        return self.take(Silence(seconds))

    def status(self, item: str) -> str:
        return self.state.item(item).status
