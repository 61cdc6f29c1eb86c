"""The open look at the same sound: it may veto an answer and never make one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.phrases.small_room import PHRASES, context, heard
from voicelist.phrases.understanding import NotForUs, NotUnderstood, Understood


@pytest.mark.parametrize(
    ("second_look", "veto"),
    [
        ("bottle not full", "not"),
        ("the bottle full later", "later"),
        ("is bottle full", "is"),
        ("almost a bottle full", "almost"),
        ("never bottle full", "never"),
    ],
)
def test_the_second_look_may_veto(second_look: str, veto: str) -> None:
    result = heard("bottle full", second_look=second_look)
    assert isinstance(result, NotUnderstood)
    assert f"'{veto}'" in result.why
    assert result.words == ("bottle", "full")


@pytest.mark.parametrize(
    "second_look",
    ["", "bottle full", "battle fool", "the bottle is full", "bottle full please", "good morning"],
)
def test_the_second_look_does_not_have_to_agree(second_look: str) -> None:
    assert isinstance(heard("bottle full", second_look=second_look), Understood)


@given(st.sampled_from(sorted(PHRASES)), st.data())
def test_a_turn_put_anywhere_into_the_sentence_is_always_a_veto(
    name: str, data: st.DataObject
) -> None:
    room = context().room
    sentence = data.draw(st.sampled_from(context().grammar.examples(name))).split()
    turns = sorted((room.negations | room.doubts).difference(sentence))
    at = data.draw(st.integers(0, len(sentence)))
    second_look = [*sentence[:at], data.draw(st.sampled_from(turns)), *sentence[at:]]
    result = heard(" ".join(sentence), second_look=" ".join(second_look))
    assert not isinstance(result, Understood)


@pytest.mark.parametrize("second_look", ["lens model not a vocal", "lens model no vocal"])
def test_a_turn_in_place_of_words_that_sound_alike_is_another_spelling(second_look: str) -> None:
    """ "mono focal" comes out of the open look as "not a vocal"."""
    assert isinstance(heard("lens model mono focal", second_look=second_look), Understood)


@pytest.mark.parametrize(
    "second_look",
    ["bottle not", "bottle later", "not yet", "bottle not completely full", "bottle never fool"],
)
def test_a_turn_in_place_of_words_that_sound_otherwise_is_a_veto(second_look: str) -> None:
    assert isinstance(heard("bottle full", second_look=second_look), NotUnderstood)


@pytest.mark.parametrize(
    ("words", "second_look"),
    [
        ("irrigation line firm", "irrigation line loose"),
        ("irrigation line firm", "bottle full"),
        ("marked eye left", "marked eye right"),
        ("model alpha", "model bravo"),
        ("pulses one", "pulses two"),
        ("bottle full", "hold on please"),
    ],
)
def test_another_permitted_answer_in_the_second_look_is_a_veto(
    words: str, second_look: str
) -> None:
    result = heard(words, second_look=second_look)
    assert isinstance(result, NotUnderstood)
    assert f"'{second_look}'" in result.why
    assert result.words == tuple(words.split())


@pytest.mark.parametrize(
    ("words", "second_look"),
    [
        ("irrigation line firm", "irrigation line on and firm"),
        ("pulses one", "pulses at one"),
        ("pulses at two", "pulses two"),
    ],
)
def test_the_same_answer_in_other_words_is_no_veto(words: str, second_look: str) -> None:
    assert isinstance(heard(words, second_look=second_look), Understood)


def test_another_answer_counts_only_while_it_is_permitted() -> None:
    result = heard("bottle full", second_look="irrigation line loose", active=("bottle.done",))
    assert isinstance(result, Understood)


def test_a_question_word_inside_is_no_question() -> None:
    assert isinstance(heard("bottle full", second_look="bottle is full"), Understood)


def test_a_negation_that_the_sentence_itself_has_is_no_veto() -> None:
    assert isinstance(heard("no known allergies", second_look="no known allergies"), Understood)


def test_the_second_look_never_makes_an_answer() -> None:
    assert isinstance(heard("good morning", second_look="bottle full"), NotForUs)
    assert isinstance(heard("bottle fool", second_look="bottle full"), NotUnderstood)
