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
from voicelist.phrases.grammar import Grammar, HearingGrammar
from voicelist.phrases.match import Match
from voicelist.phrases.understanding import (
    Context,
    Denied,
    NotForUs,
    Room,
    Understood,
    understand,
)
from voicelist.session.sound import hypotheses_of

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

    def hearing(self, grammar: Grammar, room: Room) -> HearingGrammar:
        """A grammar for the recogniser, with the room's words as fillers."""
        return grammar.hearing(room.fillers, self._known)

    def utterance(self, samples: Samples, grammar: HearingGrammar) -> Utterance:
        """One channel's samples decoded whole."""
        return decode_whole(self._recogniser, samples, grammar)


def understood(utterance: Utterance, context: Context, *, second_look: bool = True) -> Heard:
    """What an utterance amounts to where `context` is permitted; for comparison also without the
    open-vocabulary look at the same sound."""
    open_words = utterance.open_words if second_look else ()
    found = understand(hypotheses_of(utterance), open_words, context)
    return Heard(
        _STATUS.get(type(found), NOT_UNDERSTOOD),
        " ".join(found.words),
        " ".join(utterance.open_words),
        found.match if isinstance(found, Understood) else None,
    )
