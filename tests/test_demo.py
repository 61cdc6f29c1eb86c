"""The practice case, really decoded, from the shipped sound. What happened is read from its record,
never from its script."""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar

import pytest

from tests.command import Command, voicelist
from voicelist.asr.model import ModelPlace
from voicelist.record.store import Reader
from voicelist.record.view import CaseView, ItemView, case_view
from voicelist.session import records as rec
from voicelist.session import state as st
from voicelist.session.record_base import Record
from voicelist.session.short_answers import SHORT_ANSWER
from voicelist.session.team_records import Agreed, HandedOver, PlanChanged

__all__ = ["voicelist"]

PROJECT = Path(__file__).resolve().parents[1]
CASE = "practice-007"
Kind = TypeVar("Kind", bound=Record)


@dataclass(frozen=True, slots=True)
class Played:
    """What the demo printed, what it wrote, and where."""

    printed: str
    data: Path
    records: tuple[Record, ...]
    view: CaseView
    problems: tuple[str, ...]

    def all(self, kind: type[Kind]) -> list[Kind]:
        return [one for one in self.records if isinstance(one, kind)]

    def of(self, item: str, *kinds: type[Record]) -> list[Any]:
        """The records of these kinds about an item, in order."""
        chosen = [one for one in self.records if isinstance(one, kinds)]
        return [one for one in chosen if getattr(one, "item", None) == item]

    def item(self, item: str) -> ItemView:
        return next(one for one in self.view.items if one.id == item)

    def between(self, first: Record, last: Record) -> tuple[Record, ...]:
        return self.records[self.place(first) + 1 : self.place(last)]

    def place(self, wanted: Record) -> int:
        return next(place for place, one in enumerate(self.records) if one is wanted)

    def after_words(self, answered: rec.Answered) -> rec.Heard:
        """The last thing heard before an answer."""
        before = self.records[: self.place(answered)]
        return [one for one in before if isinstance(one, rec.Heard)][-1]


def rule_of(answer: rec.Answered) -> str:
    """The phrase that gives an item this answer."""
    match answer.answer:
        case st.DEFERRED:
            return "command.defer"
        case st.NOT_APPLICABLE:
            return "command.not_applicable"
        case st.SAID_DONE:
            return f"{answer.item}.done"
        case st.SAID_FAULT:
            return f"{answer.item}.fault"
        case _ if "power_percent" in answer.values:
            return "command.confirm_profile"
        case _:
            return f"{answer.item}.value"


@pytest.fixture(scope="module")
def demo_page() -> ModuleType:
    spec = importlib.util.spec_from_file_location("demo_page", PROJECT / "tools" / "demo_page.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def played(
    demo_page: ModuleType, speech_model: ModelPlace, tmp_path_factory: pytest.TempPathFactory
) -> Played:
    data = tmp_path_factory.mktemp("data")
    printed = demo_page.play(data)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(data))
        reader = Reader(None, practice=True)
        entries, verdict = reader.entries(CASE), reader.verify(CASE)
    records = tuple(rec.from_body(entry.kind, entry.body) for entry in entries)
    return Played(printed, data, records, case_view(entries), tuple(map(str, verdict.problems)))


def test_the_practice_case_is_completed_and_its_record_is_whole(played: Played) -> None:
    (opened,) = played.all(rec.Opened)
    assert (opened.source, opened.roles) == ("practice", ("circulating-nurse", "surgeon"))
    assert played.view.state == "completed"
    assert played.view.practice
    assert played.problems == ()
    due = [item for item in played.view.items if item.due]
    assert len(due) == 21
    assert [item.id for item in played.view.items if not item.due] == ["lens-axis"]
    assert {item.status for item in due} == {st.SAID_DONE, st.VALUE}


def test_every_answer_was_heard(played: Played) -> None:
    answers = played.all(rec.Answered)
    assert len(answers) >= 20
    short = {one.item for one in played.all(rec.ReadBack) if one.about == SHORT_ANSWER}
    assert short == {"irrigation-line"}, "it is read back, and agreed to"
    for answer in answers:
        heard = played.after_words(answer)
        assert (heard.by, heard.status) == ("voice", "understood")
        agreed = answer.item in short and heard.words == "that's right"
        assert agreed or rule_of(answer) in heard.rule.split()
        assert heard.end_s is not None


def test_a_setting_that_differs_from_the_card_is_corrected(played: Played) -> None:
    vacuum = next(one for one in played.view.mismatches if one.quantity == "vacuum_mmHg")
    assert (vacuum.heard, vacuum.expected, vacuum.outcome) == (500, 350, "corrected")
    profile = played.item("quadrant-profile")
    assert profile.values["vacuum_mmHg"]["value"] == 350
    (correction,) = profile.corrections
    assert (correction.old["value"], correction.new["value"]) == (500, 350)


