"""After time out: quiet until sign out is asked for; milestones; sections that begin when asked."""

from __future__ import annotations

import pytest

from tests.session.talk import TIME_OUT, TO_TIME_OUT, Talk
from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.session import records as rec
from voicelist.session.flow_records import MilestoneTold, SectionAsked, UnderWay
from voicelist.session.permitted import help_lines
from voicelist.session.state import replay

QUIET = "Quiet until sign out."
PLANS = ("practice-007", "practice-101", "practice-102", "practice-201")


def under_way() -> Talk:
    talk = Talk()
    talk.says(*TO_TIME_OUT, *TIME_OUT)
    assert talk.state.under_way
    return talk


def told(talk: Talk) -> list[MilestoneTold]:
    return [one for one in talk.records if isinstance(one, MilestoneTold)]


def test_after_time_out_it_says_once_that_it_is_quiet_and_calls_nothing() -> None:
    talk = Talk()
    talk.says(*TO_TIME_OUT, *TIME_OUT[:-1])
    assert talk.says(TIME_OUT[-1]) == [QUIET]
    assert talk.state.current == ""
    assert talk.state.closed == ""
    assert [one for one in talk.records if isinstance(one, rec.Closed)] == []


def test_counts_complete_before_the_incision_passes_nothing() -> None:
    talk = under_way()
    before = talk.state.items
    assert talk.says("counts complete") == []
    assert talk.says("procedure name written", "no equipment problems") == []
    assert talk.state.items == before
    assert talk.state.under_way
    assert talk.status("counts") == "not-asked"


def test_an_hour_of_silence_prompts_nothing() -> None:
    talk = under_way()
    said = list(talk.said)
    for minute in range(1, 61):
        assert talk.waits(60.0 * minute) == []
    assert talk.said == said
    assert "prompted" not in talk.kinds()


@pytest.mark.parametrize(
    "line", ["start sign out please", "ready for sign out", "voice list start sign out"]
)
def test_sign_out_begins_when_it_is_asked_for(line: str) -> None:
    talk = under_way()
    talk.says("incision is made", "end of surgery now")
    assert talk.says(line) == ["Sign out.", "Complete or open: the counts?"]
    assert not talk.state.under_way
    (asked,) = [one for one in talk.records if isinstance(one, SectionAsked)]
    assert (asked.section, asked.words, asked.missing) == ("sign-out", line, ())
    talk.says("counts complete", "procedure name written", "no equipment problems")
    assert talk.state.closed == "completed"
    assert replay(talk.records) == talk.state


@pytest.mark.parametrize(
    "line", ["sign out", "sign out please", "are we ready for sign out", "not ready for sign out"]
)
def test_other_words_do_not_begin_it(line: str) -> None:
    talk = under_way()
    talk.says("incision is made", "end of surgery now")
    assert talk.says(line) == []
    assert talk.state.under_way


def test_sign_out_without_the_end_of_surgery_is_asked_about_once_and_not_refused() -> None:
    talk = under_way()
    talk.says("incision is made")
    asked = talk.says("ready for sign out")
    assert asked == ["Not noted: end of surgery. Begin sign out all the same?"]
    assert talk.waits(3600.0) == []
    assert talk.says("yes start it please") == ["Sign out.", "Complete or open: the counts?"]
    (begun,) = [one for one in talk.records if isinstance(one, SectionAsked)]
    assert begun.missing == ("end-of-surgery",)


def test_the_request_said_again_begins_it_too() -> None:
    talk = under_way()
    talk.says("ready for sign out")
    assert talk.says("start sign out please")[0] == "Sign out."


def test_not_yet_leaves_it_quiet() -> None:
    talk = under_way()
    talk.says("ready for sign out")
    assert talk.says("no not yet please") == []
    assert talk.state.under_way
    assert talk.state.pending is None
    assert talk.says("counts complete") == []


def test_the_milestone_that_was_lacking_goes_on_with_the_request() -> None:
    talk = under_way()
    talk.says("incision is made", "ready for sign out")
    assert talk.says("end of surgery now")[0] == "Sign out."


def test_sign_out_is_not_begun_before_time_out() -> None:
    talk = Talk()
    talk.says(*TO_TIME_OUT)
    talk.says("ready for sign out")
    assert talk.state.current == "eye"
    assert talk.state.asked_for == frozenset()
    talk.says("incision is made")
    assert told(talk) == []


def test_a_milestone_is_kept_with_the_tone_alone() -> None:
    talk = under_way()
    tones = talk.tones
    assert talk.says("incision is made") == []
    assert talk.tones == tones + 1
    (one,) = told(talk)
    assert (one.milestone, one.clock, one.minutes_ago) == ("incision", "", None)
    assert talk.state.under_way


@pytest.mark.parametrize(
    ("line", "clock", "minutes", "reply"),
    [
        ("incision was at eight forty", "8:40", None, "Incision: 8:40, as told."),
        ("incision at eight oh five", "8:05", None, "Incision: 8:05, as told."),
        ("incision was at eight o'clock", "8:00", None, "Incision: 8:00, as told."),
        ("incision at thirteen hundred", "13:00", None, "Incision: 13:00, as told."),
        ("incision at twenty one fifteen", "21:15", None, "Incision: 21:15, as told."),
        ("incision at twelve thirty five", "12:35", None, "Incision: 12:35, as told."),
        ("incision five minutes ago", "", 5.0, "Incision: as told, 5 minutes earlier."),
        ("incision was a minute ago", "", 1.0, "Incision: as told, 1 minutes earlier."),
        ("incision twenty five minutes ago", "", 25.0, "Incision: as told, 25 minutes earlier."),
    ],
)
def test_a_late_milestone_keeps_the_time_that_was_said(
    line: str, clock: str, minutes: float | None, reply: str
) -> None:
    talk = under_way()
    assert talk.says(line) == [reply]
    (one,) = told(talk)
    assert (one.words, one.clock, one.minutes_ago) == (line, clock, minutes)


