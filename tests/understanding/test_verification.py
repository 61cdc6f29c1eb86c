"""What a verifier may change: a doubt may be dispelled, an answer doubted; a denial stands.

The sentences are our own; how much likelier a sentence must be is a project choice, measured on
orders in noise and on synthetic answers (tests/benchmarks/studies/orders.py, understanding.py).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.understanding.small_room import Answers, context, ranked
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.interpretation import (
    Denied,
    NotUnderstood,
    Understanding,
    Understood,
    interpreted,
    is_ambiguous,
    understand,
)
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Inquiry, Transcript
from voicelist.understanding.verification import verified
from voicelist.understanding.voting import is_doubtful, voted

FIRM, LOOSE = "irrigation line firm", "irrigation line loose"
AMBIGUOUS = (FIRM, LOOSE)
BESIDE_FIRM = ("irrigation line farm", FIRM)
DENIED = ("irrigation line isn't firm",)
NEGATED = (FIRM, "irrigation line firm later")
TALK = ("good morning",)
TRAY = "lay out a tray of salt for the list of this morning"
OIL = "lay out a tray of almond oil for the list of this morning"


def verifier(likely: Mapping[str, float], free: float = 0.0) -> Answers:
    """Finds sentences as likely as it is told; hears the likeliest itself, so much likelier."""
    words = max(likely, key=lambda text: likely[text])
    transcript = Transcript(tuple(words.split()), likely[words] + free)
    return Answers(likely=likely, free=transcript)


def looks(sentences: tuple[str, ...], apart: float = 0.1) -> Passes:
    return Passes(ranked(sentences, apart))


def settled(decodings: Iterable[Passes | None], where: Context, answers: Answers) -> Understanding:
    """By what is decoded and what the verifier says."""
    further = iter(decodings)
    first = next(further)
    assert first is not None
    decoded = [interpreted(first, where, POLICY)]
    found = decoded[0].found
    if is_doubtful(decoded[0]):
        found = voted(decoded, further, where, POLICY)
    return verified(found, decoded, Inquiry(answers, POLICY.deadline_s), where, POLICY)


def heard(
    answers: Answers | None,
    *decodings: tuple[str, ...],
    apart: float = 0.1,
    where: Context | None = None,
    low_snr: bool = False,
) -> Understanding:
    """What is decoded first, and then in turn, six times in all."""
    told = [looks(one, apart) for one in itertools.islice(itertools.cycle(decodings), 6)]
    told[0] = Passes(tuple(replace(one, low_snr=low_snr) for one in told[0].first))
    return settled(told, where or context(), answers or Answers())


def rule_of(found: Understanding) -> str:
    assert isinstance(found, Understood), found
    return found.match.rule


def test_a_doubt_between_two_answers_is_dispelled() -> None:
    answers = verifier({FIRM: -1.0, LOOSE: -9.0})
    assert rule_of(heard(answers, AMBIGUOUS)) == "line.done"
    assert answers.scored() == [FIRM, LOOSE]
    assert rule_of(heard(verifier({FIRM: -9.0, LOOSE: -1.0}), AMBIGUOUS)) == "line.fault"


@pytest.mark.parametrize(
    "answers",
    [
        None,
        # It finds the two about as likely.
        verifier({FIRM: -1.0, LOOSE: -1.1 - POLICY.verifier_margin + 0.2}),
        # Of its own accord it hears something else.
        verifier({FIRM: -1.0, LOOSE: -9.0}, free=POLICY.free_of_short + 0.1),
        verifier({FIRM: -10.0, LOOSE: -19.0, "the irrigator fell": -1.0}),
    ],
)
def test_else_the_doubt_stays(answers: Answers | None) -> None:
    assert isinstance(heard(answers, AMBIGUOUS), NotUnderstood)


def test_what_is_not_permitted_must_be_less_likely() -> None:
    """It was once understood, and else was nearer to something that is not permitted."""
    hearings = (*[BESIDE_FIRM] * 5, (FIRM,))
    assert isinstance(heard(None, *hearings, apart=0.9), NotUnderstood)
    farm = BESIDE_FIRM[0]
    near = -1.0 - POLICY.verifier_margin_of_part
    found = heard(verifier({FIRM: -1.0, farm: near - 0.1}), *hearings, apart=0.9)
    assert rule_of(found) == "line.done"
    for likely in (near + 0.1, -0.5):
        found = heard(verifier({FIRM: -1.0, farm: likely}), *hearings, apart=0.9)
        assert isinstance(found, NotUnderstood)


def test_what_no_hearing_understood_or_was_ambiguous_about_is_not_taken_up() -> None:
    answers = verifier({FIRM: -1.0})
    assert isinstance(heard(answers, BESIDE_FIRM, apart=0.9), NotUnderstood)
    assert not answers.scored()


def test_that_an_answer_was_negated_must_be_far_less_likely() -> None:
    later = NEGATED[1]
    far = -1.0 - POLICY.verifier_margin
    hearings = (NEGATED, (FIRM,), NEGATED)
    assert isinstance(heard(None, *hearings), NotUnderstood)
    assert rule_of(heard(verifier({FIRM: -1.0, later: far - 0.1}), *hearings)) == "line.done"
    assert isinstance(heard(verifier({FIRM: -1.0, later: far + 0.1}), *hearings), NotUnderstood)
    own = POLICY.free_of_short + 0.1
    assert isinstance(heard(verifier({FIRM: -1.0}, own), *hearings), NotUnderstood)


def test_of_a_long_answer_the_verifier_need_not_hear_all() -> None:
    ambiguous = ((TRAY, OIL), (OIL, TRAY))
    assert isinstance(heard(None, *ambiguous), NotUnderstood)
    for own, found in ((-0.1, Understood), (0.1, NotUnderstood)):
        answers = verifier({TRAY: -20.0, OIL: -30.0}, own + POLICY.free_of_long)
        assert isinstance(heard(answers, *ambiguous), found)


def test_where_it_is_loud_an_answer_must_stand_out_by_more_and_be_likely() -> None:
    far = POLICY.verifier_margin_low_snr
    likely = -POLICY.verifier_margin_of_part * len(FIRM.split())
    for firm, loose, found in (
        (likely + 0.1, likely - far - 0.1, Understood),
        (likely + 0.1, likely - far + 0.2, NotUnderstood),
        (likely - 0.1, likely - far - 0.2, NotUnderstood),
    ):
        answers = verifier({FIRM: firm, LOOSE: loose})
        assert isinstance(heard(answers, AMBIGUOUS, low_snr=True), found)
        assert isinstance(heard(answers, AMBIGUOUS), Understood)


def test_where_it_is_loud_a_hearing_must_have_found_it_nearest() -> None:
    ambiguous = (LOOSE, FIRM)
    answers = verifier({FIRM: -1.0, LOOSE: -20.0})
    assert rule_of(heard(answers, ambiguous)) == "line.done"
    assert isinstance(heard(answers, ambiguous, low_snr=True), NotUnderstood)
    assert rule_of(heard(answers, ambiguous, ambiguous, AMBIGUOUS, low_snr=True)) == "line.done"


def test_an_answer_is_doubted_that_the_verifier_finds_unlikely_beside_another() -> None:
    """Another permitted sentence was near, but not so near that there was a doubt."""
    assert rule_of(heard(None, AMBIGUOUS, apart=2.0)) == "line.done"
    far = POLICY.verifier_margin
    found = heard(verifier({FIRM: -1.0 - far - 0.1, LOOSE: -1.0}), AMBIGUOUS, apart=2.0)
    assert isinstance(found, NotUnderstood)
    assert is_ambiguous(found)
    for answers in (
        verifier({FIRM: -1.0 - far + 0.1, LOOSE: -1.0}),
        verifier({FIRM: -1.0, LOOSE: -1.0}),
    ):
        assert rule_of(heard(answers, AMBIGUOUS, apart=2.0)) == "line.done"


def test_heard_once_an_answer_is_doubted_and_never_exchanged_for_the_likelier_one() -> None:
    found = heard(verifier({FIRM: -30.0, LOOSE: -1.0}), AMBIGUOUS, apart=2.0)
    assert isinstance(found, NotUnderstood)
    assert found.offers == (FIRM,)


def test_heard_anew_because_of_a_doubt_the_likelier_one_is_taken_if_it_stands_out_by_more() -> None:
    """A later hearing dispelled the doubt, and the verifier speaks against what it heard."""
    hearings = (AMBIGUOUS, (FIRM,))
    assert rule_of(heard(None, *hearings)) == "line.done"
    far = POLICY.verifier_margin_low_snr
    assert rule_of(heard(verifier({FIRM: -1.1 - far, LOOSE: -1.0}), *hearings)) == "line.fault"
    found = heard(verifier({FIRM: -0.9 - far, LOOSE: -1.0}), *hearings)
    assert isinstance(found, NotUnderstood)


def test_of_an_answer_that_stands_alone_no_verifier_is_asked() -> None:
    answers = verifier({LOOSE: -1.0})
    assert rule_of(heard(answers, (FIRM,))) == "line.done"
    assert not answers.scored()


def test_a_part_of_an_answer_does_not_speak_against_it() -> None:
    """Words get lost more easily than they are made up."""
    answers = verifier({"count one": -1.0})
    whole = ("count one two", "count one")
    assert heard(answers, whole, apart=1.0) == heard(None, whole, apart=1.0)
    assert not answers.scored()


def test_an_answer_is_put_in_the_small_words_of_the_others() -> None:
    """So that an optional "at" makes no difference."""
    room = context().room
    small = replace(context(), room=replace(room, fillers=(*room.fillers, "at")))
    ambiguous = ("pulses at one", "pulses two")
    answers = verifier({"pulses at two": -1.0, "pulses at one": -9.0})
    found = heard(answers, ambiguous, where=small)
    assert isinstance(found, Understood)
    assert found.match.values() == {"count": 2}
    assert "pulses at two" in answers.scored()


def test_an_answer_is_put_as_anybody_would_write_it() -> None:
    """The recogniser hears "mono focal" where the lexicon says so."""
    roots = {
        f"{kind}.done": parse_expansion(f"lens model {kind}", kind)
        for kind in ("monofocal", "toric")
    }
    grammar = Grammar(roots, respellings={"monofocal": [("mono", "focal")]})
    lenses = replace(context(), grammar=grammar, active=frozenset(roots))
    answers = verifier({"lens model monofocal": -1.0})
    found = heard(answers, ("lens model toric", "lens model mono focal"), where=lenses)
    assert isinstance(found, Understood)
    assert found.match.text == "lens model monofocal"
    assert answers.scored() == ["lens model toric", "lens model monofocal"]
    negated = ("lens model mono focal", "lens model mono focal later")
    heard(answers, negated, ("lens model mono focal",), where=lenses)
    assert answers.scored()[2:] == ["lens model monofocal", "lens model monofocal later"]


def test_what_can_be_read_in_two_ways_is_not_taken_up() -> None:
    """However likely the verifier finds it, and though a hearing was ambiguous."""
    hearings = (("same words",), AMBIGUOUS)
    answers = verifier({"same words": -1.0, FIRM: -20.0, LOOSE: -20.0})
    assert isinstance(heard(answers, *hearings), NotUnderstood)
    assert "same words" in answers.scored()
    assert rule_of(heard(verifier({FIRM: -1.0}), *hearings)) == "line.done"


@pytest.mark.parametrize(
    "hearings", [(DENIED,), (AMBIGUOUS, DENIED), (AMBIGUOUS, AMBIGUOUS, DENIED, AMBIGUOUS)]
)
def test_a_denial_is_not_put_to_it(hearings: tuple[tuple[str, ...], ...]) -> None:
    answers = verifier({FIRM: -1.0})
    assert heard(answers, *hearings) == heard(None, *hearings)
    assert not answers.scored()


def test_talk_is_not_put_to_it() -> None:
    answers = verifier({FIRM: -1.0})
    assert heard(answers, TALK) == heard(None, TALK)
    assert not answers.scored()


SENTENCES = (FIRM, LOOSE, TRAY, OIL, *NEGATED, *DENIED, *BESIDE_FIRM, *TALK)


@given(
    st.lists(
        st.lists(st.sampled_from(SENTENCES), min_size=1, max_size=3, unique=True).map(tuple),
        min_size=1,
        max_size=6,
    ),
    st.dictionaries(st.sampled_from(SENTENCES), st.floats(-30.0, 0.0), min_size=1),
    st.floats(0.0, 20.0),
)
def test_it_makes_up_nothing_and_never_overrules_a_denial(
    hearings: list[tuple[str, ...]], likely: dict[str, float], own: float
) -> None:
    """Whatever it says, what is taken was permitted and found by a hearing; and one denial among
    the hearings that were needed leaves all as they made it."""
    used: list[tuple[str, ...]] = []

    def further() -> Iterator[Passes | None]:
        for one in hearings:
            used.append(one)
            yield looks(one)
        yield None

    found = settled(further(), context(), verifier(likely, own))
    if isinstance(found, Understood):
        assert " ".join(found.words) in {text for one in used for text in one}
        assert context().permitted(found.words)
    if any(isinstance(understand(looks(one).first, (), context()), Denied) for one in used):
        told = [looks(one) for one in used]
        assert found == settled([*told, None], context(), Answers())
