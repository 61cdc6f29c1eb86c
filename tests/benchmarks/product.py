"""The path that the benchmarks measure: the product's recogniser and its understanding of what was
heard, one sound file being one utterance.
"""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.hearing.model import ModelPlace, find_model
from voicelist.hearing.recogniser import Recogniser
from voicelist.hearing.sources import Samples
from voicelist.hearing.utterance import Utterance
from voicelist.hearing.vocabulary import vocabulary
from voicelist.hearing.whole import decode_whole
from voicelist.hearing.wide import wide_search_model
from voicelist.phrases.grammar import Grammar
from voicelist.phrases.hearing import HearingGrammar, hearing_grammar
from voicelist.phrases.match import Match
from voicelist.phrases.room import Room
from voicelist.phrases.understanding import (
    Context,
    Denied,
    NotForUs,
    Understood,
    understand,
)
from voicelist.session.case import is_harmless
from voicelist.session.sound import looks_at

UNDERSTOOD, NOT_UNDERSTOOD = "understood", "not-understood"
_STATUS = {Understood: UNDERSTOOD, Denied: "denied", NotForUs: "not-for-us"}


@dataclass(frozen=True, slots=True)
class Heard:
    """What a file amounts to. `match` is there where it is understood."""

    status: str
    words: str
    second_look: str
    match: Match | None


class Product:
    """The shipped model, searched widely, loaded once."""

    def __init__(self) -> None:
        self.place: ModelPlace = find_model()
        wide = wide_search_model(self.place)
        self._known = vocabulary(wide)
        self._recogniser = Recogniser(wide)

    def hearing(
        self, grammar: Grammar, room: Room, roots: tuple[str, ...] | None = None
    ) -> HearingGrammar:
        """A grammar, or some of its roots, for the recogniser, with the room's words."""
        return hearing_grammar(grammar, room, self._known, roots, is_harmless)

    def utterance(self, samples: Samples, grammar: HearingGrammar) -> Utterance:
        """One channel's samples decoded whole."""
        return decode_whole(self._recogniser, samples, grammar)


def understood(utterance: Utterance, context: Context, *, second_look: bool = True) -> Heard:
    """What an utterance amounts to where `context` is permitted; for comparison also without the
    second look at the same sound."""
    hypotheses, second = looks_at(utterance)
    found = understand(hypotheses, second if second_look else (), context)
    return Heard(
        _STATUS.get(type(found), NOT_UNDERSTOOD),
        " ".join(found.words),
        " ".join(second[0].words) if second else "",
        found.match if isinstance(found, Understood) else None,
    )
