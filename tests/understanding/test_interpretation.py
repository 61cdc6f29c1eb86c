"""What utterances amount to: doubt never passes, and denials are taken up."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.understanding.small_room import (
    LONG_S,
    PHRASES,
    RULES,
    SHORT_S,
    UNK,
    context,
    heard,
    timed,
)
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import PhrasePlace, Reference
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import (
    Denied,
    NotForUs,
    NotUnderstood,
    Understood,
    understand,
)
from voicelist.understanding.parsing import without_edge_noise
from voicelist.understanding.policy import POLICY
from voicelist.understanding.room_words import Room

# A permitted sentence


def test_a_permitted_sentence_is_understood_under_its_name() -> None:
    result = heard("irrigation line firm")
    assert isinstance(result, Understood)
    assert result.match.rule == "line.done"
    assert result.words == ("irrigation", "line", "firm")


def test_a_sentence_that_is_not_asked_for_now_is_not_taken() -> None:
    assert isinstance(heard("bottle full", active=("line.done",)), NotForUs)


@pytest.mark.parametrize(
    "words",
    [
        "irrigation line",
        "line firm",
        "firm",
        "irrigation line firm firm",
        "firm irrigation line",
        "the irrigation line firm",
        "irrigation line firm please",
        "irrigation line firm later",
        "irrigation line is firm",
        "irrigation line firm irrigation line loose",
    ],
)
def test_only_the_whole_sentence_is_taken(words: str) -> None:
    assert not isinstance(heard(words), Understood)


@given(
    st.lists(
        st.sampled_from(
            ["irrigation", "line", "firm", "on", "and", "loose", "not", "is", "it", "later"]
        )
    )
)
def test_nothing_but_the_written_sentences_is_ever_understood(words: list[str]) -> None:
    permitted = (
        "irrigation line firm",
        "irrigation line on and firm",
        "irrigation line loose",
    )
    result = heard(" ".join(words), active=("line.done", "line.fault"))
    assert isinstance(result, Understood) == (" ".join(words) in permitted)


# Noise at the edges


def test_a_short_noise_before_or_after_is_left_aside() -> None:
    words = timed((UNK, SHORT_S), ("bottle", 0.3), ("full", 0.3), (UNK, SHORT_S), (UNK, SHORT_S))
    assert without_edge_noise(words, POLICY).words == ("bottle", "full")
    result = understand([words], (), context())
    assert isinstance(result, Understood)
    assert result.words == ("bottle", "full")


@pytest.mark.parametrize("edge", ["before", "after"])
def test_a_long_noise_may_have_been_words(edge: str) -> None:
    answer = [("bottle", 0.3), ("full", 0.3)]
    noise = [(UNK, LONG_S)]
    hypothesis = timed(*(noise + answer if edge == "before" else answer + noise))
    assert without_edge_noise(hypothesis, POLICY) == hypothesis
    assert isinstance(understand([hypothesis], (), context()), NotUnderstood)


def test_a_noise_between_words_may_have_been_a_word() -> None:
    hypothesis = timed(("bottle", 0.3), (UNK, 0.05), ("full", 0.3))
    assert isinstance(understand([hypothesis], (), context()), NotUnderstood)


def test_a_short_word_at_the_edge_is_a_word() -> None:
    hypothesis = timed(("bottle", 0.3), ("full", 0.3), ("if", 0.05))
    assert isinstance(understand([hypothesis], (), context()), NotUnderstood)


def test_the_limit_itself_is_still_short() -> None:
    assert without_edge_noise(
        timed((UNK, POLICY.edge_noise_at_most_s), ("bottle", 0.3)), POLICY
    ).words == ("bottle",)


@pytest.mark.parametrize("hypotheses", [[], [Hypothesis(())], [timed((UNK, SHORT_S))]])
def test_noise_alone_is_nothing(hypotheses: list[Hypothesis]) -> None:
    assert understand(hypotheses, (), context()) == NotForUs(())


# Denials


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ("irrigation line not firm", "line.done"),
        ("the irrigation line is not firm", "line.done"),
        ("irrigation line isn't firm", "line.done"),
        ("irrigation line never on and firm", "line.done"),
        ("identity and consent not confirmed", "consent.done"),
        ("the bottle is not full please", "bottle.done"),
    ],
)
def test_the_negation_of_an_answer_is_taken_up(words: str, rule: str) -> None:
    found = heard(words)
    assert found == Denied(rule, tuple(words.split()))
    assert isinstance(found, Denied)
    assert not found.in_other_words, "it is the answer itself that is denied"


def test_a_denial_of_what_is_not_asked_is_not_taken_up() -> None:
    assert not isinstance(heard("bottle not full", active=("line.done",)), Denied)


def test_the_negation_of_a_fault_is_no_answer() -> None:
    assert isinstance(heard("irrigation line not loose"), NotUnderstood)


def test_a_question_is_no_denial() -> None:
    assert isinstance(heard("is the bottle not full"), NotUnderstood)


@pytest.mark.parametrize(
    "words", ["no bottle full", "not bottle full", "bottle full no", "never bottle full"]
)
def test_a_negation_beside_a_whole_answer_may_be_a_correction_and_is_asked_about(
    words: str,
) -> None:
    result = heard(words)
    assert isinstance(result, NotUnderstood)
    assert "bottle full" in result.offers


@given(st.permutations(["irrigation", "line", "not", "the", "firm", "is", "no"]), st.integers(1, 7))
def test_a_denial_never_holds_a_permitted_sentence(words: list[str], count: int) -> None:
    """For it is read back aloud."""
    result = heard(" ".join(words[:count]))
    if isinstance(result, Denied):
        assert context().grammar.graph.accepted_run(result.words) is None


# Two readings


def test_what_can_be_read_in_two_ways_is_not_taken() -> None:
    result = heard("same words")
    assert isinstance(result, NotUnderstood)
    assert "two ways" in result.why


def test_the_other_reading_counts_only_while_it_is_permitted() -> None:
    result = heard("same words", active=("twice.fault",))
    assert isinstance(result, Understood)
    assert result.match.rule == "twice.fault"


def test_the_same_words_with_two_tags_are_two_readings() -> None:
    assert isinstance(heard("turn about"), NotUnderstood)


# Near misses


def test_a_near_permitted_answer_is_offered_and_never_taken() -> None:
    result = heard("irrigation lime firm")
    assert isinstance(result, NotUnderstood)
    assert result.offers[0] == "irrigation line firm"
    assert len(result.offers) <= 2


def test_only_what_may_be_answered_now_is_offered() -> None:
    result = heard("bottle fool", active=("bottle.done", "command.hold_on"))
    assert isinstance(result, NotUnderstood)
    assert result.offers == ("bottle full",)


def test_commands_are_not_offered() -> None:
    result = heard("bottle hold on pleas", active=("bottle.done", "command.hold_on"))
    assert isinstance(result, NotUnderstood)
    assert result.offers == ()


@given(st.sampled_from(sorted(PHRASES)), st.data())
def test_a_sentence_with_one_letter_wrong_is_never_taken(name: str, data: st.DataObject) -> None:
    sentence = data.draw(st.sampled_from(context().grammar.examples(name)))
    at = data.draw(st.integers(0, len(sentence) - 1))
    wrong = sentence[:at] + "q" + sentence[at + 1 :]
    assume(wrong != sentence)
    assert not isinstance(heard(wrong), Understood)


# For us, or the room's


@pytest.mark.parametrize(
    ("words", "for_us"),
    [
        ("good morning", False),
        ("is it still morning", False),
        ("and the", False),
        ("the bottle please", True),
        ("irrigation good morning", True),
        ("eye", True),
        ("not", False),
        # words of a command are nobody's topic: they are said in the room all day
        ("hold it", False),
    ],
)
def test_talk_without_a_word_of_what_is_asked_is_not_for_us(words: str, for_us: bool) -> None:
    result = heard(words)
    assert isinstance(result, NotUnderstood if for_us else NotForUs)
    assert result.words == tuple(words.split())


@pytest.mark.parametrize(
    ("second_look", "for_us"),
    [((), True), (("the morning of the bottle",), True), (("the morning is good",), False)],
)
def test_talk_that_the_grammar_bends_is_for_us_only_if_the_second_look_agrees(
    second_look: tuple[str, ...], for_us: bool
) -> None:
    result = heard("bottle still morning", second_pass=second_look, active=("bottle.done",))
    assert isinstance(result, NotUnderstood if for_us else NotForUs)


def test_the_words_of_other_items_are_talk() -> None:
    assert isinstance(heard("the bottle please", active=("line.done",)), NotForUs)


# The words of the room


def test_the_room_is_read_from_its_rules() -> None:
    room = Room.from_rules(RULES)
    assert room.negations == {"not", "no", "isn't", "never"}
    assert room.questions == {"is", "are", "did", "when"}
    assert room.doubts == {"yet", "later", "almost", "if"}
    assert room.fillers[:4] == ("not", "no", "isn't", "never")
    assert len(room.fillers) == len(set(room.fillers))
    assert {"i", "you", "good", "morning", "still", "the"} <= set(room.fillers)
    assert room.before == ("if", "is the")
    assert room.inside == ("not", "will be", "should be")
    assert room.behind == ("later", "in a minute")
    assert {"minute", "should", "be", "you"} <= room.words()


def test_rules_without_a_room_have_an_empty_one() -> None:
    room = Room.from_rules(RuleSet())
    assert not room.negations | room.questions | room.doubts | room.function_words
    assert room.fillers == room.before == room.inside == room.behind == ()
    node = Reference("side", PhrasePlace("f", 1, 1))
    alone = Context(Grammar({"eye.value": node}, RULES), frozenset({"eye.value"}), room)
    assert isinstance(understand([Hypothesis(("left",))], (), alone), Understood)