def test_a_setting_that_differs_is_accepted_by_the_surgeon_with_a_reason(played: Played) -> None:
    (accepted,) = played.all(rec.Accepted)
    assert (accepted.item, accepted.quantity) == ("quadrant-profile", "flow_cc_per_min")
    assert (accepted.heard, accepted.expected) == (28, 32)
    assert accepted.reason == "a weak capsule"
    assert (accepted.role, accepted.role_known_by) == ("surgeon", "channel")
    profile = played.item("quadrant-profile")
    assert profile.values["flow_cc_per_min"]["value"] == 28
    assert profile.expected["flow_cc_per_min"]["value"] == 32
    (answer,) = played.of("quadrant-profile", rec.Answered)
    assert played.after_words(answer).rule == "command.confirm_profile"
    assert (answer.role, answer.role_known_by) == ("surgeon", "channel")


def test_an_item_is_reported_stays_open_and_is_cleared(played: Played) -> None:
    reported, cleared = played.of("aspiration-line", rec.Answered)
    assert (reported.answer, cleared.answer) == (st.SAID_FAULT, st.SAID_DONE)
    (closed,) = [one for one in played.all(rec.SectionClosed) if one.section == "lines"]
    assert played.place(reported) < played.place(cleared) < played.place(closed)
    called = played.of("aspiration-line", rec.Called)
    assert any(one in played.between(reported, cleared) for one in called)
    assert [one.ended for one in played.item("aspiration-line").faults] == ["replaced"]


def test_an_answer_that_is_not_understood_is_asked_again(played: Played) -> None:
    (again,) = played.all(rec.AskedAgain)
    assert (again.item, again.times) == ("priming", 1)
    heard = played.records[played.place(again) - 1]
    assert isinstance(heard, rec.Heard)
    assert heard.status == "not-understood"
    assert "complete" in heard.words
    (answer,) = played.of("priming", rec.Answered)
    assert played.place(answer) > played.place(again)
    assert answer.answer == st.SAID_DONE


def test_an_answer_is_taken_back_and_given_again(played: Played) -> None:
    (undone,) = played.all(rec.Undone)
    assert (undone.item, undone.answer) == ("sleeve", st.SAID_DONE)
    first, second = played.of("sleeve", rec.Answered)
    assert played.place(first) < played.place(undone) < played.place(second)
    assert [one.ended for one in played.item("sleeve").answers] == ["undone", ""]


def test_an_item_is_left_for_later_and_taken_up(played: Played) -> None:
    deferred, taken_up = played.of("bottle", rec.Answered)
    assert (deferred.answer, taken_up.answer) == (st.DEFERRED, st.SAID_DONE)
    others = {
        one.item for one in played.between(deferred, taken_up) if isinstance(one, rec.Answered)
    }
    assert others == {"priming", "aspiration-line"}


def test_two_ordinary_items_are_answered_in_one_breath(played: Played) -> None:
    several = [one for one in played.all(rec.Heard) if len(one.rule.split()) > 1]
    (heard,) = several
    assert (heard.status, heard.rule) == ("understood", "reflux.done pedal-reach.done")
    place = played.place(heard)
    first, second = played.records[place + 1 : place + 3]
    assert isinstance(first, rec.Answered)
    assert isinstance(second, rec.Answered)
    assert (first.item, second.item) == ("reflux", "pedal-reach")
    assert heard.words == f"{first.words} {second.words}"
    assert played.of("pedal-reach", rec.Called) == []
    assert not any(played.item(one).stop for one in ("reflux", "pedal-reach"))


def test_another_eye_holds_the_case_until_it_is_corrected(played: Played) -> None:
    (read_back,) = played.of("eye", rec.ReadBack)
    (answer,) = played.of("eye", rec.Answered)
    assert read_back.about == "mismatch"
    assert read_back.findings[0]["heard"] == "right"
    assert (answer.values["eye"], answer.expected["eye"]) == ("left", "left")
    moved_on = (rec.Called, rec.Answered, rec.Accepted, rec.SectionOpened, rec.SectionClosed)
    held = played.between(read_back, answer)
    assert not any(isinstance(one, moved_on) for one in held)
    (mismatch,) = played.item("eye").mismatches
    assert mismatch.outcome == "corrected"


