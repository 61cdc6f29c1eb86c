"""Details said while an item asks whether something is so: checked, read back, never an answer."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from tests.session.talk import Talk, shipped_bundle
from tests.team.right import answer_to
from voicelist.clinical.rules import RULES
from voicelist.documents.embedded import Bundle
from voicelist.linting.plan import _incisions
from voicelist.session.case import Case, compile_case
from voicelist.session.records import Accepted, Answered, Corrected, ReadBack

FULL = "practice-103"  # left eye, main incision 0, side port 270, power +22.5; card 90 +- 15


@cache
def full_case(section: str = "") -> Case:
    return compile_case(shipped_bundle(FULL), section)


def at(item: str) -> Talk:
    """The case of the full checklist, everything as planned up to `item`, which is called."""
    talk = Talk(full_case().section_of[item].id, FULL)
    while talk.state.current != item:
        talk.says(answer_to(talk.case, talk.state, talk.state.current))
        if talk.state.pending is not None:
            about = talk.state.pending.about
            talk.says("surgeon confirms the profile" if about == "echo" else "yes that is correct")
    return talk


# What is said at which item, and what is read back of it: one row each.
READ_BACKS = [
    ("pedal-place", "knees at ninety degrees", "Knees are at 90 degrees; expected above 90."),
    (
        "pedal-place",
        "knees at one seventy degrees",
        "Knee angle is 170; usual ends at 120. Please confirm.",
    ),
    (
        "pedal-place",
        "pedal walk zero one three one zero",
        "Pedal position 2 was not shown. Please show it.",
    ),
    (
        "pedal-place",
        "pedal walk zero one two three two",
        "The pedal ends at 2; it should rest at 0.",
    ),
    (
        "incision-plan",
        "main incision at one eighty",
        "Main incision is 180, the nasal side. Please confirm.",
    ),
    (
        "procedure-name",
        "ultrasound time six hundred",
        "Ultrasound time is 600; usual ends at 300. Please confirm.",
    ),
    (
        "incision-plan",
        "main incision at zero and side port at three hundred",
        "Side port is 300; the plan says 270. Please check.",
    ),
    (
        "incision-plan",
        "main incision at fifteen and side port at two fifty six",
        "Incisions are 119 degrees apart; the card says 90.",
    ),
    (
        "incision-plan",
        "main incision temporal seat superior",
        "The seat is superior; this incision faces temporal. Please check.",
    ),
    (
        "incision-plan",
        "side port at four hundred",
        "Side port cannot be 400, at most 360. Please correct it.",
    ),
    (
        "lens-match",
        "printout lens power plus twenty two",
        "Lens power is +22 on the printout, +22.5 elsewhere. Please check.",
    ),
    (
        "lens-match",
        "printout lens power plus twenty two point three",
        "Lens power is +22.3 on the printout, +22.5 elsewhere. Please check.",
    ),
    ("target", "target plus three", "Target is +3; usual ends at +2. Please confirm."),
    ("target", "lens axis at one ninety", "Axis cannot be 190, at most 180. Please correct it."),
    ("target", "lens axis at ten", "I heard 10. The plan differs. Please check again."),
    (
        "procedure-name",
        "ultrasound time sixty seconds mean power twenty percent effective time thirteen",
        "Effective time is 13; the others give 12. Please check.",
    ),
    (
        "procedure-name",
        "mean power fifty five percent",
        "Mean power is 55; expected at most 50. Please check.",
    ),
    (
        "procedure-name",
        "total time ninety mean duty fifty ultrasound time fifty",
        "Ultrasound time is 50; the others give 45. Please check.",
    ),
]


@pytest.mark.parametrize(("item", "words", "sentence"), READ_BACKS)
def test_a_detail_that_does_not_fit_is_read_back_and_holds_the_item(
    item: str, words: str, sentence: str
) -> None:
    talk = at(item)
    assert talk.says(words) == [sentence]
    assert len(sentence.split()) <= 12
    done = answer_to(talk.case, talk.state, item)
    assert talk.says(done) == ["This one has to be answered.", sentence]
    assert talk.status(item) == "called"
    assert not any(isinstance(one, Answered) and one.item == item for one in talk.records)


def test_all_rules_about_the_body_the_incision_and_the_lens_reach_a_session() -> None:
    """`usual-separation` is asked about where the card has none: below."""
    reached = set()
    for item, words, _ in READ_BACKS:
        talk = at(item)
        talk.says(words)
        reached |= {
            found["rule"]
            for one in talk.records
            if isinstance(one, ReadBack)
            for found in one.findings
        }
    modules = ("body", "lens", "around")
    wanted = {
        name for name, one in RULES.items() if one.check.__module__.rpartition(".")[2] in modules
    }
    assert wanted - reached == {"usual-separation"}


FITTING = [
    ("pedal-place", "knees at one hundred degrees", "Knee angle is 100."),
    ("pedal-place", "pedal walk three two three two one zero", "Pedal is 3 2 3 2 1 0."),
    ("pedal-place", "pedal walk zero one two three two one zero", "Pedal is 0 1 2 3 2 1 0."),
    ("pedal-place", "knees at one twenty degrees", "Knee angle is 120."),
    (
        "incision-plan",
        "main incision at zero degrees and side port at six o'clock and seat temporal",
        "Main incision is 0, side port is 270, seat is temporal.",
    ),
    ("lens-match", "printout lens power plus twenty two point five", "Printout is +22.5."),
    ("target", "target minus zero point five", "Target is -0.5."),
    (
        "procedure-name",
        "ultrasound time sixty seconds mean power twenty effective time twelve",
        "Ultrasound time is 60, mean power is 20, effective time is 12.",
    ),
]


@pytest.mark.parametrize(("item", "words", "echo"), FITTING)
def test_a_detail_that_fits_is_echoed_and_passes_nothing(item: str, words: str, echo: str) -> None:
    talk = at(item)
    assert talk.says(words) == [echo]
    assert len(echo.split()) <= 12
    assert talk.status(item) == "called"


@pytest.mark.parametrize(("item", "words", "echo"), FITTING)
def test_the_items_own_words_pass_it_with_its_details_in_the_record(
    item: str, words: str, echo: str
) -> None:
    talk = at(item)
    talk.says(words)
    talk.says(answer_to(talk.case, talk.state, item))
    assert talk.status(item) == "said-done"
    answered = [one for one in talk.records if isinstance(one, Answered) and one.item == item][-1]
    assert answered.values == talk.state.item(item).values != {}


def test_the_items_own_words_alone_pass_it_as_before() -> None:
    talk = at("incision-plan")
    talk.says("incision and seat set")
    assert talk.status("incision-plan") == "said-done"
    assert talk.state.item("incision-plan").values == {}


def test_10_and_190_are_two_places_where_the_plan_has_one_of_them() -> None:
    talk = at("incision-plan")
    assert talk.says("main incision at one ninety") == [
        "Main incision is 190, the nasal side. Please confirm."
    ]
    found = [one for one in talk.records if isinstance(one, ReadBack)][-1].findings
    assert [one["rule"] for one in found] == ["nasal-incision", "planned-place"]
    assert talk.says("main incision at ten") == ["Main incision is 10."]
    (corrected,) = [one for one in talk.records if isinstance(one, Corrected)]
    assert (corrected.quantity, corrected.old, corrected.new) == ("main_deg", 190, 10)


def test_places_may_come_in_two_breaths_and_are_compared_when_both_are_there() -> None:
    talk = at("incision-plan")
    talk.says("side port at two eighty")
    assert talk.says("main incision at three fifty nine") == ["Main incision is 359."]
    assert talk.says("side port at two fifty five main incision at fourteen") == [
        "Incisions are 119 degrees apart; the card says 90."
    ]


def test_the_surgeon_accepts_a_detail_with_a_reason_and_the_rest_stays_a_question() -> None:
    talk = at("incision-plan")
    talk.says("main incision at fifteen and side port at two fifty six seat superior")
    reply = talk.says("surgeon accepts the separation because of my preference")
    assert reply == [
        "Accepted by the surgeon: separation is 119.",
        "The seat is superior; this incision faces temporal. Please check.",
    ]
    reply = talk.says("surgeon accepts the seat because of my preference")
    assert reply[-1] == "Main incision is 15, side port is 256, seat is superior."
    talk.says("incision and seat set")
    assert talk.status("incision-plan") == "said-done"
    accepted = [one for one in talk.records if isinstance(one, Accepted)]
    assert [(one.quantity, one.heard, one.expected) for one in accepted] == [
        ("separation_deg", 119, 90),
        ("seat", "superior", "temporal"),
    ]


@pytest.mark.parametrize(
    ("item", "words", "name"),
    [
        ("pedal-place", "knees at ninety degrees", "knee angle"),
        ("pedal-place", "pedal walk three two one", "pedal"),
        ("incision-plan", "main incision at ninety", "main incision"),
        ("incision-plan", "side port at ninety", "side port"),
        ("target", "target plus three", "target"),
        ("procedure-name", "mean power fifty five", "mean power"),
        ("procedure-name", "total time sixty ultrasound time sixty five", "ultrasound time"),
        ("procedure-name", "ultrasound time sixty effective time sixty five", "effective time"),
    ],
)
def test_each_question_about_a_detail_has_a_name_to_accept_it_by(
    item: str, words: str, name: str
) -> None:
    talk = at(item)
    talk.says(words)
    reply = talk.says(f"surgeon accepts the {name} because of my preference")
    assert reply[0].startswith(f"Accepted by the surgeon: {name} is ")


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("lens-match", "printout lens power plus twenty two"),
        ("target", "lens axis at ten"),
        ("incision-plan", "side port at four hundred"),
    ],
)
@pytest.mark.parametrize("name", ["target", "side port", "power"])
def test_a_lens_that_differs_and_what_cannot_be_are_never_accepted(
    item: str, words: str, name: str
) -> None:
    talk = at(item)
    talk.says(words, f"surgeon accepts the {name} because of my preference")
    assert not any(isinstance(one, Accepted) for one in talk.records)
    assert talk.status(item) == "called"


def test_a_printout_that_differs_is_taken_when_it_is_read_again() -> None:
    talk = at("lens-match")
    talk.says("printout lens power plus twenty two")
    assert talk.says("printout lens power plus twenty two point five") == ["Printout is +22.5."]
    talk.says("printout and box alike")
    assert talk.status("lens-match") == "said-done"


def test_the_plan_is_not_told_where_a_printout_or_an_axis_differs_from_it() -> None:
    talk = at("target")
    talk.says("lens axis at ten")
    (read_back,) = [one for one in talk.records if isinstance(one, ReadBack) and one.findings]
    assert read_back.findings[0]["rule"] == "plan-axis"
    assert read_back.findings[0]["expected"] == "none"


def test_the_places_of_the_other_eye_are_the_other_way_round() -> None:
    """Temporal is 180 in the right eye, 0 in the left: ISO 8429, derived."""
    left, right = at("incision-plan"), at("incision-plan")
    right.case = _with_plan(eye="right", incision={"main_deg": 180, "side_port_deg": 270})
    left.says("main incision temporal")
    right.says("main incision temporal")
    assert left.state.item("incision-plan").values == {"main_deg": 0}
    assert right.state.item("incision-plan").values == {"main_deg": 180}


def test_without_a_card_for_it_an_unusual_separation_is_asked_about() -> None:
    """Usually 60 to 90 degrees (The paracentesis incision, chapter 13)."""
    bundle = shipped_bundle(FULL)
    card = bundle.card.model_copy(update={"incision": None})
    talk = at("incision-plan")
    talk.case = compile_case(_bundle(bundle, card=card), "settings")
    assert talk.says("main incision at zero side port at two sixty") == [
        "Incisions are 100 degrees apart; usual ends at 90."
    ]


def test_a_power_that_no_lens_has_is_read_back_without_naming_one_that_a_lens_has() -> None:
    talk = at("lens-power")
    assert talk.says("lens power plus twenty two point four") == [
        "Lens power is +22.4; steps are 0.25. Please check."
    ]
    assert talk.says("lens power plus seventy") == [
        "Lens power is +70; lenses end at +60. Please check."
    ]
    assert talk.says("lens power minus twenty two point five") == [
        "Lens power is -22.5; lenses end at -20. Please check."
    ]
    read_back = [one for one in talk.records if isinstance(one, ReadBack)][-1]
    assert [one["rule"] for one in read_back.findings] == ["lens-step", "plan-lens-power"]
    assert talk.status("lens-power") == "called"
    talk.says("lens power plus twenty two point five")
    assert talk.status("lens-power") == "value"


def test_a_denied_or_questioned_detail_is_not_noted() -> None:
    talk = at("pedal-place")
    talk.says("knees not at one hundred degrees", "are knees at one hundred degrees")
    assert talk.state.item("pedal-place").values == {}


def _with_plan(**changes: object) -> Case:
    bundle = shipped_bundle(FULL)
    written = bundle.plan.model_dump(mode="json", by_alias=True, exclude_none=True)
    plan = type(bundle.plan).model_validate({**written, **changes})
    return compile_case(_bundle(bundle, plan=plan), "settings")


def _bundle(bundle: Bundle, **parts: object) -> Bundle:
    return replace(bundle, **parts)  # type: ignore[arg-type]  # its own parts by name


@pytest.mark.parametrize("seat", ["superior", "temporal"])
def test_between_two_sides_either_seat_faces_the_incision(seat: str) -> None:
    """45 degrees of the left eye is as near to the temple as to the top: ISO 8429, derived."""
    talk = at("incision-plan")
    talk.case = _with_plan(incision={"main_deg": 45, "side_port_deg": 315})
    (reply,) = talk.says(f"main incision at forty five seat {seat}")
    assert reply == f"Main incision is 45, seat is {seat}."


def test_a_nasal_main_incision_of_a_plan_deserves_a_look() -> None:
    bundle = _with_plan(incision={"main_deg": 180, "side_port_deg": 270}).bundle
    notes = [one for one in _incisions(bundle) if "nasal" in one.found]
    assert [one.note for one in notes] == [True]
    assert "left eye" in notes[0].found
    assert not [one for one in _incisions(shipped_bundle(FULL)) if "nasal" in one.found]
