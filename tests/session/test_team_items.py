"""Items that several roles answer, free text that is stated aloud, and closed lists."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.session.events import Overheard, Utterance, Voice
from voicelist.session.machine import context_of
from voicelist.session.records import Answered, Heard, ReadBack
from voicelist.session.state import replay
from voicelist.session.team_records import Agreed
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import NotUnderstood, Understanding, understand

FULL = "practice-101"


def at(section: str, *, item: str, plan: str = FULL) -> Room:
    """A case begun at a section, gone on to one of its items."""
    room = Room(case_of(plan, section))
    while room.state.current != item:
        room.says(right_line(room.case, room.state))
    return room


def test_an_item_of_several_roles_passes_when_the_last_of_them_has_answered() -> None:
    room = at("time-out", item="team-check")
    assert room.says("surgeon has confirmed side and procedure") == ["Anaesthesia, please."]
    assert room.status("team-check") == "called"
    assert room.says("nurse confirmed patient side and procedure") == ["Anaesthesia, please."]
    assert room.status("team-check") == "called"
    room.says("anaesthesia confirmed side and procedure")
    assert room.status("team-check") == "said-done"
    agreed = [one for one in room.records if isinstance(one, Agreed)]
    assert [one.role for one in agreed] == ["surgeon", "circulating-nurse", "anaesthesia"]
    assert {one.role_known_by for one in agreed} == {"spoken"}
    assert replay(room.records) == room.state


def test_one_role_cannot_answer_for_another() -> None:
    room = at("time-out", item="team-check")
    for _ in range(3):
        room.says("surgeon confirmed side and procedure")
    assert room.status("team-check") == "called"
    reply = room.says("anaesthesia confirmed side and procedure", role="surgeon")
    assert reply == ["Anaesthesia, please."]
    assert room.status("team-check") == "called"
    assert room.says("scrub nurse confirmed side and procedure") == ["Anaesthesia, please."]


def test_a_report_by_one_role_makes_all_of_them_answer_anew() -> None:
    room = at("time-out", item="team-check")
    room.says("surgeon confirmed side and procedure", "side is unclear")
    assert room.status("team-check") == "said-fault"
    room.says("anaesthesia confirmed side and procedure", "nurse confirmed side and procedure")
    assert room.status("team-check") == "said-fault"
    room.says("surgeon confirmed side and procedure")
    assert room.status("team-check") == "said-done"


def test_no_concerns_and_a_concern_that_is_stated_are_told_apart() -> None:
    room = at("time-out", item="surgeon-concerns")
    room.says("surgical concern stated")
    assert room.status("surgeon-concerns") == "stated"
    room.says("no anaesthesia concerns")
    assert room.status("anaesthesia-concerns") == "said-done"


@pytest.mark.parametrize(
    "line",
    [
        "my surgical concern is the small pupil",
        "surgical concerns about bleeding",
        "no surgical concerns unless the pupil shrinks",
    ],
)
def test_what_is_stated_freely_leaves_no_words(line: str) -> None:
    room = at("time-out", item="surgeon-concerns")
    before = len(room.records)
    room.says(line)
    assert room.status("surgeon-concerns") in ("called", "waiting")
    kept = room.records[before:]
    heard = [one for one in kept if isinstance(one, Heard)]
    assert heard[0].status in ("not-understood", "not-for-us")
    assert all(not (one.words or one.offers or one.second_look) for one in heard)
    assert not any("pupil" in str(one.body()) or "bleeding" in str(one.body()) for one in kept)


def test_what_the_second_look_heard_of_free_speech_is_kept_nowhere() -> None:
    room = at("time-out", item="surgeon-concerns")
    before = len(room.records)
    why = "the second look heard 'no surgical concerns but the capsule'"
    words = ("no", "surgical", "concerns")
    room.take(Utterance(NotUnderstood(words, why, ("no surgical concerns",)), Voice()))
    kept = room.records[before:]
    assert [one.kind for one in kept] == ["heard", "asked-again"]
    assert not any("capsule" in str(one.body()) for one in kept)
    assert not any("capsule" in text for _, text in room.said)


def test_entries_of_a_closed_list_are_read_back_and_passed_by_a_second_word() -> None:
    room = at("sign-in", item="allergies")
    reply = room.says("known allergies iodine and latex")
    assert reply == ["Was that iodine, latex?"]
    assert room.status("allergies") == "called"
    room.says("yes that is correct")
    answered = next(
        one for one in room.records if isinstance(one, Answered) and one.item == "allergies"
    )
    assert (answered.answer, dict(answered.values)) == ("value", {"listed": ["iodine", "latex"]})


def test_another_entry_replaces_the_one_read_back() -> None:
    room = at("sign-in", item="allergies")
    room.says("known allergies latex")
    assert room.says("known allergies other on paper") == ["Was that other, on paper?"]
    room.says("that is correct")
    assert room.state.item("allergies").values["listed"] == ["other, on paper"]


@pytest.mark.parametrize("plan", ["practice-007", FULL, "practice-102", "practice-201"])
@pytest.mark.parametrize(
    ("item", "request_alone"),
    [
        ("identity", "Please look at the papers again."),
        ("allergies", "Please look at the allergies again."),
    ],
)
def test_identity_or_allergies_that_do_not_fit_are_spoken_as_a_request_alone(
    plan: str, item: str, request_alone: str
) -> None:
    """The patient hears what is to be looked at again; the display says what was reported."""
    room = at("sign-in", item=item, plan=plan)
    call, fault = room.case.items[item].call, room.case.grammar.examples(f"{item}.fault")[0]
    room.shown.clear()
    assert room.says(fault) == [request_alone, call]
    assert any(fault in one.text and "stays open" in one.text for one in room.shown)
    assert room.status(item) == "said-fault"
    assert room.state.current == item
    assert replay(room.records) == room.state


@pytest.mark.parametrize("plan", ["practice-007", FULL, "practice-102", "practice-201"])
def test_a_denial_of_identity_is_spoken_as_a_request_alone(plan: str) -> None:
    room = at("sign-in", item="identity", plan=plan)
    room.shown.clear()
    thing = "identity consent and mark" if plan == "practice-102" else "identity and consent"
    assert room.says(f"{thing} not confirmed") == ["Please look at the papers again."]
    told = f"{thing} not confirmed: report it?"
    assert [one.text for one in room.shown] == [told[:1].upper() + told[1:]]
    assert room.status("identity") == "called"
    room.says("yes report it")
    assert room.status("identity") == "said-fault"
    assert replay(room.records) == room.state


def test_an_allergy_is_never_passed_by_silence_or_talk() -> None:
    room = at("sign-in", item="allergies")
    room.says("known allergies iodine", "good morning", "he is allergic to cats")
    room.waits(8.0)
    assert room.status("allergies") == "called"
    assert isinstance(room.state.pending, ReadBack)


def test_longer_calls_for_a_teams_first_cases_and_their_own_item() -> None:
    plan = case_of(FULL).bundle.plan.model_copy(update={"new_team": True})
    case = replace(case_of(FULL), bundle=replace(case_of(FULL).bundle, plan=plan))
    room = Room(case)
    assert room.said[1][1].startswith("Present or away: the engineer? A team's first cases")
    assert Room(case_of(FULL)).state.current == "power"


def test_what_a_farther_microphone_heard_of_free_speech_is_kept_nowhere() -> None:
    room = at("time-out", item="surgeon-concerns")
    before = len(room.records)
    words = ("my", "surgical", "concern", "is", "the", "capsule")
    voice = Voice("voice", channel=0, alternatives=(" ".join(words),), second_look="the capsule")
    room.take(Overheard(NotUnderstood(words, "the second look heard 'capsule'"), voice, "nearer"))
    (heard,) = room.records[before:]
    assert (heard.kind, heard.body()["status"]) == ("heard", "not-taken")
    assert "capsule" not in str(heard.body())


# Two microphones: the surgeon's own, and one that the others share


def by_channel(room: Room, words: str, role: str, channel: int) -> list[str]:
    understood = room_hears(room, words)
    return room.take(Utterance(understood, Voice("voice", role, "channel", channel)))


def room_hears(room: Room, words: str) -> Understanding:
    return understand([Hypothesis(tuple(words.split()))], (), context_of(room.case, room.state))


def test_on_two_channels_each_role_can_answer_for_itself() -> None:
    room = at("time-out", item="team-check")
    said = "confirmed side and procedure"
    assert by_channel(room, f"surgeon {said}", "circulating-nurse", 0) == ["Surgeon, please."]
    by_channel(room, f"surgeon {said}", "surgeon", 1)
    by_channel(room, f"anaesthesia {said}", "circulating-nurse", 0)
    assert room.status("team-check") == "called"
    by_channel(room, f"nurse {said}", "circulating-nurse", 0)
    assert room.status("team-check") == "said-done"
    agreed = [(one.role, one.role_known_by) for one in room.records if isinstance(one, Agreed)]
    assert agreed == [
        ("surgeon", "channel"),
        ("anaesthesia", "spoken"),
        ("circulating-nurse", "channel"),
    ]


def test_who_speaks_on_the_shared_microphone_is_unknown_where_its_usual_speaker_cannot_answer() -> (
    None
):
    room = at("handpiece", item="instruments")
    said = "second instruments ready"
    assert by_channel(room, said, "surgeon", 1) == ["Scrub nurse, please."]
    by_channel(room, said, "circulating-nurse", 0)
    answered = [one for one in room.records if isinstance(one, Answered)][-1]
    assert (answered.item, answered.answer) == ("instruments", "said-done")
    assert (answered.role, answered.role_known_by) == ("", "")
