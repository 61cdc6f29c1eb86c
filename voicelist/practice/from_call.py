"""What somebody answers who has heard the call and never read the list: its own words, the thing
and the state that is good.

A call puts the states before the colon and the thing behind it ("Firm or loose: the irrigation
line?"). Which state is good is told by the item's own answers; where they have neither, it is the
one that is named first.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_CALL = re.compile(r"(?P<good>[^:]+?) or (?P<bad>[^:]+): (?P<thing>[^:?]+)\?")
_ARTICLE = re.compile(r"^(the|a|an) ")
_WORDS = re.compile(r"[a-z']+")
# "Known or not": the good state is the one that is named.
_NOT = "not"


@dataclass(frozen=True, slots=True)
class AskedFor:
    """What a call names, without articles."""

    thing: str
    good: str
    bad: str

    @property
    def whole(self) -> str:
        """Thing, then state, as a list has it."""
        return f"{self.thing} {self.good}"

    @property
    def with_is(self) -> str:
        """The same as a sentence."""
        verb = "are" if self.thing.endswith("s") or " and " in self.thing else "is"
        return f"the {self.thing} {verb} {self.good}"


def asked_for(call: str, done: Iterable[str], fault: Iterable[str]) -> AskedFor | None:
    """What a call asks for; None where it is no choice of two states of a thing. `done` and `fault`
    are sentences that the item takes for so and for not so."""
    found = _CALL.fullmatch(call.strip().lower())
    if found is None:
        return None
    thing = _ARTICLE.sub("", found["thing"].strip().replace(", ", " and "))
    first, second = found["good"].strip(), found["bad"].strip()
    if not all(map(_is_words, (thing, first, second))):
        return None
    if second != _NOT and _speaks_for(second, done, fault) > _speaks_for(first, done, fault):
        first, second = second, first
    return AskedFor(thing, first, second)


def _is_words(text: str) -> bool:
    return all(map(_WORDS.fullmatch, text.split()))


def _speaks_for(state: str, done: Iterable[str], fault: Iterable[str]) -> int:
    """1 where only the good answers have a state's words, -1 where only the bad ones have them."""
    words = set(state.split())
    in_done, in_fault = (
        any(words <= set(text.split()) for text in texts) for texts in (tuple(done), tuple(fault))
    )
    return in_done - in_fault
