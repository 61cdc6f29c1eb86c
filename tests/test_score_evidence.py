"""The evidence that a score of an answer is made of: which answer is scored, and by what."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.benchmarks.harness import score_evidence
from tests.benchmarks.harness.kept import KeptDecoder, Timed
from tests.understanding.small_room import Answers, context, ranked
from voicelist.understanding.decision import decide
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Question, Transcript

FIRM, LOOSE = "irrigation line firm", "irrigation line loose"


def heard(
    *sentences: str, second: tuple[str, ...] = (), apart: float = 3.0, **told: Any
) -> tuple[Any, Any]:
    """What is known of a sound once it is decided, and the decoder that remembers."""
    answers = Answers(**told)

    def ask(question: Question) -> Timed:
        return answers.ask(question, math.inf), 0.0

    recorded = score_evidence.RecordingDecoder(KeptDecoder(ask, ask))
    passes = Passes(ranked(sentences, apart), ranked(second, apart))
    here = context()
    found = decide(passes, here, recorded, POLICY)
    return score_evidence.Heard.of(found, [passes, *recorded.decodings()], here), recorded


def features(*sentences: str, **told: Any) -> dict[str, float]:
    known, recorded = heard(*sentences, **told)
    found: dict[str, float] = score_evidence.features_of(known.candidate(), known, recorded, 30.0)
    return found


def test_of_a_doubt_the_nearest_answer_is_scored() -> None:
    known, _ = heard(FIRM, LOOSE, apart=0.1)
    assert type(known.found).__name__ == "NotUnderstood"
    assert " ".join(known.candidate().words) == FIRM


@pytest.mark.parametrize(
    "sentences",
    [
        ("irrigation line isn't firm",),
        (FIRM, "irrigation line firm later"),
        ("good morning",),
    ],
    ids=["denied", "doubted", "talk"],
)
def test_what_a_hard_rule_forbids_is_not_scored(sentences: tuple[str, ...]) -> None:
    known, _ = heard(*sentences, apart=0.1)
    assert known.candidate() is None


def test_gaps_say_how_far_others_lie_behind() -> None:
    near = features(FIRM, LOOSE, apart=1.0)
    far = features(FIRM, LOOSE, apart=2.5)
    assert near["gap_permitted_first"] == pytest.approx(1.0)
    assert far["gap_permitted_first"] == pytest.approx(2.5)
    assert far["gap_other_mean"] == score_evidence.GAP_AT_MOST
    other = features(FIRM, "irrigation line farm", apart=1.25)
    assert other["gap_permitted_first"] == score_evidence.GAP_AT_MOST
    assert other["gap_other_mean"] == pytest.approx(1.25)


def test_the_verifier_is_asked_about_rivals_and_what_it_hears() -> None:
    known = features(
        FIRM,
        LOOSE,
        likely={FIRM: -3.0, LOOSE: -9.0},
        free=Transcript(("irrigation", "line", "farm"), -1.5),
    )
    assert known["ratio_permitted"] == pytest.approx(6.0)
    assert known["likely_a_word"] == pytest.approx(-1.0)
    assert known["free_gap_a_word"] == pytest.approx(0.5)
    assert known["free_words_apart"] == pytest.approx(1 / 3)
    assert known["ratio_other"] == score_evidence.RATIO_AT_MOST
    assert known["free_says_more"] == 0.0


def test_an_answer_with_a_number_that_sounds_like_another_says_so() -> None:
    fifteen = features("pressure fifteen", likely={"pressure fifteen": -2.0})
    assert (fifteen["alikes"], fifteen["teen_or_ten"]) == (1.0, 1.0)
    # The small room's verifier finds anything that it was not told of unlikely.
    assert fifteen["ratio_alike"] == score_evidence.RATIO_AT_MOST
    firm = features(FIRM)
    assert (firm["alikes"], firm["teen_or_ten"], firm["numbers"]) == (0.0, 0.0, 0.0)


def test_decodings_that_were_asked_for_count() -> None:
    again = Passes(ranked((FIRM,), 3.0))
    known = features(FIRM, LOOSE, apart=0.1, decodings=[again] * 5)
    assert known["decodings"] == 2.0
    assert known["nearest_share"] == 1.0
    assert known["understood_share"] == 0.5
