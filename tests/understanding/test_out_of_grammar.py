"""An answer is doubted where recogniser and witness both prefer a sentence that sounds like it.

The sentences are our own; how much likelier one must be is a project choice, measured on synthetic
answers and near misses (tests/benchmarks/understanding.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest

from tests.understanding.small_room import RULES, context, heard, ranked
from voicelist.documents.phone_table import sound_alikes
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.understanding.evidence import Evidence
from voicelist.understanding.interpretation import Context, NotUnderstood, Understanding, Understood
from voicelist.understanding.out_of_grammar import unless_otherwise, was_alone

FIRM, THIRD = "irrigation line firm", "irrigation line third"
DENIED = "irrigation line isn't firm"
FAR = -100.0


class Sound:
    """What recogniser and witness make of a sound: how near and how likely sentences are, all
    others far off. Keeps what was put to each."""

    def __init__(
        self,
        near: Mapping[str, float | None],
        likely: Mapping[str, float],
        *,
        freely: float = FAR,
        own: str = "smart mirror",
        deaf: bool = False,
        mute: bool = False,
    ) -> None:
        self._near, self._likely, self._deaf, self._mute = near, likely, deaf, mute
        self._freely, self._own = freely, tuple(own.split())
        self.among: list[str] = []
        self.asked: list[str] = []
        self.asked_freely = False

    def find(self, sentences: Sequence[tuple[str, ...]]) -> tuple[float | None, ...] | None:
        texts = [" ".join(one) for one in sentences]
        self.among += texts
        return None if self._deaf else tuple(self._near.get(one) for one in texts)

    def ask(self, sentences: Sequence[str], freely: bool) -> Evidence | None:
        self.asked, self.asked_freely = list(sentences), freely
        if self._mute:
            return None
        told = tuple(self._likely.get(one, FAR) for one in sentences)
        return Evidence(told, self._own, self._freely) if freely else Evidence(told)


def said(
    sound: Sound,
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
    looks = ranked([sentence], 0.0), ranked([sentence, *beside], 4.0)
    return unless_otherwise(heard(sentence), looks, where, sound.find, sound.ask)


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
    sound = Sound({FIRM: -5.0, THIRD: -4.0}, {FIRM: -9.0, THIRD: -6.0})
    found = said(sound)
    assert isinstance(found, NotUnderstood)
    assert found.torn
    assert found.offers == (FIRM,)
    assert sound.among[0] == FIRM
    assert sound.asked == [FIRM, THIRD]


@pytest.mark.parametrize(
    ("near", "likely"),
    [
        ({FIRM: -4.0, THIRD: -5.0}, {FIRM: -9.0, THIRD: -1.0}),
        ({FIRM: -4.0}, {FIRM: -9.0, THIRD: -1.0}),
        ({FIRM: -5.0, THIRD: -4.0}, {FIRM: -9.0, THIRD: -6.1}),
    ],
)
def test_what_only_one_of_them_prefers_does_not(
    near: Mapping[str, float], likely: Mapping[str, float]
) -> None:
    assert isinstance(said(Sound(near, likely)), Understood)


def test_an_answer_that_the_recogniser_does_not_find_again_is_behind_what_it_finds() -> None:
    assert isinstance(said(Sound({THIRD: -4.0}, {FIRM: -9.0, THIRD: -6.0})), NotUnderstood)


@pytest.mark.parametrize(
    ("sentence", "freely", "outcome"),
    [
        ("bottle full", -5.3, NotUnderstood),
        ("bottle full", -5.5, Understood),
        (FIRM, 2.0, NotUnderstood),
        (FIRM, 1.8, Understood),
    ],
)
def test_what_the_witness_hears_itself_may_be_far_likelier(
    sentence: str, freely: float, outcome: type
) -> None:
    sound = Sound({sentence: -1.0}, {sentence: -20.0}, freely=freely)
    assert isinstance(said(sound, sentence), outcome)
    assert sound.asked == [sentence]
    assert sound.asked_freely


def test_what_was_heard_beside_it_and_says_more_is_put_to_the_witness() -> None:
    """Whatever the recogniser makes of it once more; what was too far off is not."""
    beside = (DENIED, "irrigation line firm and loose", "isn't irrigation line firm")
    for likely, outcome in ((-6.9, NotUnderstood), (-7.1, Understood)):
        sound = Sound({FIRM: 0.0}, {FIRM: -9.0, DENIED: likely})
        assert isinstance(said(sound, FIRM, beside), outcome)
        assert sound.asked == [FIRM, *beside[:2]]
        assert DENIED not in sound.among


def test_what_says_no_more_or_is_permitted_or_unheard_is_not() -> None:
    sound = Sound({FIRM: 0.0}, {FIRM: -9.0})
    for beside in ("the irrigation line is firm", "line isn't firm", "irrigation line [unk] firm"):
        said(sound, FIRM, (beside,))
        assert sound.asked == [FIRM]


@pytest.mark.parametrize(
    ("own", "freely", "outcome"),
    [
        (DENIED, -6.0, NotUnderstood),
        (DENIED, -6.1, Understood),
        ("irrigation line firm question", -6.0, NotUnderstood),
        ("irrigation line firm", -5.0, Understood),
        ("irrigation line isn't here", -5.0, Understood),
    ],
)
def test_the_witness_may_hear_all_of_it_and_more(own: str, freely: float, outcome: type) -> None:
    sound = Sound({FIRM: 0.0}, {FIRM: -9.0}, freely=freely, own=own)
    assert isinstance(said(sound), outcome)


def test_of_a_longer_answer_it_is_heard_freely_only_where_something_said_more() -> None:
    sentence = "irrigation line on and firm"
    likely = {sentence: -9.0}
    assert isinstance(
        said(Sound({}, likely, freely=0.0, own="not " + sentence), sentence), Understood
    )
    beside = ("irrigation line on and not firm",)
    sound = Sound({}, likely, freely=0.0, own="not " + sentence)
    assert isinstance(said(sound, sentence, beside), NotUnderstood)
    assert sound.asked_freely


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
    apart = 3.1 if alone and THIRD in (*first, *second) else 0.9
    looks = ranked(first, apart), ranked(second, apart)
    assert was_alone(heard(first[0]), looks, context()) is alone


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
        told = ranked(looks[0], 7.9), ranked(looks[1], 7.9)
        assert was_alone(heard(sentence), told, context()) is alone
    far = ranked((sentence, beside), 8.1), ranked((sentence,), 8.1)
    assert was_alone(heard(sentence), far, context())


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
    looks = ranked([sentence, f"not {sentence}"], 0.1), []
    sound = Sound({sentence: -4.0} | dict.fromkeys(beside, -4.0), {sentence: -9.0}, freely=0.0)
    assert unless_otherwise(answer, looks, where, sound.find, sound.ask, alone=True) is answer
    assert sound.asked == ([sentence, *beside] if beside else [])
    assert not sound.asked_freely
    sound = Sound({sentence: -4.0}, {sentence: -9.0})
    assert unless_otherwise(answer, looks, where, sound.find, sound.ask, alone=True) is answer
    assert sound.asked == []


@pytest.mark.parametrize(
    ("near", "likely", "outcome"),
    [
        (-7.0, -14.0, NotUnderstood),
        (-7.0, -14.1, Understood),
        (-7.1, -1.0, Understood),
        (None, -1.0, Understood),
    ],
)
def test_that_is_may_have_been_isnt_must_be_far_off_for_one_of_them(
    near: float | None, likely: float, outcome: type
) -> None:
    sentence, denied = "marked eye is left", "marked eye isn't left"
    sound = Sound({sentence: -4.0, denied: near}, {sentence: -9.0, denied: likely})
    assert isinstance(said(sound, sentence), outcome)
    assert denied in sound.among


def test_of_what_denies_already_there_is_no_denial_but_what_sounds_like_it() -> None:
    near = {"no known allergies": -4.0, "known known allergies": -7.0}
    for likely, outcome in ((-14.0, NotUnderstood), (-14.1, Understood)):
        sound = Sound(near, {"no known allergies": -9.0, "known known allergies": likely})
        assert isinstance(said(sound, "no known allergies"), outcome)
    where = where_only({"power.done": "this does not fit"})
    where = replace(where, room=replace(where.room, negations=frozenset({"not", "doesn't"})))
    answer = understood("this does not fit", where)
    sound = Sound({}, {})
    unless_otherwise(answer, ([], []), where, sound.find, sound.ask)
    assert "this doesn't not fit" not in sound.among
    assert any(one.startswith("this does ") and one.endswith(" fit") for one in sound.among[1:])


def test_what_is_not_understood_was_alone() -> None:
    assert was_alone(heard("irrigation line fine"), (ranked((THIRD, FIRM), 0.1), ()), context())


def test_rivals_are_put_as_anybody_would_write_them() -> None:
    """The recogniser hears "mono focal" where the lexicon says so."""
    lenses = where_only({"model.done": "lens model monofocal"}, {"monofocal": [("mono", "focal")]})
    said, denied = "lens model mono focal", "lens model not monofocal"
    looks = ranked([said, "lens model not mono focal"], 4.0), []
    answer = understood(said, lenses)
    for sound in (
        Sound({}, {answer.written: -9.0, denied: -6.0}),
        Sound({}, {answer.written: -9.0}, freely=-6.0, own=denied),
    ):
        found = unless_otherwise(answer, looks, lenses, sound.find, sound.ask)
        assert isinstance(found, NotUnderstood)
        assert sound.asked == [answer.written, denied]


def test_of_an_answer_of_more_words_it_is_not_asked() -> None:
    sentence = "irrigation line on and firm"
    sound = Sound({sentence: -1.0}, {sentence: -90.0}, freely=0.0)
    assert isinstance(said(sound, sentence), Understood)
    assert sound.asked == []


def test_without_recogniser_or_witness_the_answer_stands() -> None:
    near, likely = {FIRM: -5.0, THIRD: -4.0}, {FIRM: -9.0, THIRD: -1.0}
    assert isinstance(said(Sound(near, likely, deaf=True)), Understood)
    assert isinstance(said(Sound(near, likely, mute=True)), Understood)


def test_what_is_permitted_is_no_rival_and_small_words_are_kept() -> None:
    sound = Sound({}, {})
    said(sound, "irrigation line on and firm")
    assert sound.among[0] == "irrigation line on and firm"
    assert all(one.split()[3] == "and" for one in sound.among)
    said(sound, "marked eye left")
    assert "marked side left" in sound.among
    said(sound, "six")
    assert "eight" not in sound.among


def test_long_answers_harmless_ones_and_what_is_not_understood_are_not_looked_at() -> None:
    sound = Sound({}, {})
    said(sound, "lay out a tray of salt for the list of this morning")
    said(sound, "hold on please", harmless="command.hold_on")
    said(sound, "irrigation line fine")
    said(sound, FIRM, alikes=False)
    assert sound.among == []
    said(sound, "hold on please")
    assert sound.among[0] == "hold on please"


def test_only_the_nearest_are_put_to_the_witness() -> None:
    sound = Sound({}, {})
    said(sound)
    rivals = sound.among[1:]
    near = {one: float(rank) for rank, one in enumerate(rivals)}
    sound = Sound({FIRM: 0.0, **near}, {FIRM: 0.0})
    assert isinstance(said(sound), Understood)
    assert sound.asked == [FIRM, *rivals[:-9:-1]]
