"""Better wordings. What may not be proposed is the design's rule: doubt passes nothing, and no
proposal means what is a fault."""

from __future__ import annotations

import pytest

from tests.team.room import case_of
from voicelist.authoring.wordings import Proposal
from voicelist.practice.better import FAR_APART, Addition, Tried, better_wordings, with_trials
from voicelist.practice.partner import LISTED, SLIP
from voicelist.practice.told import NOT_UNDERSTOOD, TAKEN, Exchange, RehearsalTold

NURSE, LINE = "circulating-nurse", "irrigation-line"


def told(*exchanges: Exchange) -> RehearsalTold:
    return RehearsalTold((), exchanges, 0.0, "completed")


def missed(said: str, heard: str = "", purpose: str = LISTED) -> Exchange:
    return Exchange(LINE, NURSE, said, heard or said, NOT_UNDERSTOOD, purpose)


TAKEN_LATER = Exchange(LINE, NURSE, "irrigation line tight", "irrigation line tight", TAKEN, LISTED)


def proposal(words: str) -> Proposal:
    return Proposal("phaco", LINE, "thing", words, 1, 1, "")


def test_a_phrase_that_is_heard_badly_gets_other_words_for_the_same_state() -> None:
    case = case_of("practice-007")
    (better,) = better_wordings(case, told(missed("irrigation line firm"), TAKEN_LATER), ())
    assert better.say == "irrigation line tight"
    assert better.additions
    permitted = set(case.grammar.examples(f"{LINE}.done"))
    for one in better.additions:
        assert one.apart > FAR_APART
        assert one.spoken not in permitted
        assert not case.grammar.only(f"{LINE}.fault").parses(one.spoken.split())
        assert one.lines[0].startswith('done: "irrigation line (firm | on and firm) | ')


@pytest.mark.parametrize(
    ("exchange", "kept"),
    [
        (missed("the blue hose is firm", purpose=""), True),  # what somebody in the room said
        (missed("the line is firm", "the blue hose is firm"), False),  # a partner, misheard
        (missed("the blue hose is firm", purpose=SLIP), False),
    ],
)
def test_what_nobody_meant_to_say_is_no_wording(exchange: Exchange, kept: bool) -> None:
    spoken = told(exchange, missed("irrigation line so so"), TAKEN_LATER)
    (better,) = better_wordings(case_of("practice-007"), spoken, [proposal("blue hose")])
    words = {one.words for one in better.additions}
    assert ((("thing", "blue hose"),) in words) is kept


def test_what_no_voice_is_understood_with_is_left_out_and_the_best_comes_first() -> None:
    every = tuple(Addition((("done", name),), (), name, 1.0) for name in ("none", "one", "two"))
    (better,) = better_wordings(case_of("practice-007"), told(missed("irrigation line firm")), ())
    trials = [
        (name, Tried(voice, int(at < understood), 1))
        for name, understood in (("none", 0), ("one", 1), ("two", 2))
        for at, voice in enumerate("abc")
    ]
    kept = with_trials(type(better)(LINE, better.phrases, "", every), trials)
    assert [one.spoken for one in kept.additions] == ["two", "one"]
