"""Speech at the edges of an utterance for which a hypothesis has no word."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from voicelist.asr.edges import loudness_of, with_edges
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.grammar.grammar import UNHEARD
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.parsing import with_unheard
from voicelist.understanding.policy import POLICY

STARTS_AT = 8_000


def sound(*parts: tuple[float, float]) -> Samples:
    """Noise in parts of so many seconds and so large an amplitude."""
    chance = np.random.default_rng(7)
    made = [chance.normal(0.0, size, int(length * SAMPLE_RATE_HZ)) for length, size in parts]
    return np.concatenate(made).astype(np.int16)


def heard(
    samples: Samples, words: tuple[float, float], speech: tuple[float, float]
) -> tuple[float, float]:
    """Seconds unheard before and behind, for words and speech between these seconds of it."""
    offset_s = STARTS_AT / SAMPLE_RATE_HZ
    span = (words[0] + offset_s, words[1] + offset_s)
    ends = (STARTS_AT + int(at * SAMPLE_RATE_HZ) for at in speech)
    (one,) = with_edges(
        (Hypothesis(("firm",), (span,)),),
        loudness_of(samples),
        STARTS_AT,
        (next(ends), next(ends)),
    )
    return one.before_s, one.behind_s


def test_speech_as_loud_as_the_words_is_unheard() -> None:
    samples = sound((0.5, 2000), (1.0, 2000), (0.4, 2000))
    assert heard(samples, (0.5, 1.5), (0.0, 1.9)) == pytest.approx((0.5, 0.4), abs=0.001)


def test_what_is_quieter_than_the_words_is_the_room() -> None:
    samples = sound((0.5, 1000), (1.0, 2000), (0.4, 1000))
    assert heard(samples, (0.5, 1.5), (0.0, 1.9)) == (0.0, 0.0)


def test_what_lies_outside_of_speech_does_not_count() -> None:
    samples = sound((0.5, 2000), (1.0, 2000), (0.4, 2000))
    assert heard(samples, (0.5, 1.5), (0.5, 1.5)) == pytest.approx((0.0, 0.0), abs=0.001)


def test_of_no_words_nothing_is_said() -> None:
    nothing = Hypothesis(())
    assert with_edges((nothing,), loudness_of(sound((1.0, 2000))), 0, (0, 16_000)) == (nothing,)


def test_long_unheard_speech_stands_in_the_place_of_a_word() -> None:
    firm = Hypothesis(("firm",), ((1.0, 1.5),), before_s=0.2, behind_s=0.25)
    assert with_unheard(firm, POLICY).words == ("firm",)
    long = with_unheard(replace(firm, before_s=0.3, behind_s=0.4), POLICY)
    assert long.words == (UNHEARD, "firm", UNHEARD)
    assert [end_s - begin_s for begin_s, end_s in long.spans_s] == pytest.approx([0.3, 0.5, 0.4])


def edges(*parts: tuple[str, float, float], before_s: float = 0.0) -> Hypothesis:
    """Words of so many seconds and so large an amplitude; "" is nothing said. Speech is found from
    `before_s` on to the end."""
    samples = sound(*((length, size) for _, length, size in parts))
    words, spans_s, at_s = [], [], 0.0
    for text, length, _ in parts:
        if text:
            words.append(text)
            spans_s.append((at_s, at_s + length))
        at_s += length
    speech = (int(before_s * SAMPLE_RATE_HZ), len(samples))
    said = Hypothesis(tuple(words), tuple(spans_s))
    (one,) = with_edges((said,), loudness_of(samples), 0, speech)
    return one


BACKGROUND, SPEAKER, SILENCE = 400, 2_000, 5


def test_words_as_quiet_as_a_loud_room_are_faint() -> None:
    one = edges(
        ("", 0.5, BACKGROUND),
        ("large", 0.3, BACKGROUND),
        ("line", 0.6, SPEAKER),
        ("firm", 0.6, SPEAKER),
        ("with", 0.2, BACKGROUND),
        ("soy", 0.2, BACKGROUND),
        before_s=0.5,
    )
    assert one.background == (1, 2)
    assert not one.amid_babble


def test_a_quiet_last_word_in_a_quiet_room_is_the_speakers_own() -> None:
    one = edges(("", 0.6, SILENCE), ("line", 0.6, SPEAKER), ("firm", 0.4, BACKGROUND), before_s=0.6)
    assert one.background == (0, 0)


def test_long_speech_around_the_words_is_talk() -> None:
    for around_s, talk in ((0.8, False), (1.2, True)):
        one = edges(
            ("", around_s, 1_000),
            ("line", 0.8, SPEAKER),
            ("firm", 0.8, SPEAKER),
            ("", around_s, 1_000),
        )
        assert one.amid_babble is talk


def test_amid_babble_words_are_faint_that_are_only_a_little_quieter() -> None:
    for length_s, faint in ((0.6, (0, 0)), (1.2, (1, 1))):
        one = edges(
            ("large", length_s, 1_000),
            ("line", 0.8, SPEAKER),
            ("firm", 0.8, SPEAKER),
            ("soy", length_s, 1_000),
        )
        assert one.background == faint


def test_amid_babble_speech_that_is_quieter_than_the_loudest_is_not_meant_for_us() -> None:
    one = edges(("", 1.5, 1_100), ("line", 0.4, 1_500), ("is", 0.4, 2_600), ("", 1.5, 1_100))
    assert one.amid_babble
    assert (one.before_s, one.behind_s) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("around", "around_s", "loud"),
    [
        # Talk 6 dB below the words, and 14 dB; too short for talk; a room 10 dB below, and 14 dB.
        (1_000, 1.2, True),
        (400, 1.2, False),
        (800, 0.8, True),
        (630, 0.8, True),
        (400, 0.8, False),
    ],
)
def test_it_is_loud_where_the_words_hardly_stand_out(
    around: int, around_s: float, loud: bool
) -> None:
    one = edges(
        ("", around_s, around), ("line", 0.8, SPEAKER), ("firm", 0.8, SPEAKER), ("", 1.2, around)
    )
    assert one.low_snr is loud


def test_a_speakers_own_faint_words_in_a_quiet_room_are_not_low_snr() -> None:
    for room, loud in ((SILENCE, False), (BACKGROUND, True)):
        one = edges(("", 0.6, room), ("line", 2.2, 900), ("firm", 0.8, SPEAKER), ("", 0.6, room))
        assert one.amid_babble
        assert one.low_snr is loud


@pytest.mark.parametrize(
    ("talk", "next_words", "behind", "goes_on"),
    [
        (1_000, 1_700, 1.0, True),
        # As loud as the talk, nobody has a word for it, or the room is not full of talk.
        (1_000, 1_000, 1.0, False),
        (1_000, 1_700, 4.0, False),
        (SILENCE, 1_700, 1.0, False),
    ],
)
def test_amid_babble_a_voice_may_go_on_behind_its_last_word(
    talk: int, next_words: int, behind: float, goes_on: bool
) -> None:
    parts = (1.2, talk), (1.6, SPEAKER), (0.4, next_words), (2.4, talk)
    samples = sound(*parts)
    words, spans_s = ("line", "firm", "later"), ((1.2, 2.0), (2.0, 2.8), (2.8, 3.2))
    told = (Hypothesis(words[:2], spans_s[:2], 9.0), Hypothesis(words, spans_s, 9.0 - behind))
    answer, fuller = with_edges(told, loudness_of(samples), 0, (0, len(samples)))
    assert (answer.behind_s, fuller.behind_s) == (0.4 if goes_on else 0.0, 0.0)
