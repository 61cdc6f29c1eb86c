"""People answer as they speak: typed, in a session, at the level that a user sees. Which wordings
people use is invented; that a denial, a question or a doubt passes nothing is the design's rule."""

from __future__ import annotations

import pytest

from tests.session.plain_talk import PlainTalk
from tests.session.talk import shipped_case
from voicelist.session import records as rec

PLAN = "practice-101"
VALUES = {"case-number": "case number one zero one", "eye": "marked eye right"}
LATER = "come back to this later"


def at(item_id: str) -> PlainTalk:
    """A case in which an item is called, its section just begun."""
    section = shipped_case(PLAN).section_of[item_id].id
    talk = PlainTalk(section, PLAN)
    for _ in range(30):
        if talk.state.current == item_id:
            return talk
        lines = _answers(talk) if talk.case.items[talk.state.current].stop else [LATER]
        for line in lines:
            if talk.state.current != item_id:
                talk.says(line)
    raise AssertionError(f"{item_id} is never called")


def _answers(talk: PlainTalk) -> tuple[str, ...]:
    item_id = talk.state.current
    if item_id in VALUES:
        return (VALUES[item_id],)
    every = talk.case.grammar.examples(f"{item_id}.done")
    return every if talk.case.items[item_id].each_role else every[:1]


@pytest.mark.parametrize(
    "words",
    ["on", "it's on", "yes it's on", "yeah i've switched it on", "the machine is on doctor"],
)
def test_an_ordinary_item_passes_at_once(words: str) -> None:
    talk = at("power")
    talk.says(words)
    assert talk.status("power") == "said-done"
    assert talk.tones == 1


@pytest.mark.parametrize("words", ["firm", "it's firm", "yep that's firm", "on tight"])
@pytest.mark.parametrize("agreed", ["yes", "correct", "that's right", "yes that is correct"])
def test_a_short_answer_to_a_stop_item_is_read_back_first(words: str, agreed: str) -> None:
    talk = at("irrigation-line")
    assert talk.says(words) == ["Was that firm?"]
    assert (
        talk.status("irrigation-line") == "not-asked"
        or not talk.state.item("irrigation-line").answer
    )
    talk.says(agreed)
    assert talk.status("irrigation-line") == "said-done"


@pytest.mark.parametrize("words", ["no", "no it's not", "wrong"])
def test_what_was_read_back_and_refused_passes_nothing(words: str) -> None:
    talk = at("irrigation-line")
    talk.says("firm")
    reply = talk.says(words)
    assert reply == ["Firm or loose?"]
    assert not talk.state.item("irrigation-line").answer


@pytest.mark.parametrize(
    "words",
    ["the irrigation line is firm", "irrigation's tight", "right the infusion line is firm too"],
)
def test_an_answer_that_names_the_thing_passes_a_stop_item(words: str) -> None:
    talk = at("irrigation-line")
    talk.says(words)
    assert talk.status("irrigation-line") == "said-done"


def test_a_whole_answer_also_settles_what_was_read_back() -> None:
    talk = at("irrigation-line")
    talk.says("firm", "the irrigation line is firm")
    assert talk.status("irrigation-line") == "said-done"


@pytest.mark.parametrize("words", ["yes", "no", "okay", "yes please", "right"])
def test_yes_and_no_never_answer_a_choice(words: str) -> None:
    for item_id in ("irrigation-line", "power", "allergies"):
        talk = at(item_id)
        talk.says(words)
        assert not talk.state.item(item_id).answer


@pytest.mark.parametrize(
    "words",
    [
        "is it firm",
        "when it's firm tell me",
        "she said it was firm",
        "it'll be firm in a minute",
        "i think it's firm",
        "almost firm",
        "make sure it's firm",
        "firm or loose",
        "the aspiration line is firm",
        "it might be firm",
        "did you say firm",
        "put it on firm please",
    ],
)
def test_a_question_a_doubt_an_order_or_hearsay_passes_nothing(words: str) -> None:
    talk = at("irrigation-line")
    talk.says(words)
    assert not talk.state.item("irrigation-line").answer
    assert talk.state.pending is None or talk.state.pending.about != "short-answer"


@pytest.mark.parametrize(
    "words", ["it isn't firm", "not firm", "no it's not firm yet", "irrigation's not tight"]
)
def test_a_denial_is_taken_up_and_reported_only_if_meant(words: str) -> None:
    talk = at("irrigation-line")
    (reply,) = talk.says(words)
    assert reply.endswith("report it?")
    assert not talk.state.item("irrigation-line").answer
    talk.says("yes")
    assert talk.status("irrigation-line") == "said-fault"


@pytest.mark.parametrize("words", ["loose", "it's leaking", "no the irrigation line is loose"])
def test_a_fault_is_one_in_other_words_too(words: str) -> None:
    talk = at("irrigation-line")
    talk.says(words)
    assert talk.status("irrigation-line") == "said-fault"


@pytest.mark.parametrize(
    "words",
    ["it keeps slipping", "no it's dripping at the join", "the join has a crack in it"],
)
def test_what_may_be_amiss_is_offered_as_a_report(words: str) -> None:
    talk = at("irrigation-line")
    assert talk.says(words) == ["Report irrigation line?"]
    talk.says("yes please")
    assert talk.status("irrigation-line") == "said-fault"
    assert [one.words for one in talk.records if isinstance(one, rec.Answered)][-1] == words


