"""One step of the machine while it is taken: a state that grows by records, and the effects."""

from __future__ import annotations

from voicelist.documents.checklist import Item
from voicelist.session import state as st
from voicelist.session.case import Case
from voicelist.session.effects import Effect, Keep, Say, Show, Tone
from voicelist.session.events import Voice
from voicelist.session.records import (
    Answered,
    Called,
    ReadBack,
    Record,
    SectionClosed,
    SectionOpened,
)
from voicelist.session.state import ItemState, State


class Turn:
    """Collects what one event leads to. Every change of state is a record."""

    def __init__(self, case: Case, state: State) -> None:
        self.case = case
        self.state = state
        self.effects: list[Effect] = []

    def keep(self, record: Record) -> None:
        """Change the state by a record, to be made durable before what follows is said."""
        self.state = st.evolve(self.state, record)
        self.effects.append(Keep(record))

    def say(self, key: str, **values: object) -> None:
        self.effects.append(Say(self.case.text(key, **values)))

    def speak(self, text: str) -> None:
        self.effects.append(Say(text))

    def tone(self) -> None:
        self.effects.append(Tone())

    def show(self, kind: str, text: str) -> None:
        self.effects.append(Show(kind, text))

    def item(self, item_id: str) -> Item:
        return self.case.items[item_id]

    def standing(self, item_id: str) -> ItemState:
        return self.state.item(item_id)

    def call(self, item_id: str) -> None:
        """Call an item; opens its section if it is not the open one."""
        section = self.case.section_of[item_id].id
        if self.state.section != section or section in self.state.closed_sections:
            self.keep(SectionOpened(section))
        item = self.item(item_id)
        self.keep(Called(item_id, item.call))
        if item.read_from:
            self.show("source", item.read_from)
        self.speak(item.call)

    def read_back(self, record: ReadBack) -> None:
        self.keep(record)
        self.speak(record.text)

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
            )
        )

    def close_section(self) -> None:
        self.keep(SectionClosed(self.state.section))


def is_settled(item: Item, standing: ItemState) -> bool:
    """Whether an item asks for nothing more: a reported fault on a stop item does."""
    if standing.answer == st.SAID_FAULT:
        return not item.stop
    return standing.answer in (st.SAID_DONE, st.VALUE, st.NOT_APPLICABLE)
