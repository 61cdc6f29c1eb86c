"""An answer is doubted where recogniser and verifier both prefer a sentence that sounds like it.

The sentences are our own; how much likelier one must be is a project choice, measured on synthetic
answers and near misses (tests/benchmarks/studies/understanding.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest

from tests.understanding.small_room import RULES, Answers, context, heard, ranked
from voicelist.documents.phone_table import sound_alikes
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    NotUnderstood,
    Understanding,
    Understood,
    is_ambiguous,
)
from voicelist.understanding.out_of_grammar import unless_out_of_grammar, was_alone
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import FreeTranscript, Inquiry, Transcript

FIRM, THIRD = "irrigation line firm", "irrigation line third"
DENIED = "irrigation line isn't firm"
FAR = -100.0
PART, MARGIN = POLICY.verifier_margin_of_part, POLICY.verifier_margin


def sound(
    near: Mapping[str, float],
    likely: Mapping[str, float],
    *,
    freely: float = FAR,
    own: str = "smart mirror",
    deaf: bool = False,
    mute: bool = False,
) -> Answers:
    """What recogniser and verifier make of a sound: how near and how likely sentences are, all
    others far off."""
    free = None if mute else Transcript(tuple(own.split()), freely)
    return Answers(near=None if deaf else near, likely=None if mute else likely, free=free)


def checked(
    answer: Understanding, passes: Passes, where: Context, answers: Answers, *, alone: bool = False
) -> Understanding:
    inquiry = Inquiry(answers, POLICY.deadline_s)
    return unless_out_of_grammar(answer, passes, where, inquiry, POLICY, alone=alone)


def asked_freely(answers: Answers) -> bool:
    return FreeTranscript() in answers.asked


def said(
    answers: Answers,
    sentence: str = FIRM,
    beside: Sequence[str] = (),
    *,
    harmless: str = "",
    alikes: bool = True,
) -> Understanding:
    where = replace(
        context(),
        alikes=sound_alikes("en-US") if alikes else None,
        harmless=frozenset({harmless}),
    )
    first, second = ranked([sentence], 0.0), ranked([sentence, *beside], 4.0)
    return checked(heard(sentence), Passes(tuple(first), tuple(second)), where, answers)


def where_only(
    phrases: Mapping[str, str], respellings: Mapping[str, Sequence[Sequence[str]]] | None = None
) -> Context:
    """The room with these phrases alone."""
    roots = {name: parse_expansion(phrase, name) for name, phrase in phrases.items()}
    grammar = Grammar(roots, RULES, respellings)
    alikes = sound_alikes("en-US")
    return replace(context(), grammar=grammar, active=frozenset(roots), alikes=alikes)


def understood(sentence: str, where: Context) -> Understood:
    words = tuple(sentence.split())
    return Understood(where.grammar.parses(words)[0], words)


def test_what_both_prefer_puts_an_answer_in_doubt() -> None:
    answers = sound({FIRM: -5.0, THIRD: -4.0}, {FIRM: -9.0, THIRD: -6.0})
    found = said(answers)
    assert isinstance(found, NotUnderstood)
    assert is_ambiguous(found)
    assert found.offers == (FIRM,)
    assert answers.compared()[0] == FIRM
    assert answers.scored() == [FIRM, THIRD]


@pytest.mark.parametrize(
    ("near", "likely"),
    [
        ({FIRM: -4.0, THIRD: -5.0}, {FIRM: -9.0, THIRD: -1.0}),
        ({FIRM: -4.0}, {FIRM: -9.0, THIRD: -1.0}),
        ({FIRM: -5.0, THIRD: -4.0}, {FIRM: -9.0, THIRD: -9.0 + PART - 0.1}),
    ],
)
def test_what_only_one_of_them_prefers_does_not(
    near: Mapping[str, float], likely: Mapping[str, float]
) -> None:
    assert isinstance(said(sound(near, likely)), Understood)


def test_an_answer_that_the_recogniser_does_not_find_again_is_behind_what_it_finds() -> None:
    assert isinstance(said(sound({THIRD: -4.0}, {FIRM: -9.0, THIRD: -6.0})), NotUnderstood)


@pytest.mark.parametrize(
    ("sentence", "freely", "outcome"),
    [
        ("bottle full", -5.3, NotUnderstood),
        ("bottle full", -5.5, Understood),
        (FIRM, 2.0, NotUnderstood),
        (FIRM, 1.8, Understood),
    ],
)
def test_what_the_verifier_hears_itself_may_be_far_likelier(
    sentence: str, freely: float, outcome: type
) -> None:
    answers = sound({sentence: -1.0}, {sentence: -20.0}, freely=freely)
    assert isinstance(said(answers, sentence), outcome)
    assert answers.scored() == [sentence]
    assert asked_freely(answers)


def test_what_was_heard_beside_it_and_says_more_is_put_to_the_verifier() -> None:
    """Whatever the recogniser makes of it once more."""
    beside = (DENIED, "irrigation line firm and loose", "isn't irrigation line firm")
    for likely, outcome in ((-6.9, NotUnderstood), (-7.1, Understood)):
        answers = sound({FIRM: 0.0}, {FIRM: -9.0, DENIED: likely})
        assert isinstance(said(answers, FIRM, beside), outcome)
        assert answers.scored() == [FIRM, *beside]
        assert DENIED not in answers.compared()


def test_what_says_no_more_or_is_permitted_or_unheard_is_not() -> None:
    for beside in ("the irrigation line is firm", "line isn't firm", "irrigation line [unk] firm"):
        answers = sound({FIRM: 0.0}, {FIRM: -9.0})
        said(answers, FIRM, (beside,))
        assert answers.scored() == [FIRM]


@pytest.mark.parametrize(
    ("own", "freely", "outcome"),
    [
        (DENIED, -9.0 + PART, NotUnderstood),
        (DENIED, -9.0 + PART - 0.1, Understood),
        ("irrigation line firm question", -6.0, NotUnderstood),
        ("irrigation line firm", -5.0, Understood),
        ("irrigation line isn't here", -5.0, Understood),
    ],
)
def test_the_verifier_may_hear_all_of_it_and_more(own: str, freely: float, outcome: type) -> None:
    answers = sound({FIRM: 0.0}, {FIRM: -9.0}, freely=freely, own=own)
    assert isinstance(said(answers), outcome)


def test_of_a_longer_answer_it_is_heard_freely_only_where_something_said_more() -> None:
    sentence = "irrigation line on and firm"
    likely = {sentence: -9.0}
    assert isinstance(
        said(sound({}, likely, freely=0.0, own="not " + sentence), sentence), Understood
    )
    beside = ("irrigation line on and not firm",)
    answers = sound({}, likely, freely=0.0, own="not " + sentence)
    assert isinstance(said(answers, sentence, beside), NotUnderstood)
    assert asked_freely(answers)


@pytest.mark.parametrize(
    ("first", "second", "alone"),
    [
        ((FIRM, THIRD), (FIRM,), True),
        ((FIRM, "and irrigation line firm"), ("irrigation line firm please", FIRM), True),
        ((FIRM, "irrigation line loose"), ("irrigation line leaking", FIRM), True),
        ((FIRM,), (FIRM, THIRD), True),
        ((FIRM, THIRD), (), False),
        ((FIRM,), (THIRD, FIRM), False),
    ],
)
def test_an_answer_of_few_words_is_alone_where_nothing_else_was_near(
    first: tuple[str, ...], second: tuple[str, ...], alone: bool
) -> None:
    apart = POLICY.slack_small + 0.1 if alone and THIRD in (*first, *second) else 0.9
    looks = Passes(ranked(first, apart), ranked(second, apart))
    assert was_alone(heard(first[0]), looks, context(), POLICY) is alone


@pytest.mark.parametrize("apart", [0.0, POLICY.slack_small])
def test_what_is_just_as_near_as_that_was_near(apart: float) -> None:
    looks = Passes(ranked((FIRM, THIRD), apart))
    assert not was_alone(heard(FIRM), looks, context(), POLICY)


@pytest.mark.parametrize(
    ("beside", "alone"),
    [
        (THIRD, True),
        ("irrigation line on and third", True),
        ("good irrigation line on and firm", True),
        ("irrigation line on and not firm", False),
        ("when irrigation line on and firm", False),
    ],
)
def test_a_longer_one_is_alone_where_nothing_denies_doubts_or_asks_it(
    beside: str, alone: bool
) -> None:
    sentence = "irrigation line on and firm"
    for looks in ((sentence, beside), (sentence,)), ((sentence,), (sentence, beside)):
        told = Passes(*(ranked(one, 7.9) for one in looks))
        assert was_alone(heard(sentence), told, context(), POLICY) is alone


@pytest.mark.parametrize(
    ("sentence", "beside"),
    [
        ("marked eye left", []),
        ("marked eye is left", ["marked eye isn't left"]),
        ("no known allergies", ["known known allergies"]),
        ("irrigation line not here", []),
    ],
)
def test_one_that_was_alone_is_put_beside_what_only_a_denial_sets_apart(
    sentence: str, beside: list[str]
) -> None:
    """It sounds like "isn't" where somebody swallows the end, and like "known" for "no". What tells
    of a fault passes nothing."""
    where = where_only(
        {
            "eye.value": "marked eye [is] $side",
            "allergies.done": "no known allergies",
            "line.fault": "irrigation line not here",
        }
    )
    answer = understood(sentence, where)
    looks = Passes(ranked([sentence, f"not {sentence}"], 0.1))
    answers = sound({sentence: -4.0} | dict.fromkeys(beside, -4.0), {sentence: -9.0}, freely=0.0)
    assert checked(answer, looks, where, answers, alone=True) is answer
    assert answers.scored() == ([sentence, *beside] if beside else [])
    assert not asked_freely(answers)
    answers = sound({sentence: -4.0}, {sentence: -9.0})
    assert checked(answer, looks, where, answers, alone=True) is answer
    assert answers.scored() == []


@pytest.mark.parametrize(
    ("near", "likely", "outcome"),
    [
        (-4.0 - MARGIN, -9.0 - MARGIN, NotUnderstood),
        (-4.0 - MARGIN, -9.0 - MARGIN - 0.1, Understood),
        (-4.0 - MARGIN - 0.1, -1.0, Understood),
        (-math.inf, -1.0, Understood),
    ],
)
def test_that_is_may_have_been_isnt_must_be_far_off_for_one_of_them(
    near: float, likely: float, outcome: type
) -> None:
    sentence, denied = "marked eye is left", "marked eye isn't left"
    answers = sound({sentence: -4.0, denied: near}, {sentence: -9.0, denied: likely})
    assert isinstance(said(answers, sentence), outcome)
    assert denied in answers.compared()


def test_of_what_denies_already_there_is_no_denial_but_what_sounds_like_it() -> None:
    near = {"no known allergies": -4.0, "known known allergies": -4.0 - MARGIN}
    for likely, outcome in ((-9.0 - MARGIN, NotUnderstood), (-9.0 - MARGIN - 0.1, Understood)):
        answers = sound(near, {"no known allergies": -9.0, "known known allergies": likely})
        assert isinstance(said(answers, "no known allergies"), outcome)
    where = where_only({"power.done": "this does not fit"})
    where = replace(where, room=replace(where.room, negations=frozenset({"not", "doesn't"})))
    answer = understood("this does not fit", where)
    answers = sound({}, {})
    checked(answer, Passes(()), where, answers)
    assert "this doesn't not fit" not in answers.compared()
    assert any(
        one.startswith("this does ") and one.endswith(" fit") for one in answers.compared()[1:]
    )


def test_what_is_not_understood_was_alone() -> None:
    assert was_alone(
        heard("irrigation line fine"), Passes(ranked((THIRD, FIRM), 0.1)), context(), POLICY
    )


def test_rivals_are_put_as_anybody_would_write_them() -> None:
    """The recogniser hears "mono focal" where the lexicon says so."""
    lenses = where_only({"model.done": "lens model monofocal"}, {"monofocal": [("mono", "focal")]})
    said, denied = "lens model mono focal", "lens model not monofocal"
    looks = Passes(ranked([said, "lens model not mono focal"], 4.0))
    answer = understood(said, lenses)
    for answers in (
        sound({}, {answer.match.text: -9.0, denied: -6.0}),
        sound({}, {answer.match.text: -9.0}, freely=-6.0, own=denied),
    ):
        found = checked(answer, looks, lenses, answers)
        assert isinstance(found, NotUnderstood)
        assert answers.scored() == [answer.match.text, denied]


def test_of_an_answer_of_more_words_it_is_not_asked() -> None:
    sentence = "irrigation line on and firm"
    answers = sound({sentence: -1.0}, {sentence: -90.0}, freely=0.0)
    assert isinstance(said(answers, sentence), Understood)
    assert answers.scored() == []


def test_without_recogniser_or_verifier_the_answer_stands() -> None:
    near, likely = {FIRM: -5.0, THIRD: -4.0}, {FIRM: -9.0, THIRD: -1.0}
    assert isinstance(said(sound(near, likely, deaf=True)), Understood)
    assert isinstance(said(sound(near, likely, mute=True)), Understood)


def test_what_is_permitted_is_no_rival_and_small_words_are_kept() -> None:
    answers = sound({}, {})
    said(answers, "irrigation line on and firm")
    assert answers.compared()[0] == "irrigation line on and firm"
    assert all(one.split()[3] == "and" for one in answers.compared())
    said(answers, "marked eye left")
    assert "marked side left" in answers.compared()
    said(answers, "six")
    assert "eight" not in answers.compared()


def test_long_answers_harmless_ones_and_what_is_not_understood_are_not_looked_at() -> None:
    answers = sound({}, {})
    said(answers, "lay out a tray of salt for the list of this morning")
    said(answers, "hold on please", harmless="command.hold_on")
    said(answers, "irrigation line fine")
    said(answers, FIRM, alikes=False)
    assert answers.compared() == []
    said(answers, "hold on please")
    assert answers.compared()[0] == "hold on please"


def test_an_answer_of_seven_words_is_looked_at_one_of_eight_is_not() -> None:
    seven = "irrigation line and aspiration line both firm"
    assert len(seven.split()) == POLICY.long_words + 1
    where = where_only({"lines.done": f"{seven} [now]"})
    for sentence, looked_at in ((seven, True), (f"{seven} now", False)):
        answers = sound({}, {})
        checked(understood(sentence, where), Passes(ranked([sentence], 0.0)), where, answers)
        assert bool(answers.compared()) is looked_at


def test_only_the_nearest_are_put_to_the_verifier() -> None:
    answers = sound({}, {})
    said(answers)
    rivals = answers.compared()[1:]
    near = {one: float(rank) for rank, one in enumerate(rivals)}
    answers = sound({FIRM: 0.0, **near}, {FIRM: 0.0})
    assert isinstance(said(answers), Understood)
    assert answers.scored() == [FIRM, *rivals[:-9:-1]]
