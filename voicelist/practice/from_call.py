"""What somebody answers who has heard the call and never read the list: its own words, the thing
and the state that is good.

A call puts the states before the colon and the thing behind it ("Firm or loose: the irrigation
line?"). Which state is good is told by the item's own answers, and never guessed: it would be said.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_CALL = re.compile(r"(?P<first>[^:]+?) or (?P<second>[^:]+): (?P<thing>[^:?]+)\?")
_ARTICLE = re.compile(r"^(the|a|an) ")
_WORDS = re.compile(r"[a-z']+")
# "Known or not": the good state is the one that is named.
_NOT = "not"
# "Some or none": there is nothing of it.
_NONE, _NO = "none", "no"


@dataclass(frozen=True, slots=True)
class AskedFor:
    """What a call names, without articles. A good state of "none" is that there is nothing of the
    thing."""

    thing: str
    good: str
    bad: str

    @property
    def has_states(self) -> bool:
        """Whether both states are words of their own."""
        return self.good != _NONE and not {_NOT, _NONE} & {self.good, self.bad}

    @property
    def whole(self) -> str:
        """Thing, then state, as a list has it."""
        return f"no {self.thing}" if self.good == _NONE else f"{self.thing} {self.good}"

    @property
    def with_is(self) -> str:
        """The same as a sentence."""
        verb = "are" if self.thing.endswith("s") or " and " in self.thing else "is"
        if self.good == _NONE:
            return f"there {verb} no {self.thing}"
        return f"the {self.thing} {verb} {self.good}"


def asked_for(call: str, good: Iterable[str], bad: Iterable[str]) -> AskedFor | None:
    """What a call asks for; None where it is no choice of two states of a thing, or where nothing
    says which of them is good. `good` and `bad` are wordings that the item takes for so and for not
    so."""
    found = _CALL.fullmatch(call.strip().lower())
    if found is None:
        return None
    thing = _ARTICLE.sub("", found["thing"].strip().replace(", ", " and "))
    states = found["first"].strip(), found["second"].strip()
    if not all(map(_is_words, (thing, *states))):
        return None
    of_good, of_bad = tuple(good), tuple(bad)
    first, second = (_speaks_for(one, of_good, of_bad) for one in states)
    if states[1] == _NOT and first >= 0:
        return AskedFor(thing, *states)
    if first == second:
        return None
    return AskedFor(thing, *(states if first > second else reversed(states)))


def _is_words(text: str) -> bool:
    return all(map(_WORDS.fullmatch, text.split()))


def _speaks_for(state: str, good: Iterable[str], bad: Iterable[str]) -> int:
    """1 where only good wordings have a state's words, -1 where only bad ones have them."""
    words = {_NO} if state == _NONE else set(state.split())
    in_good, in_bad = (any(words <= set(text.split()) for text in texts) for texts in (good, bad))
    return in_good - in_bad
