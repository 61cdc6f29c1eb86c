"""What the assistant says is nobody's answer, and an answer comes after its own call, whole."""

from __future__ import annotations

import numpy as np
import pytest

from tests.session.talk import shipped_case
from tests.team.own_voice import OwnVoice, acts, sentences_of
from voicelist.asr.model import ModelPlace
from voicelist.asr.utterance import DecodedUtterance
from voicelist.grammar.match import Match
from voicelist.listening.own_speech import (
    BEFORE_CALL,
    BEGINNING_MISSED,
    INTO_CALL,
    OwnSpeech,
    words_of,
)
from voicelist.listening.sound import Piece
from voicelist.session.case import is_harmless
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    NotForUs,
    NotUnderstood,
    Understanding,
    Understood,
)

RATE_HZ = 16_000
CALL = "Firm or loose: the irrigation line?"


def own() -> OwnSpeech:
    return OwnSpeech(is_harmless, shipped_case().natural.names_thing)


def sound(from_s: float, until_s: float) -> DecodedUtterance:
    first, end = round(from_s * RATE_HZ), round(until_s * RATE_HZ)
    return DecodedUtterance(0, 1, first, end, end, Passes(()))


def understood(words: str, rule: str = "irrigation-line.done") -> Understood:
    said = tuple(words.split())
    return Understood(Match(rule, said), said)


def piece(from_s: float, *, before: bool = False, whole_s: float | None = None) -> Piece:
    whole_from = None if whole_s is None else round(whole_s * RATE_HZ)
    samples = np.zeros((1, 320), np.int16)
    return Piece(round(from_s * RATE_HZ), samples, before_speech=before, whole_from=whole_from)


def is_(why: str, judged: Understanding) -> bool:
    """Asked again for this reason, without the words, which could be put together with others."""
    return isinstance(judged, NotUnderstood) and (judged.why, judged.words) == (why, ())


ANSWER = understood("irrigation line firm")
HOLD_ON = understood("hold on please", "command.hold_on")


def test_behind_a_gate_what_was_begun_before_the_call_or_into_it_passes_nothing() -> None:
    it = own()
    it.says(CALL, 2 * RATE_HZ, open_microphone=False)
    it.said(4 * RATE_HZ)
    assert is_(BEFORE_CALL, it.judged(sound(1.0, 1.9), ANSWER))
    assert it.judged(sound(1.0, 1.9), HOLD_ON) is HOLD_ON
    it.take(piece(4.1, whole_s=4.3))
    assert is_(BEGINNING_MISSED, it.judged(sound(4.15, 5.5), understood("firm enough now")))
    assert it.judged(sound(4.31, 5.5), ANSWER) is ANSWER


def test_what_is_read_late_but_was_sounded_before_the_call_passes_nothing() -> None:
    it = own()
    it.take(piece(1.0, before=True))
    assert is_(BEFORE_CALL, it.judged(sound(0.5, 1.0), ANSWER))
    assert it.judged(sound(1.1, 2.0), ANSWER) is ANSWER


def test_an_answer_into_a_call_counts_if_it_names_the_thing_and_goes_on_behind_it() -> None:
    it = own()
    it.says(CALL, 2 * RATE_HZ, open_microphone=True)
    it.said(round(3.4 * RATE_HZ))
    assert it.judged(sound(3.0, 4.3), ANSWER) is ANSWER
    short = understood("it is firm")
    assert is_(INTO_CALL, it.judged(sound(3.0, 4.3), short))
    assert is_(INTO_CALL, it.judged(sound(3.0, 4.3), understood("correct", "command.correct")))
    # Almost at its end the question is known.
    assert it.judged(sound(3.3, 4.3), short) is short
    assert it.judged(sound(3.0, 4.3), HOLD_ON) is HOLD_ON
    # Whoever falls silent with the assistant may have been the assistant.
    assert is_(BEGINNING_MISSED, it.judged(sound(3.0, 3.6), ANSWER))


def test_its_own_words_are_left_alone_and_counted() -> None:
    it = own()
    it.says(CALL, 2 * RATE_HZ, open_microphone=True)
    it.said(round(2.5 * RATE_HZ))
    assert it.judged(sound(2.1, 2.8), understood("firm")) == NotForUs(())
    assert it.heard_itself == 1
    # Long behind it the same words are an answer.
    assert it.judged(sound(3.0, 3.5), understood("firm")) == understood("firm")


def test_two_calls_and_an_answer_to_the_first_leave_the_second_open() -> None:
    """An answer is decoded under the phrases of the second item, whose call has not been heard."""
    it = own()
    it.says("Taken.", 1 * RATE_HZ, open_microphone=True)
    it.said(round(1.5 * RATE_HZ))
    it.says(CALL, round(1.6 * RATE_HZ), open_microphone=True)
    it.said(round(1.6 * RATE_HZ))
    assert is_(BEFORE_CALL, it.judged(sound(1.2, 2.4), ANSWER))


def test_words_are_compared_in_small_letters_without_marks() -> None:
    assert words_of(CALL) == ("firm", "or", "loose", "the", "irrigation", "line")


@pytest.fixture(scope="module")
def voice(speech_model: ModelPlace) -> OwnVoice:
    return OwnVoice(speech_model)


def test_nothing_that_it_says_at_full_level_is_taken_for_an_answer(voice: OwnVoice) -> None:
    """A sample; `tests/soak/own_voice.py` plays all of every shipped list."""
    every = sentences_of("practice-007")
    assert len(every) > 60
    for one in every[3:9:2]:
        heard, found = voice.heard(one, voice.sound_of(one))
        assert not any(acts(late) for late in voice.judged(one, heard, found)), one.text
