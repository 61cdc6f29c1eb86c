"""Phrases that are refused for their size end a case at its beginning, with one sentence."""

from __future__ import annotations

import time

import numpy as np
import pytest

from tests.session.talk import shipped_case
from voicelist.errors import DocumentError, Problem
from voicelist.listening import sound
from voicelist.listening.sound import PIECE_SAMPLES, Piece, SoundHearer
from voicelist.session.state import State


class _Quiet:
    """A room in which nobody speaks, and a recogniser that hears nothing."""

    channels = 1
    behind_samples = 0

    def __init__(self) -> None:
        self.given = 0

    def listen(self, _: object) -> None: ...
    def cue(self, _: object) -> None: ...
    def feed(self, *_: object) -> None: ...

    def poll(self, _: float) -> None: ...
    def open_from_sample(self, _: int) -> None: ...

    def reached_sample(self, _: int) -> int:
        return self.given

    def read(self) -> Piece:
        time.sleep(0.001)
        piece = Piece(self.given, np.zeros((1, PIECE_SAMPLES), np.int16))
        self.given += PIECE_SAMPLES
        return piece


def test_phrases_of_a_later_section_that_are_refused_end_the_case_at_its_beginning(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = shipped_case()
    first = case.sections()[0].id
    made = sound.hearing_grammar
    roots_of_first = sound.heard_here(case, State(section=first))

    def too_large_later(grammar, room, known, roots, harmless):
        if roots != roots_of_first:
            raise DocumentError((Problem("list.yaml", 7, 3, "too many phrases", "fewer"),))
        return made(grammar, room, known, roots, harmless)

    monkeypatch.setattr(sound, "hearing_grammar", too_large_later)
    quiet = _Quiet()
    hearer = SoundHearer(case, quiet, quiet, (), case.grammar.vocabulary())
    with pytest.raises(DocumentError, match=r"list\.yaml:7:3"):
        hearer.next_event(State(section=first))
    assert quiet.given < 16_000 * 60, "long before anybody is prompted"
