"""What both models must find before an answer in people's own words is one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

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


def test_how_far_an_answer_is_before_what_is_nearest() -> None:
    near = {"it is firm": 9.0, "it isn't firm": 7.5, "it is loose": 3.0}
    likely = {"it is firm": -3.0, "it isn't firm": -8.0, "it is fun": -4.0}
    assert found(near, likely) == Agreement(1.5, 5.0, 2.0)


def test_what_the_recogniser_does_not_find_and_what_the_other_model_hears_instead() -> None:
    told = found({"it is loose": 3.0}, {"it is firm": -9.0, "it is fun": -2.0})
    assert told.nearer is None
    assert told.own == -1.0 - -9.0  # what it hears of its own accord has -1


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