def test_what_is_loosely_an_answer_is_read_back_even_for_an_ordinary_item() -> None:
    talk = at("instruments")
    assert talk.says("they are ready the old one squeaks like my knees") == ["Was that ready?"]
    assert not talk.state.item("instruments").answer


@pytest.mark.parametrize("words", ["left", "it's the left", "the mark is over the left eye"])
def test_a_value_alone_is_read_back_before_it_is_compared(words: str) -> None:
    talk = at("eye")
    assert talk.says(words) == ["Was that left?"]
    assert not talk.state.item("eye").answer
    assert talk.says("yes") == ["Please read the mark again."]
    assert not talk.state.item("eye").answer


@pytest.mark.parametrize("words", ["the list says right eye", "the form says right"])
def test_a_value_of_another_source_is_no_answer(words: str) -> None:
    talk = at("eye")
    talk.says(words)
    assert not talk.state.item("eye").answer
    assert talk.state.pending is None


@pytest.mark.parametrize(
    "words",
    [
        "i am reading plus twenty one and a half dioptres on the label of the lens box",
        "i have the box in my hand and the power is plus twenty one point five",
        "plus twenty one and a half",
        "got the label facing me and the power's plus twenty one point five",
    ],
)
def test_a_value_amid_other_words_is_read_back_and_then_compared(words: str) -> None:
    talk = at("lens-power")
    assert talk.says(words) == ["Was that +21.5?"]
    assert not talk.state.item("lens-power").answer
    talk.says("yes")
    assert talk.status("lens-power") == "value"


def test_another_value_amid_other_words_passes_nothing_when_it_is_agreed_to() -> None:
    talk = at("lens-power")
    talk.says("i am reading plus nineteen dioptres on the label of the lens box", "yes")
    assert not talk.state.item("lens-power").answer


@pytest.mark.parametrize(
    "words",
    [
        "on the order sheet in front of me there is plus twenty one point five",
        "she was down for plus twenty one point five",
        "we planned plus twenty one point five for her",
        "i am reading plus twenty or plus twenty one point five on the label",
        "i am reading plus twenty one point five thirty on the label",
        "i am not reading plus twenty one point five on the label",
        "i am reading plus twenty one point five on the other box",
        "i will look for plus twenty one point five on the label",
        "are you reading plus twenty one point five on the label",
        "read me plus twenty one point five on the label please",
        "i think i am reading plus twenty one point five",
        "he is telling me plus twenty one point five",
        "i am reading twenty one point five on the label",
    ],
)
def test_a_value_that_is_doubted_denied_asked_or_of_elsewhere_is_not_read_back(words: str) -> None:
    talk = at("lens-power")
    assert not any("Was that" in line for line in talk.says(words))
    talk.says("yes")
    assert talk.status("lens-power") not in ("value", "said-done")


@pytest.mark.parametrize(
    ("words", "settings"),
    [
        (
            "give me forty percent power vacuum three fifty and aspiration rate thirty two",
            {"power_percent": 40, "vacuum_mmHg": 350, "flow_cc_per_min": 32},
        ),
        (
            "phaco power linear up to forty vacuum fixed at three hundred and fifty",
            {"power_percent": 40, "vacuum_mmHg": 350},
        ),
    ],
)
def test_settings_in_any_order_with_units_before_or_behind(
    words: str, settings: dict[str, float]
) -> None:
    talk = PlainTalk("settings", PLAN)
    talk.says("clinical grade three")
    while talk.state.current != "quadrant-profile":
        talk.says(LATER)
    talk.says(words)
    said = talk.state.item("quadrant-profile").values
    assert {name: said[name]["value"] for name in settings} == settings


@pytest.mark.parametrize(
    "words",
    [
        "vacuum three hundred no three fifty",
        "everything linear power forty",
        "vacuum three hundred or so less",
    ],
)
def test_a_correction_in_mid_sentence_is_asked_about(words: str) -> None:
    talk = PlainTalk("settings", PLAN)
    talk.says("clinical grade three")
    while talk.state.current != "quadrant-profile":
        talk.says(LATER)
    talk.says(words)
    assert not talk.state.item("quadrant-profile").values


@pytest.mark.parametrize(
    ("words", "reply"),
    [
        ("sorry what was that", "On or off: machine?"),
        ("why do you ask that", "The self test runs when the power comes on."),
    ],
)
def test_commands_in_other_words(words: str, reply: str) -> None:
    talk = at("power")
    assert talk.says(words) == [reply]


def test_come_back_to_that_later_defers_an_ordinary_item_alone() -> None:
    talk = at("power")
    talk.says("skip this one for now")
    assert talk.status("power") == "deferred"
    stop = at("irrigation-line")
    stop.says("skip this one for now")
    assert not stop.state.item("irrigation-line").answer


def test_short_answers_never_reach_another_section() -> None:
    talk = at("power")
    talk.says("clear")
    assert all(not one.answer for key, one in talk.state.items.items() if key != "power")


@pytest.mark.parametrize(
    "words",
    ["as planned", "quadrant settings as in the plan", "same as before", "the usual", "per plan"],
)
def test_settings_that_are_only_named_are_asked_for_one_by_one(words: str) -> None:
    talk = at("quadrant-profile")
    assert talk.says(words) == ["Please say each setting."]
    assert not talk.state.item("quadrant-profile").answer
    said = talk.says("power forty vacuum three fifty flow thirty two pulses thirty")
    assert "each setting" not in " ".join(said)
    assert talk.state.item("quadrant-profile").values or talk.state.pending is not None