@pytest.mark.parametrize(
    "line", ["incision at twenty five ten", "incision at eight sixty", "incision was at eight"]
)
def test_what_is_no_time_of_day_tells_nothing(line: str) -> None:
    talk = under_way()
    talk.says(line)
    assert told(talk) == []


def test_a_time_said_later_replaces_and_both_stay() -> None:
    talk = under_way()
    talk.says("incision is made", "incision was at eight forty")
    assert talk.state.milestones["incision"].clock == "8:40"
    assert len(told(talk)) == 2


def test_a_milestone_told_twice_without_a_time_keeps_the_first() -> None:
    talk = under_way()
    talk.says("incision is made")
    first = talk.state.milestones["incision"]
    assert talk.says("voice list incision") == ["Incision was noted before."]
    assert talk.state.milestones["incision"] is first


def test_an_odd_order_is_asked_about_once() -> None:
    talk = under_way()
    assert talk.says("lens is implanted") == ["Not noted: incision. When was it?"]
    assert talk.says("end of surgery now") == []
    assert set(talk.state.milestones) == {"lens-implanted", "end-of-surgery"}
    talk.says("incision was at eight forty")
    assert talk.says("ready for sign out")[0] == "Sign out."


def test_a_lens_that_was_not_told_is_not_asked_about() -> None:
    talk = under_way()
    talk.says("incision is made")
    assert talk.says("end of surgery now") == []


def test_it_answers_questions() -> None:
    talk = under_way()
    assert talk.says("where are we now") == ["Under way. Open so far: 0."]
    talk.says("incision is made")
    assert talk.says("where are we now") == ["Under way. Open so far: 0. Last noted: incision."]
    assert talk.says("what is still open") == ["Nothing is open before sign out."]
    assert talk.says("why is that asked") == ["It stays quiet until sign out is asked for."]
    assert talk.says("say that again") == [QUIET]
    assert talk.state.under_way


def test_what_was_left_for_later_is_open_and_may_be_answered() -> None:
    talk = Talk()
    talk.says(
        *TO_TIME_OUT[:2], "come back to this later", TO_TIME_OUT[3], "come back to this later"
    )
    talk.says(*TO_TIME_OUT[4:], *TIME_OUT, "come back to this later")
    assert talk.state.under_way
    assert talk.says("what is still open") == ["To be answered: the bottle."]
    tones = talk.tones
    assert talk.says("bottle full") == []
    assert talk.tones == tones + 1
    assert talk.status("bottle") == "said-done"
    assert talk.state.under_way


def test_a_change_of_plan_opens_its_items_and_then_it_is_quiet_again() -> None:
    talk = under_way()
    talk.says("change of plan lens power plus twenty two from the new printout")
    talk.says("surgeon agrees to the change")
    reply = talk.says("nurse agrees to the change")
    assert reply[-1] == "Sign and power: the boxed lens?"
    assert talk.says("ready for sign out") == [
        "First: lens power.",
        "Sign and power: the boxed lens?",
    ]
    assert talk.says("lens power plus twenty two") == []
    assert talk.state.under_way
    assert sum(isinstance(one, UnderWay) for one in talk.records) == 2


def test_help_shows_milestones_and_how_sign_out_begins_from_then_on_alone() -> None:
    before, talk = Talk(), under_way()
    (line,) = help_lines(talk.case, talk.state)
    assert "incision is made" in line
    assert "sign out please" in line
    assert "incision is made" not in " ".join(help_lines(before.case, before.state))


def test_hold_and_carry_on_leave_it_quiet() -> None:
    talk = under_way()
    assert talk.says("hold on please") == ["On hold."]
    assert talk.says("incision is made") == []
    assert told(talk) == []
    assert talk.says("carry on please") == []
    assert talk.state.under_way


def test_a_case_begun_at_sign_out_calls_it_at_once() -> None:
    talk = Talk("sign-out")
    assert talk.said == ["Sign out.", "Complete or open: the counts?"]
    assert talk.says("incision was at eight forty")[0] == "Incision: 8:40, as told."


def test_sections_announce_themselves() -> None:
    talk = Talk()
    assert talk.said[0] == "The lines."
    talk.says(*TO_TIME_OUT[:-1])
    assert talk.says(TO_TIME_OUT[-1]) == ["Time out.", "Left or right: the marked eye?"]


@pytest.mark.parametrize("plan", PLANS)
def test_no_shipped_list_goes_on_to_sign_out_by_itself(plan: str) -> None:
    room = Room(case_of(plan, "time-out"))
    for _ in range(60):
        if room.state.under_way:
            break
        room.says(right_line(room.case, room.state))
    assert room.state.under_way
    assert all(room.status(one.id) == "not-asked" for one in room.case.section("sign-out").items)
    assert not any("all done" in text.lower() for _, text in room.said)
