"""A typed conversation in people's own words, as `run --typed` takes them."""

from __future__ import annotations

from tests.session.talk import Talk
from voicelist.session.machine import context_of
from voicelist.understanding.interpretation import Understanding


class PlainTalk(Talk):
    """A case in which lines need not be permitted sentences."""

    def hears(self, words: str, *, second_look: str = "") -> Understanding:
        found = super().hears(words, second_look=second_look)
        active = context_of(self.case, self.state).active
        natural = self.case.natural
        return natural.unless_permitted(found, tuple(words.split()), self.state.asked, active)
