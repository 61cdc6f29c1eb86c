"""What both models must find before an answer in people's own words is one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import pytest

from tests.session.talk import shipped_case
from voicelist.understanding.both_models import Agreement, Contest, agreement
from voicelist.understanding.hypothesis import Words
from voicelist.understanding.questions import Scores, Transcript

ROOM = shipped_case("practice-101").room
FIRM: Words = ("it", "is", "firm")
CONTEST = Contest(ROOM, None, [("loose",), ("leaking",)], [("firm",)], [("it", "is", "fun")])


class Models:
    """Two models that find the named sentences so near and so likely, and nothing else."""

    def __init__(self, near: Mapping[str, float], likely: Mapping[str, float]) -> None:
        self.near, self.likely = near, likely
        self.put: Sequence[str] = ()

    def forced_choice(self, sentences: Sequence[Words]) -> Scores:
        return tuple(self.near.get(" ".join(one), -math.inf) for one in sentences)

    def verifier_scores(self, sentences: Sequence[str]) -> Scores:
        self.put = sentences
        return tuple(self.likely.get(one, -30.0) for one in sentences)

    def free_transcript(self) -> Transcript:
        return Transcript((), -1.0)


def found(near: Mapping[str, float], likely: Mapping[str, float]) -> Agreement:
    models = Models(near, likely)
    told = agreement(FIRM, CONTEST, models)
    assert told is not None
    return told


def test_the_answer_stands_against_denials_questions_opposites_and_what_was_heard() -> None:
    texts = {" ".join(one) for one in CONTEST.against(FIRM)}
    wanted = {"it is not firm", "it isn't firm", "is the it is firm", "it is loose", "it is fun"}
    assert wanted <= texts
    assert {"it is firm later", "it is firm or not", "if it is firm"} <= texts
    assert "it is firm" not in texts


def test_of_an_answer_that_denies_the_opposite_is_put_too() -> None:
    texts = {" ".join(one) for one in CONTEST.against(("it", "isn't", "loose"))}
    assert "it is loose" in texts


def test_both_find_it() -> None:
    assert found({"it is firm": 9.0}, {"it is firm": -2.0}).of_both


@pytest.mark.parametrize(
    ("near", "likely"),
    [
        ({}, {"it is firm": -1.0}),
        ({"it is firm": 9.0, "it is not firm": 8.8}, {"it is firm": -1.0}),
        ({"it is firm": 9.0, "it isn't firm": 8.0}, {"it is firm": -3.0, "it isn't firm": -2.0}),
        ({"it is firm": 9.0, "it is loose": 8.0}, {"it is firm": -3.0, "it is loose": -3.0}),
        ({"it is firm": 9.0}, {"it is firm": -20.0}),
        ({"it is firm": 9.0}, {"it is firm": -9.0, "it is fun": -1.0}),
    ],
)
def test_not_both_find_it(near: Mapping[str, float], likely: Mapping[str, float]) -> None:
    assert not found(near, likely).of_both


def test_one_alone_has_to_be_surer() -> None:
    assert found({"it is firm": 9.0}, {"it is firm": -10.0}).by_recogniser_alone()
    assert not found({"it is firm": 9.0, "it is fun": 8.0}, {}).by_recogniser_alone()
    assert found({}, {"it is firm": -1.0}).by_second_model_alone()


def test_where_a_model_cannot_be_asked_nothing_is_known() -> None:
    for question in ("forced_choice", "verifier_scores", "free_transcript"):
        deaf = Models({"it is firm": 9.0}, {"it is firm": -2.0})
        setattr(deaf, question, lambda *_: None)
        assert agreement(FIRM, CONTEST, deaf) is None


def test_the_second_model_is_asked_about_the_nearest_and_what_it_heard_itself() -> None:
    near = {"it is firm": 9.0, "it is not firm": 8.0, "it is loose": 7.0}
    models = Models(near, {})
    agreement(FIRM, CONTEST, models)
    opposites = ["it is loose", "it is leaking"]
    assert models.put == ["it is firm", "it is not firm", *opposites, "it is fun"]
