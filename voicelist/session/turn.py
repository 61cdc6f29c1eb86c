"""One step of the machine while it is taken: a state that grows by records, and the effects."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from voicelist.clinical.sources import in_a_word
from voicelist.documents.checklist import Item
from voicelist.session import state as st
from voicelist.session.case import Case
from voicelist.session.catalogue import QUIET_KEYS
from voicelist.session.consequences import made_due
from voicelist.session.effects import Effect, Keep, Say, Show, Tone
from voicelist.session.events import Voice
from voicelist.session.grades import grade_of_answer
from voicelist.session.presence import away
from voicelist.session.record_base import Record
from voicelist.session.records import (
    Answered,
    Called,
    ReadBack,
    SectionClosed,
    SectionOpened,
)
from voicelist.session.state import ItemState, State


class Turn:
    """Collects what one event leads to. Every change of state is a record."""

    def __init__(self, case: Case, state: State) -> None:
        self._case = case
        self.case = case.with_plan(state.plan)
        self.state = state
        self.effects: list[Effect] = []

    def keep(self, record: Record) -> None:
        """Change the state by a record, to be made durable before what follows is said."""
        plan = self.state.plan
        self.state = st.evolve(self.state, record)
        if self.state.plan != plan:
            self.case = self._case.with_plan(self.state.plan)
        self.effects.append(Keep(record))

    def say(self, key: str, **values: object) -> None:
        """A sentence of the catalogue; a quiet case shows what repeats what was heard."""
        self.speak(self.case.text(key, **values), back=key in QUIET_KEYS)

    def speak(self, text: str, *, back: bool = False) -> None:
        """Speak a text. `back`: it repeats what was heard, as the read-back that waits does."""
        pending = self.state.pending
        back = back or (pending is not None and pending.text in text)
        if back and self.is_quiet and not self._must_be_aloud(pending):
            self.show("read-back", text)
        else:
            self.effects.append(Say(text))

    def _must_be_aloud(self, pending: ReadBack | None) -> bool:
        """Settings that do not fit are heard by whoever sets them; a request gives nothing away."""
        if pending is None or pending.about != "mismatch":
            return False
        return self.item(pending.item).compare not in (None, "grade", "planned")

    @property
    def is_quiet(self) -> bool:
        """Whether read-backs are for the display alone: asked for, and the patient is settled."""
        after = self.case.bundle.checklist.quiet_after
        return self.state.quiet and (after is None or after in self.state.closed_sections)

    def tone(self) -> None:
        self.effects.append(Tone())

    def show(self, kind: str, text: str) -> None:
        self.effects.append(Show(kind, text))

    def item(self, item_id: str) -> Item:
        return self.case.items[item_id]

    def standing(self, item_id: str) -> ItemState:
        return self.state.item(item_id)

    def away(self, roles: Iterable[str]) -> tuple[str, ...]:
        """Those of the roles that are not in the room."""
        return away(roles, self.case.bundle.plan.present, self.state.presence)

    def call(self, item_id: str, text: str = "") -> None:
        """Call an item, in a `text` of its own perhaps; opens its section if it is not the open
        one."""
        section = self.case.section_of[item_id].id
        if self.state.section != section or section in self.state.closed_sections:
            self.keep(SectionOpened(section))
            self._announce(self.case.section_of[item_id].name)
        item = self.item(item_id)
        text = text or self.case.call_text(item)
        self.keep(Called(item_id, text))
        if item.read_from:
            self.show("source", item.read_from)
        for role in self.away(item.answered_by) if item.each_role else ():
            name = self.case.text(f"role.{role}")
            self.show("notice", self.case.text("role-is-away", role=name))
        self.speak(text)

    def _announce(self, name: str) -> None:
        """A section is shown, and named aloud; an older record has no sentence for that."""
        self.show("section", name)
        if "section-begins" in self.case.bundle.sentences.sentences:
            self.say("section-begins", section=name)

    def read_back(self, record: ReadBack) -> None:
        self.keep(record)
        self.speak(record.text)
        if record.about == "mismatch" and record.findings:
            self._show_remedy(record.findings[0])

    def _show_remedy(self, finding: Mapping[str, Any]) -> None:
        """What can be done about it, and how far the rule may be trusted, for the display alone."""
        if finding.get("remedy"):
            self.show("remedy", f"{finding['remedy']} Rule: {in_a_word(finding['source'])}.")

    def answer(
        self,
        item_id: str,
        answer: str,
        words: str,
        voice: Voice,
        *,
        values: dict[str, object] | None = None,
        expected: dict[str, object] | None = None,
    ) -> None:
        """Give an item its answer."""
        self.keep(
            Answered(
                item_id,
                answer,
                words,
                voice.role,
                voice.role_known_by,
                values or {},
                expected or {},
                grade_of_answer(self.case, self.state, item_id),
                made_due(self.item(item_id), answer, words, self.case.grammar),
            )
        )

    def close_section(self) -> None:
        self.keep(SectionClosed(self.state.section))


def is_settled(item: Item, standing: ItemState) -> bool:
    """Whether an item asks for nothing more: a reported fault on a stop item does."""
    if standing.answer == st.SAID_FAULT:
        return not item.stop
    return standing.answer in st.SETTLED
