"""What a witness may change: a doubt may be dispelled, an answer doubted; a denial stands.

The sentences are our own; how much likelier a sentence must be is a project choice, measured on
orders in noise and on synthetic answers (tests/benchmarks/orders.py, understanding.py).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.understanding.small_room import context, ranked
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.understanding import verification
from voicelist.understanding.evidence import Evidence
from voicelist.understanding.interpretation import (
    Context,
    Denied,
    NotUnderstood,
    Understanding,
    Understood,
    understand,
)
from voicelist.understanding.voting import Looks, settled

FIRM, LOOSE = "irrigation line firm", "irrigation line loose"
TORN = (FIRM, LOOSE)
BESIDE_FIRM = ("irrigation line farm", FIRM)
DENIED = ("irrigation line isn't firm",)
TURNED = (FIRM, "irrigation line firm later")
TALK = ("good morning",)
TRAY = "lay out a tray of salt for the list of this morning"
OIL = "lay out a tray of almond oil for the list of this morning"
UNLIKELY = -60.0


class Witness:
    """Finds sentences as likely as it is told, all others unlikely; hears the likeliest itself, so
    much likelier."""

    def __init__(self, likely: Mapping[str, float], own: float = 0.0) -> None:
        self._likely = likely
        self._own = own
        self.put: list[str] = []

    def __call__(self, sentences: Sequence[str], freely: bool) -> Evidence:
        self.put += sentences
        told = tuple(self._likely.get(one, UNLIKELY) for one in sentences)
        if not freely:
            return Evidence(told)
        words = max(self._likely, key=lambda one: self._likely[one])
        return Evidence(told, tuple(words.split()), self._likely[words] + self._own)


def looks(sentences: tuple[str, ...], apart: float = 0.1) -> Looks:
    return ranked(sentences, apart), ()


def heard(
    witness: Witness | None,
    *hearings: tuple[str, ...],
    apart: float = 0.1,
    where: Context | None = None,
    loud: bool = False,
) -> Understanding:
    """What is heard first, and then in turn, six times in all."""
    told = [looks(one, apart) for one in itertools.islice(itertools.cycle(hearings), 6)]
    told[0] = [replace(one, loud_around=loud) for one in told[0][0]], told[0][1]
    return settled(told, where or context(), witness or (lambda *_: None))


def rule_of(found: Understanding) -> str:
    assert isinstance(found, Understood), found
    return found.match.rule


def test_a_doubt_between_two_answers_is_dispelled() -> None:
    witness = Witness({FIRM: -1.0, LOOSE: -9.0})
    assert rule_of(heard(witness, TORN)) == "line.done"
    assert witness.put == [FIRM, LOOSE]
    assert rule_of(heard(Witness({FIRM: -9.0, LOOSE: -1.0}), TORN)) == "line.fault"


@pytest.mark.parametrize(
    "witness",
    [
        None,
        # It finds the two about as likely.
        Witness({FIRM: -1.0, LOOSE: -1.1 - verification.STANDS_OUT + 0.2}),
        # Of its own accord it hears something else.
        Witness({FIRM: -1.0, LOOSE: -9.0}, own=verification.OWN_OF_SHORT + 0.1),
        Witness({FIRM: -10.0, LOOSE: -19.0, "the irrigator fell": -1.0}),
    ],
)
def test_else_the_doubt_stays(witness: Witness | None) -> None:
    assert isinstance(heard(witness, TORN), NotUnderstood)


def test_what_is_not_permitted_must_be_less_likely() -> None:
    """It was once understood, and else was nearer to something that is not permitted."""
    hearings = (*[BESIDE_FIRM] * 5, (FIRM,))
    assert isinstance(heard(None, *hearings, apart=0.9), NotUnderstood)
    farm = BESIDE_FIRM[0]
    near = -1.0 - verification.STANDS_OUT_OF_OTHER
    found = heard(Witness({FIRM: -1.0, farm: near - 0.1}), *hearings, apart=0.9)
    assert rule_of(found) == "line.done"
    for likely in (near + 0.1, -0.5):
        found = heard(Witness({FIRM: -1.0, farm: likely}), *hearings, apart=0.9)
        assert isinstance(found, NotUnderstood)


def test_what_no_hearing_understood_or_was_torn_about_is_not_taken_up() -> None:
    witness = Witness({FIRM: -1.0})
    assert isinstance(heard(witness, BESIDE_FIRM, apart=0.9), NotUnderstood)
    assert not witness.put


def test_that_an_answer_was_turned_must_be_far_less_likely() -> None:
    later = TURNED[1]
    far = -1.0 - verification.STANDS_OUT_OF_TURNED
    hearings = (TURNED, (FIRM,), TURNED)
    assert isinstance(heard(None, *hearings), NotUnderstood)
    assert rule_of(heard(Witness({FIRM: -1.0, later: far - 0.1}), *hearings)) == "line.done"
    assert isinstance(heard(Witness({FIRM: -1.0, later: far + 0.1}), *hearings), NotUnderstood)
    own = verification.OWN_OF_SHORT + 0.1
    assert isinstance(heard(Witness({FIRM: -1.0}, own), *hearings), NotUnderstood)


def test_of_a_long_answer_the_witness_need_not_hear_all() -> None:
    torn = ((TRAY, OIL), (OIL, TRAY))
    assert isinstance(heard(None, *torn), NotUnderstood)
    for own, found in ((-0.1, Understood), (0.1, NotUnderstood)):
        witness = Witness({TRAY: -20.0, OIL: -30.0}, own + verification.OWN_OF_LONG)
        assert isinstance(heard(witness, *torn), found)


def test_where_it_is_loud_an_answer_must_stand_out_by_more_and_be_likely() -> None:
    far = verification.STANDS_OUT_LOUD_AROUND
    likely = verification.LIKELY_LOUD_AROUND * len(FIRM.split())
    for firm, loose, found in (
        (likely + 0.1, likely - far - 0.1, Understood),
        (likely + 0.1, likely - far + 0.2, NotUnderstood),
        (likely - 0.1, likely - far - 0.2, NotUnderstood),
    ):
        witness = Witness({FIRM: firm, LOOSE: loose})
        assert isinstance(heard(witness, TORN, loud=True), found)
        assert isinstance(heard(witness, TORN), Understood)


def test_where_it_is_loud_a_hearing_must_have_found_it_nearest() -> None:
    torn = (LOOSE, FIRM)
    witness = Witness({FIRM: -1.0, LOOSE: -20.0})
    assert rule_of(heard(witness, torn)) == "line.done"
    assert isinstance(heard(witness, torn, loud=True), NotUnderstood)
    assert rule_of(heard(witness, torn, torn, TORN, loud=True)) == "line.done"


def test_an_answer_is_doubted_that_the_witness_finds_unlikely_beside_another() -> None:
    """Another permitted sentence was near, but not so near that there was a doubt."""
    assert rule_of(heard(None, TORN, apart=2.0)) == "line.done"
    far = verification.CONTRADICTED
    found = heard(Witness({FIRM: -1.0 - far - 0.1, LOOSE: -1.0}), TORN, apart=2.0)
    assert isinstance(found, NotUnderstood)
    assert found.torn
    for witness in (
        Witness({FIRM: -1.0 - far + 0.1, LOOSE: -1.0}),
        Witness({FIRM: -1.0, LOOSE: -1.0}),
    ):
        assert rule_of(heard(witness, TORN, apart=2.0)) == "line.done"


def test_of_an_answer_that_stands_alone_no_witness_is_asked() -> None:
    witness = Witness({LOOSE: -1.0})
    assert rule_of(heard(witness, (FIRM,))) == "line.done"
    assert rule_of(heard(witness, TORN, apart=verification.NEAR + 0.1)) == "line.done"
    assert not witness.put


def test_a_part_of_an_answer_does_not_speak_against_it() -> None:
    """Words get lost more easily than they are made up."""
    witness = Witness({"count one": -1.0})
    whole = ("count one two", "count one")
    assert heard(witness, whole, apart=1.0) == heard(None, whole, apart=1.0)
    assert not witness.put


def test_an_answer_is_put_in_the_small_words_of_the_others() -> None:
    """So that an optional "at" makes no difference."""
    room = context().room
    small = replace(context(), room=replace(room, fillers=(*room.fillers, "at")))
    torn = ("pulses at one", "pulses two")
    witness = Witness({"pulses at two": -1.0, "pulses at one": -9.0})
    found = heard(witness, torn, where=small)
    assert isinstance(found, Understood)
    assert found.match.values() == {"count": 2}
    assert "pulses at two" in witness.put


def test_an_answer_is_put_as_anybody_would_write_it() -> None:
    """The recogniser hears "mono focal" where the lexicon says so."""
    roots = {
        f"{kind}.done": parse_expansion(f"lens model {kind}", kind)
        for kind in ("monofocal", "toric")
    }
    grammar = Grammar(roots, respellings={"monofocal": [("mono", "focal")]})
    lenses = replace(context(), grammar=grammar, active=frozenset(roots))
    witness = Witness({"lens model monofocal": -1.0})
    found = heard(witness, ("lens model toric", "lens model mono focal"), where=lenses)
    assert isinstance(found, Understood)
    assert found.match.text == "lens model monofocal"
    assert witness.put == ["lens model toric", "lens model monofocal"]
    turned = ("lens model mono focal", "lens model mono focal later")
    heard(witness, turned, ("lens model mono focal",), where=lenses)
    assert witness.put[2:] == ["lens model monofocal", "lens model monofocal later"]


def test_what_can_be_read_in_two_ways_is_not_taken_up() -> None:
    """However likely the witness finds it, and though a hearing was torn."""
    hearings = (("same words",), TORN)
    witness = Witness({"same words": -1.0, FIRM: -20.0, LOOSE: -20.0})
    assert isinstance(heard(witness, *hearings), NotUnderstood)
    assert "same words" in witness.put
    assert rule_of(heard(Witness({FIRM: -1.0}), *hearings)) == "line.done"


@pytest.mark.parametrize("hearings", [(DENIED,), (TORN, DENIED), (TORN, TORN, DENIED, TORN)])
def test_a_denial_is_not_put_to_it(hearings: tuple[tuple[str, ...], ...]) -> None:
    witness = Witness({FIRM: -1.0})
    assert heard(witness, *hearings) == heard(None, *hearings)
    assert not witness.put


def test_talk_is_not_put_to_it() -> None:
    witness = Witness({FIRM: -1.0})
    assert heard(witness, TALK) == heard(None, TALK)
    assert not witness.put


SENTENCES = (FIRM, LOOSE, TRAY, OIL, *TURNED, *DENIED, *BESIDE_FIRM, *TALK)


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

    def further() -> Iterator[Looks | None]:
        for one in hearings:
            used.append(one)
            yield looks(one)
        yield None

    found = settled(further(), context(), Witness(likely, own))
    if isinstance(found, Understood):
        assert " ".join(found.words) in {text for one in used for text in one}
        assert context().permitted(found.words)
    if any(isinstance(understand(*looks(one), context()), Denied) for one in used):
        told = [looks(one) for one in used]
        assert found == settled([*told, None], context(), lambda *_: None)
