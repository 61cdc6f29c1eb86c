"""A typed conversation with the machine, for tests: no sound, no clock, no disk."""

from __future__ import annotations

from functools import cache

from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.places import shipped
from voicelist.session.case import Case, compile_case
from voicelist.session.effects import Keep, Say, Show, Tone
from voicelist.session.events import Begin, Event, Silence, Utterance, Voice
from voicelist.session.machine import context_of, step
from voicelist.session.record_base import Record
from voicelist.session.state import State
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import Understanding, understand


@cache
def shipped_bundle(plan: str = "practice-007") -> Bundle:
    return load_bundle(shipped("grammars") / "plans" / f"{plan}.yaml")


@cache
def shipped_case(plan: str = "practice-007", first_section: str = "") -> Case:
    return compile_case(shipped_bundle(plan), first_section)


class Talk:
    """A case begun; `says` returns what the assistant says in reply."""

    def __init__(
        self, first_section: str = "", plan: str = "practice-007", case: Case | None = None
    ) -> None:
        self.case = case or shipped_case(plan, first_section)
        self.state = State()
        self.records: list[Record] = []
        self.said: list[str] = []
        self.tones = 0
        self.shown: list[Show] = []
        self.take(Begin())

    def take(self, event: Event) -> list[str]:
        """One event; returns the sentences that follow it."""
        self.state, effects = step(self.case, self.state, event)
        said = [effect.text for effect in effects if isinstance(effect, Say)]
        self.records += [effect.record for effect in effects if isinstance(effect, Keep)]
        self.tones += sum(isinstance(effect, Tone) for effect in effects)
        self.shown += [effect for effect in effects if isinstance(effect, Show)]
        self.said += said
        return said

    def hears(self, words: str, *, second_look: str = "") -> Understanding:
        """What the words would be understood as now."""
        hypothesis = Hypothesis(tuple(words.split()))
        second = [Hypothesis(tuple(second_look.split()))] if second_look else []
        return understand([hypothesis], second, context_of(self.case, self.state))

    def says(self, *lines: str, role: str = "", second_look: str = "") -> list[str]:
        """Somebody says the lines one after the other; the reply to the last."""
        reply: list[str] = []
        for line in lines:
            voice = Voice("typed", role, "typed" if role else "")
            reply = self.take(Utterance(self.hears(line, second_look=second_look), voice))
        return reply

    def waits(self, seconds: float) -> list[str]:
        """Nobody speaks."""
        return self.take(Silence(seconds))

    def kinds(self) -> list[str]:
        return [record.kind for record in self.records]

    def status(self, item: str) -> str:
        return self.state.item(item).status


LINES = (
    "irrigation line firm",
    "aspiration line firm",
    "bottle full",
    "priming complete",
)
TO_TIME_OUT = (
    *LINES,
    "phaco tip tight",
    "sleeve straight",
    "test flow steady",
    "reflux control found",
    "pedal in reach",
    "case number seven",
    "identity and consent confirmed",
    "mark visible",
    "no known allergies",
    "clinical grade three",
    "power forty vacuum three fifty flow thirty two pulses thirty",
    "surgeon confirms the profile",
)
TIME_OUT = (
    "marked eye left",
    "lens power plus twenty one point five",
    "lens model monofocal alpha",
)
UNDER_WAY = ("incision is made", "lens is implanted", "end of surgery now", "ready for sign out")
SIGN_OUT = (*UNDER_WAY, "counts complete", "procedure name written", "no equipment problems")
WHOLE_CASE = (*TO_TIME_OUT, *TIME_OUT, *SIGN_OUT)
