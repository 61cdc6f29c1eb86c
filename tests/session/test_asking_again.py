"""An item is asked again shorter, by what was missing, then by example. The wordings are this
project's own; that a value is never given away, and that "yes" is no answer to a choice, are its
design's rules."""

from __future__ import annotations

import pytest

from tests.session.plain_talk import PlainTalk
from tests.session.talk import Talk, shipped_bundle
from tests.session.test_plain_speech import at
from voicelist.session import records as rec
from voicelist.session.asking_again import by_example, shorter

UNCLEAR = "what about the irrigation line"


def at_lens_power() -> PlainTalk:
    """The marked eye is answered as planned, and the power on the box is asked for."""
    talk = PlainTalk("time-out", "practice-007")
    talk.says("marked eye left")
    assert talk.state.current == "lens-power"
    return talk


def test_the_second_time_is_shorter_the_third_gives_an_example_then_the_display_shows_it() -> None:
    talk = Talk()
    assert talk.says(UNCLEAR) == ["Firm or loose?"]
    assert talk.says(UNCLEAR) == ["Say the irrigation line, then firm or loose."]
    assert talk.says(UNCLEAR) == []
    assert [one.kind for one in talk.shown[-2:]] == ["waiting", "permitted"]
    assert talk.status("irrigation-line") == "waiting"


@pytest.mark.parametrize("words", ["yes", "no", "yeah", "nope", "yes yes"])
@pytest.mark.parametrize(
    ("item_id", "reply"),
    [("irrigation-line", "Firm or loose?"), ("power", "On or off?"), ("eye", "Which eye?")],
)
def test_yes_or_no_by_itself_asks_the_choice_again(words: str, item_id: str, reply: str) -> None:
    talk = at(item_id)
    assert talk.says(words) == [reply]
    assert talk.state.pending is None
    assert not talk.state.item(item_id).answer


def test_yes_to_a_request_to_look_again_is_left_alone() -> None:
    talk = at("eye")
    talk.says("marked eye left")
    assert talk.said[-1] == "Please read the mark again."
    assert talk.says("yes") == []


@pytest.mark.parametrize("sign", ["plus", "minus"])
def test_a_power_without_its_sign_is_asked_for_it_and_read_back_whole(sign: str) -> None:
    talk = at_lens_power()
    assert talk.says("twenty one point five") == ["Plus or minus?"]
    number = {"plus": "+21.5", "minus": "-21.5"}[sign]
    assert talk.says(sign) == [f"Was that {number}?"]
    assert not talk.state.item("lens-power").answer


def test_a_sign_without_a_power_is_asked_for_it() -> None:
    talk = at_lens_power()
    assert talk.says("plus") == ["Which power?"]
    assert talk.says("twenty one point five") == ["Was that +21.5?"]


def test_the_whole_sentence_without_its_sign_too() -> None:
    talk = at_lens_power()
    assert talk.says("lens power twenty one point five")[0].startswith("Plus or minus?")
    assert talk.says("plus") == ["Was that +21.5?"]


@pytest.mark.parametrize(
    ("lines", "replies"),
    [
        (("three", "clinical"), (["On which scale?"], ["Was that 3 clinical?"])),
        (("two and a half", "clinical"), (["On which scale?"], ["Was that 2.5 clinical?"])),
        (("clinical", "three"), (["Which grade?"], ["Was that 3 clinical?"])),
    ],
)
def test_a_grade_in_two_parts(lines: tuple[str, ...], replies: tuple[list[str], ...]) -> None:
    talk = PlainTalk("settings", "practice-101")
    assert talk.state.current == "grade"
    assert tuple(talk.says(line) for line in lines) == replies
    assert not talk.state.item("grade").answer
    talk.says("yes")
    assert [one.about for one in talk.records if isinstance(one, rec.ReadBack)]


def test_three_plus_is_the_scale_s_own_way_of_writing_three_and_is_read_back() -> None:
    # The clinical scale is written 0, trace, 1+, 2+, 3+, 4+: from memory.
    talk = PlainTalk("settings", "practice-101")
    assert talk.says("clinical grade three plus") == ["Was that 3 clinical?"]
    assert not talk.state.item("grade").answer
    talk.says("no")
    assert talk.says("three plus") == ["On which scale?"]
    assert talk.says("clinical") == ["Was that 3 clinical?"]


def test_two_numbers_or_two_signs_are_never_put_together() -> None:
    talk = at_lens_power()
    talk.says("twenty one point five")
    talk.says("twenty two")
    assert talk.state.pending is None
    assert not talk.state.item("lens-power").answer


def test_what_was_read_back_and_refused_is_asked_again_shorter() -> None:
    talk = at("irrigation-line")
    talk.says("firm")
    assert talk.says("no") == ["Firm or loose?"]
    assert not talk.state.item("irrigation-line").answer


@pytest.mark.parametrize("plan", ["practice-007", "practice-101", "practice-102", "practice-201"])
def test_no_example_gives_a_value_of_the_plan_away_and_none_is_longer_than_a_call(
    plan: str,
) -> None:
    bundle = shipped_bundle(plan)
    lens = bundle.plan.planned_lens
    eye, model = str(bundle.plan.eye), "" if lens is None else lens.model.lower()
    planned = [*bundle.plan.also.values(), *bundle.card.also.values(), *filter(None, [model])]
    for _, item in bundle.checklist.all_items():
        short, example = shorter(bundle.sentences, item), by_example(bundle.sentences, item)
        assert len(short.split()) <= min(7, len(item.call.split()))
        assert len(example.split()) <= 12
        if not item.asks_for_value:
            continue
        for text in (short.lower(), example.lower()):
            assert (eye in text.split()) <= ("left or right" in text)
            assert not any(one.lower() in text for one in planned)
            assert not any(letter.isdigit() for letter in text)
