"""The decision as a whole: its stages one after the other, under one deadline.

The sentences are our own. The deadline of 4 s is a project choice: somebody waits.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.understanding.small_room import Answers, context, ranked
from voicelist.documents.phone_table import sound_alikes
from voicelist.understanding.decision import decide
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    Denied,
    Doubt,
    NotForUs,
    NotUnderstood,
    Unconfirmed,
    Understanding,
    Understood,
    interpreted,
)
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import (
    DecodeAgain,
    ForcedChoice,
    FreeTranscript,
    Inquiry,
    NoDecoder,
    Transcript,
    VerifierScores,
)

FIRM, LOOSE = "irrigation line firm", "irrigation line loose"
AMBIGUOUS = Passes(ranked((FIRM, LOOSE), 0.1))
PLAIN = Passes(ranked((FIRM,), 0.1))
IN_NOISE = replace(PLAIN, in_noise=True)
WORST_CASE_S = 4.0
SENTENCES = (
    *(FIRM, LOOSE, "irrigation line farm", "irrigation line isn't firm", "good morning"),
    *("irrigation line firm later", "is irrigation line firm", "marked eye is left", "count one"),
    *("count one two", "pressure fifty", "pressure fifteen", "bottle full", "[unk]"),
    "lay out a tray of salt for the list of this morning",
)


def decided(utterance: Passes, answers: Answers | NoDecoder) -> Understanding:
    """With every stage there is: what sounds alike is known, and plain speech is read."""
    where = replace(context(), alikes=sound_alikes("en-US"), plain_speech=freely)
    return decide(utterance, where, answers, POLICY)


def freely(found: Understanding, _: Passes, inquiry: Inquiry) -> Understanding:
    """Reads what the verifier hears, unless something was understood."""
    heard = None if isinstance(found, Understood | Denied) else inquiry.free_transcript()
    matches = context().permitted(heard.words) if heard is not None else ()
    return Unconfirmed(matches[0], matches[0].words) if matches else found


def kinds(answers: Answers) -> list[type]:
    """The kinds of questions, in their order."""
    return [kind for kind, _ in itertools.groupby(map(type, answers.asked))]


def test_what_is_plain_in_a_quiet_room_asks_nothing() -> None:
    answers = Answers()
    assert isinstance(decided(PLAIN, answers), Understood)
    assert answers.asked == []


def test_the_stages_ask_one_after_the_other() -> None:
    """The doubt is decoded again; the verifier is asked; the answer is put beside what sounds like
    it, to the recogniser and to the verifier. What this hears freely it is asked once."""
    answers = Answers(
        itertools.repeat(replace(AMBIGUOUS, in_noise=True)),
        likely={FIRM: -1.0},
        free=Transcript(tuple(FIRM.split()), -1.0),
        near={},
    )
    assert isinstance(decided(replace(AMBIGUOUS, in_noise=True), answers), Understood)
    assert kinds(answers) == [
        *(DecodeAgain, VerifierScores, FreeTranscript),
        *(ForcedChoice, VerifierScores),
    ]


def test_what_was_not_understood_is_read_as_plain_speech_at_last() -> None:
    answers = Answers(free=Transcript(("bottle", "full")))
    found = decided(Passes(ranked(("good morning",), 0.1)), answers)
    assert isinstance(found, Unconfirmed)
    assert kinds(answers) == [FreeTranscript]


@pytest.mark.parametrize("takes_s", [0.05, 0.7, 1.1, 2.5, 3.9, 4.1, 60.0])
@pytest.mark.parametrize("utterance", [AMBIGUOUS, replace(AMBIGUOUS, in_noise=True), IN_NOISE])
def test_nobody_waits_longer_than_four_seconds(utterance: Passes, takes_s: float) -> None:
    """However long each question takes."""
    answers = Answers(
        itertools.repeat(utterance), likely={}, free=Transcript(("good",)), near={}, takes_s=takes_s
    )
    began_s = answers.now_s()
    decided(utterance, answers)
    assert answers.now_s() - began_s <= WORST_CASE_S


@given(
    st.lists(
        st.lists(st.sampled_from(SENTENCES), min_size=1, max_size=4, unique=True),
        min_size=6,
        max_size=6,
    ),
    st.floats(0.1, 3.0),
    st.booleans(),
    st.sampled_from(SENTENCES),
    st.dictionaries(st.sampled_from(SENTENCES), st.floats(-30.0, 0.0)),
    st.floats(0.0, 5.0),
)
def test_whatever_is_heard_nobody_waits_longer_and_nothing_is_asked_too_late(
    heard: list[list[str]],
    apart: float,
    in_noise: bool,
    free: str,
    likely: dict[str, float],
    takes_s: float,
) -> None:
    first, *further = (
        Passes(ranked(one, apart), ranked(one, apart), in_noise=in_noise) for one in heard
    )
    transcript = Transcript(tuple(free.split()), -1.0)
    answers = Answers(further, likely=likely, free=transcript, near=likely, takes_s=takes_s)
    began_s = answers.now_s()
    found = decided(first, answers)
    assert answers.now_s() - began_s <= WORST_CASE_S
    if takes_s:
        # One question may be cut short for the sake of the verifier, and one at the end.
        assert len(answers.asked) <= WORST_CASE_S / takes_s + 2.0
    if isinstance(interpreted(first, context(), POLICY).found, Denied):
        assert isinstance(found, Denied)


def test_an_answer_does_not_stand_where_there_was_no_time_to_make_sure() -> None:
    """In noise it would have been put beside what sounds like it."""
    found = decided(IN_NOISE, Answers(likely={}, near={}, takes_s=5.0))
    assert isinstance(found, NotUnderstood)
    assert (found.doubt, found.offers) == (Doubt.NOT_CONFIRMED, (FIRM,))


def test_decoding_again_leaves_time_for_the_verifier() -> None:
    answers = Answers(
        itertools.repeat(AMBIGUOUS),
        likely={FIRM: -1.0},
        free=Transcript(tuple(FIRM.split()), -1.0),
        takes_s=0.45,
    )
    assert isinstance(decided(AMBIGUOUS, answers), Understood)
    assert kinds(answers)[:3] == [DecodeAgain, VerifierScores, FreeTranscript]


def test_without_a_decoder_only_what_is_plain_passes() -> None:
    assert isinstance(decided(PLAIN, NoDecoder()), Understood)
    assert isinstance(decided(AMBIGUOUS, NoDecoder()), NotUnderstood)
    assert isinstance(decided(Passes(()), NoDecoder()), NotForUs)