def test_a_lens_power_without_its_sign_passes_nothing(played: Played) -> None:
    (read_back,) = played.of("lens-power", rec.ReadBack)
    first = played.of("lens-power", rec.Answered)[0]
    assert read_back.about == "sign"
    assert played.place(read_back) < played.place(first)
    assert "plus" not in played.records[played.place(read_back) - 1].body()["words"]
    assert "plus" in played.after_words(first).words
    assert first.values["power_D"] == 21.5


def test_the_plan_is_changed_by_two_roles_and_what_depends_on_it_is_asked_again(
    played: Played,
) -> None:
    (changed,) = played.all(PlanChanged)
    assert (changed.field, changed.old, changed.new) == ("lens-power", 21.5, 22.0)
    assert (changed.document, changed.reopened) == ("the new printout", ("lens-power",))
    agreed = played.all(Agreed)
    known = {(one.role, one.role_known_by) for one in agreed}
    assert known == {("surgeon", "channel"), ("circulating-nurse", "channel")}
    assert all(played.place(one) < played.place(changed) for one in agreed)
    assert played.view.plan["lens"]["power_D"] == 22.0, "the plan in force"
    before, after = played.of("lens-power", rec.Answered)
    assert played.place(before) < played.place(changed) < played.place(after)
    assert (before.values["power_D"], after.values["power_D"]) == (21.5, 22.0)
    assert after.expected["power_D"] == 22.0


def test_the_nurses_hand_over_what_is_left_and_open(played: Played) -> None:
    (handed_over,) = played.all(HandedOver)
    assert handed_over.role == "circulating-nurse"
    assert (handed_over.deferred, handed_over.open) == (("bottle",), ("aspiration-line",))
    assert handed_over.not_asked == 17
    said = [one.text for one in played.all(rec.Said)]
    assert "Left for later: the bottle." in said


def test_a_stop_item_does_not_apply_without_a_reason(played: Played) -> None:
    assert not [one for one in played.all(rec.Answered) if one.answer == st.NOT_APPLICABLE]
    rules = [one.rule for one in played.all(rec.Heard)]
    assert "command.not_applicable" in rules
    said = [one.text for one in played.all(rec.Said)]
    assert "Please say it with the reason." in said
    (answer,) = [one for one in played.all(rec.Answered) if one.item == "counts"]
    assert (answer.answer, answer.words) == (st.SAID_DONE, "counts complete")


def test_talk_and_a_strangers_question_change_nothing(played: Played) -> None:
    ignored = [one for one in played.all(rec.Heard) if one.status == "not-for-us"]
    quiet = played.place(played.all(rec.UnderWay)[0])
    assert [played.place(one) > quiet for one in ignored] == [False, False, True, True]
    assert [played.records[played.place(one) - 2] for one in ignored[:2]] == [
        *played.of("bottle", rec.Called)[:1],
        *played.of("identity", rec.Called),
    ]
    for one in ignored:
        assert (one.words, one.rule, one.alternatives) == ("", "", ())
        following = played.records[played.place(one) + 1]
        assert isinstance(following, rec.Heard)


def test_the_demo_prints_what_its_record_says(played: Played) -> None:
    totals = played.view.totals
    assert (
        f"Items answered: 21 of 21; mismatches: {len(played.view.mismatches)}; " in played.printed
    )
    assert f"asked again: {totals.asked_again}; talk ignored: {totals.ignored}" in played.printed
    an_item_s = totals.speech_s / 21
    assert f"spoke {totals.speech_s:.0f} s ({an_item_s:.1f} s an item)" in played.printed
    assert f"Head {played.view.head}" in played.printed
    assert f"Tree head {played.view.tree_head}" in played.printed
    for one in played.all(rec.Said):
        assert one.text in played.printed


def test_practice_is_kept_apart(
    played: Played, voicelist: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(played.data))
    assert "PRACTICE" in played.printed
    assert voicelist("record", "verify", CASE, "--practice").code == 0
    assert "PRACTICE" in voicelist("record", "show", CASE, "--practice").out
    assert voicelist("record", "list", "--json").out.strip() == "[]"


def test_the_page_of_the_demo_is_what_the_demo_says(played: Played, demo_page: ModuleType) -> None:
    assert demo_page.page(played.printed) == demo_page.PAGE.read_text(encoding="utf-8")


def test_a_page_is_the_same_whatever_differs_from_run_to_run(demo_page: ModuleType) -> None:
    before = "PRACTICE\n\nCase practice-007: completed\n"
    pages = {
        demo_page.page(f"{before}The assistant spoke {seconds} s\nHead {head}\n")
        for seconds, head in ((3, "aa"), (4, "bb"))
    }
    (page,) = pages
    assert before in page
    assert "Head" not in page
    with pytest.raises(SystemExit, match="has no row"):
        demo_page.page(before)
