"""A case as it is derived from its events."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cases import (
    DOCUMENTS,
    MODEL,
    answered,
    asked,
    keep,
    keep_on,
    opened,
    resumed,
    whole_case,
)

from voicelist.errors import RecordError
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.times import CLOCK, SOUND, moments
from voicelist.record.view import STATUSES, CaseView, ItemView, case_view
from voicelist.session.records import (
    Accepted,
    Answered,
    Called,
    Closed,
    Corrected,
    Heard,
    ReadBack,
    Record,
    Resumed,
    Undone,
    Waiting,
)

Entries = tuple[Entry, ...]


def _view(store: Store, *records: Record) -> CaseView:
    return case_view(keep(store, "case-1", (opened(), *records)))


def _item(view: CaseView, item_id: str) -> ItemView:
    return next(item for item in view.items if item.id == item_id)


def test_the_head_of_a_view_says_what_the_case_was(two_runs: Entries) -> None:
    view = case_view(two_runs)
    assert (view.case, view.checklist_id, view.source) == ("case-12", "phaco", "live")
    assert view.checklist_title == "Cataract surgery by phacoemulsification"
    assert (view.state, view.practice, view.problems) == ("completed", False, ())
    assert (view.started_at, view.ended_at) == (two_runs[0].at, two_runs[-1].at)
    assert (view.events, view.head) == (len(two_runs), two_runs[-1].hash)
    assert view.card == "demo-surgeon"
    assert view.plan["lens"] == {"model": "monofocal alpha", "power_D": 21.5}
    first, second = view.runs
    assert (first.software, second.software) == ("0.1.0", "0.1.1")
    assert first.model == second.model == MODEL
    assert first.roles == ("circulating-nurse", "surgeon")
    assert first.run != second.run


def test_items_stand_in_the_order_of_the_checklist_with_their_sections(
    stopped_case: Entries,
) -> None:
    view = case_view(stopped_case)
    assert [section.name for section in view.sections] == ["the lines", "the settings", "time out"]
    listed = [item["id"] for part in DOCUMENTS["checklist"]["sections"] for item in part["items"]]
    assert [item.id for item in view.items] == listed
    assert _item(view, "bottle").name == "the bottle"
    assert _item(view, "irrigation-line").name == "irrigation line", "from the id"
    assert _item(view, "irrigation-line").stop


def test_no_status_is_blank(store: Store) -> None:
    view = _view(
        store,
        *asked("irrigation-line", "Firm or loose: the irrigation line?"),
        *answered("irrigation-line", "said-done", "irrigation line firm"),
        *asked("bottle", "Full or low: the infusion bottle?"),
        *asked("priming", "Complete or stopped: the priming?"),
        Waiting("priming", "nobody answered"),
    )
    statuses = {item.id: item.status for item in view.items}
    assert statuses["irrigation-line"] == "said-done"
    assert statuses["bottle"] == "called"
    assert statuses["priming"] == "waiting"
    assert statuses["eye"] == "not-asked"
    assert set(view.counts) == set(STATUSES)
    assert sum(view.counts.values()) == len(view.items)
    assert view.counts["not-asked"] == 5


def test_an_answer_has_its_words_role_and_times(stopped_case: Entries) -> None:
    item = _item(case_view(stopped_case), "irrigation-line")
    called = next(entry for entry in stopped_case if entry.kind == "called")
    answer = next(entry for entry in stopped_case if entry.kind == "answered")
    assert (item.words, item.role, item.role_known_by) == (
        "irrigation line firm",
        "circulating-nurse",
        "channel",
    )
    assert item.first_called is not None
    assert item.answered is not None
    assert (item.first_called.seq, item.first_called.at) == (called.seq, called.at)
    assert (item.answered.seq, item.answered.at) == (answer.seq, answer.at)
    assert item.call_to_answer_s == (answer.mono_ms - called.mono_ms) / 1000 == 4.5


def test_seconds_are_never_counted_across_runs(store: Store) -> None:
    keep(store, "case-1", (opened(), *asked("bottle", "Full or low: the infusion bottle?")))
    later = (Resumed("live", "0.1.0", None), *answered("bottle", "said-done", "bottle full"))
    item = _item(case_view(keep_on(store, "case-1", later)), "bottle")
    assert item.status == "said-done"
    assert item.first_called is not None
    assert item.answered is not None
    assert item.first_called.run != item.answered.run
    assert item.call_to_answer_s is None


def test_a_later_answer_without_a_call_of_its_own_has_no_seconds(stopped_case: Entries) -> None:
    bottle = _item(case_view(stopped_case), "bottle")
    assert [one.after_call_s for one in bottle.answers] == [4.5, None]
    assert bottle.call_to_answer_s is None


def test_a_fault_reported_and_cleared_stays_to_be_seen(stopped_case: Entries) -> None:
    bottle = _item(case_view(stopped_case), "bottle")
    (fault,) = bottle.faults
    assert (bottle.status, bottle.words) == ("said-done", "bottle full")
    assert (fault.words, fault.ended) == ("bottle low", "replaced")
    assert fault.ended_at == bottle.answered


def test_an_answer_taken_back_leaves_the_item_open_and_stays_to_be_seen(store: Store) -> None:
    view = _view(
        store,
        *asked("bottle", "Full or low: the infusion bottle?"),
        *answered("bottle", "said-done", "bottle full"),
        Undone("bottle", "said-done"),
    )
    bottle = _item(view, "bottle")
    assert (bottle.status, bottle.words, bottle.answered) == ("not-asked", "", None)
    assert bottle.call_to_answer_s is None
    assert [one.words for one in bottle.undone] == ["bottle full"]


def test_mismatches_are_told_in_the_order_of_time_with_their_outcomes(
    stopped_case: Entries,
) -> None:
    vacuum, flow, eye = case_view(stopped_case).mismatches
    assert (vacuum.quantity, vacuum.heard, vacuum.expected) == ("vacuum_mmHg", 500, 350)
    assert (vacuum.outcome, vacuum.new) == ("corrected", {"value": 350, "control": "fixed"})
    assert (flow.quantity, flow.outcome) == ("flow_cc_per_min", "accepted")
    assert (flow.reason, flow.role, flow.role_known_by) == ("dense nucleus", "surgeon", "spoken")
    assert (eye.name, eye.heard, eye.outcome, eye.new) == ("eye", "right", "corrected", "left")
    assert vacuum.at.seq < flow.at.seq < eye.at.seq


FINDING = {
    "rule": "card-value",
    "severity": "ask",
    "quantity": "vacuum_mmHg",
    "heard": 500,
    "expected": 350,
    "unit": "mmHg",
}
READ_BACK = ReadBack("quadrant", "mismatch", "Vacuum is 500; the card says 350.", (FINDING,))
CONFIRMED = Answered("quadrant", "value", "surgeon confirms settings", "surgeon", "spoken")
ACCEPTED = Accepted(
    "quadrant", "vacuum_mmHg", 500, 350, "mmHg", "dense nucleus", "surgeon", "spoken"
)


def _outcomes(view: CaseView) -> list[str]:
    return [one.outcome for one in view.mismatches]


@pytest.mark.parametrize(
    ("after", "outcomes"),
    [
        ((), ["open"]),
        ((READ_BACK, READ_BACK), ["open"]),
        ((CONFIRMED,), ["settled"]),
        ((ACCEPTED, CONFIRMED), ["accepted"]),
        ((ACCEPTED, READ_BACK), ["accepted"]),
        ((Corrected("quadrant", "vacuum_mmHg", 500, 350),), ["corrected"]),
        ((ACCEPTED, Corrected("quadrant", "vacuum_mmHg", 500, 350)), ["corrected"]),
        ((Corrected("quadrant", "flow_cc_per_min", 40, 32),), ["open"]),
        (
            (Corrected("quadrant", "vacuum_mmHg", {"value": 500}, {"value": 500, "control": "x"}),),
            ["open"],
        ),
        ((Corrected("quadrant", "vacuum_mmHg", 500, 350), READ_BACK), ["open"]),
        ((CONFIRMED, Undone("quadrant", "value")), ["undone"]),
        ((Closed("stopped"),), ["open"]),
    ],
)
def test_what_becomes_of_a_mismatch(
    store: Store, after: tuple[Record, ...], outcomes: list[str]
) -> None:
    assert _outcomes(_view(store, Called("quadrant", "Settings?"), READ_BACK, *after)) == outcomes


def test_an_acceptance_is_never_silent(store: Store) -> None:
    """Even where no read-back of it was kept."""
    (only,) = _view(store, ACCEPTED, CONFIRMED).mismatches
    assert (only.outcome, only.reason, only.heard) == ("accepted", "dense nucleus", 500)


def test_a_note_is_no_mismatch(store: Store) -> None:
    note = replace(READ_BACK, findings=({**FINDING, "severity": "note"},))
    assert _view(store, note).mismatches == ()


def test_totals_add_up(two_runs: Entries) -> None:
    view = case_view(two_runs)
    said = [entry.body["seconds"] for entry in two_runs if entry.kind == "said"]
    assert view.totals.speech_s == pytest.approx(sum(said))
    assert view.totals.ignored == view.totals.not_understood == view.totals.asked_again == 1
    assert view.totals.notices == 1
    assert view.totals.utterances == sum(entry.kind == "heard" for entry in two_runs)
    (notice,) = view.notices
    assert notice.part == "microphone"
    assert notice.what == "the microphone of the surgeon was lost for 2 s"
    assert two_runs[notice.at.seq - 1].kind == "noticed"


def test_a_stopped_case_has_ended_and_a_resumed_one_is_open(store: Store) -> None:
    stopped = keep(store, "case-1", whole_case())
    assert case_view(stopped).state == "stopped"
    assert case_view(stopped).reason == "the sound is over"
    assert case_view(stopped).ended_at == stopped[-2].at, "closing words come later"
    open_again = case_view(keep_on(store, "case-1", resumed()[:-1]))
    assert (open_again.state, open_again.reason, open_again.ended_at) == ("open", "", None)


def test_practice_in_any_run_makes_the_whole_record_practice(store: Store) -> None:
    keep(store, "case-1", (opened("live"),))
    entries = keep_on(store, "case-1", (Resumed("practice", "0.1.0", None),))
    assert case_view(entries).practice


def _heard(start_s: float, words: str = "bottle full") -> Heard:
    return Heard(
        "voice",
        "understood",
        words,
        "bottle.done",
        start_s=start_s,
        end_s=start_s + 0.8,
        decided_s=start_s + 1.1,
    )


@pytest.mark.parametrize(
    ("source", "base"), [("recording", SOUND), ("practice", SOUND), ("live", CLOCK)]
)
def test_sound_from_a_file_is_timed_by_its_samples(store: Store, source: str, base: str) -> None:
    entries = keep(
        store,
        "case-1",
        (
            opened(source),
            Called("bottle", "Full or low: the infusion bottle?"),
            _heard(12.0),
            Answered("bottle", "said-done", "bottle full"),
            Called("priming", "Complete or stopped: the priming?"),
            _heard(15.5, "priming complete"),
            Answered("priming", "said-done", "priming complete"),
        ),
    )
    view = case_view(entries)
    assert view.runs[0].time_base == base
    seconds = [_item(view, one).call_to_answer_s for one in ("bottle", "priming")]
    if base == SOUND:
        assert seconds == [pytest.approx(13.1), pytest.approx(3.5)]
        assert [at.t_s for at in moments(entries)] == pytest.approx(
            [0, 0, 13.1, 13.1, 13.1, 16.6, 16.6]
        )
    else:
        assert seconds == [3.0, 3.0]


def test_typed_practice_is_timed_by_the_clock(practice_case: Entries) -> None:
    view = case_view(practice_case)
    assert view.practice
    assert view.runs[0].time_base == CLOCK


def test_a_record_that_does_not_verify_says_so(stopped_case: Entries) -> None:
    forged = list(stopped_case)
    forged[4] = replace(forged[4], at="2001-01-01T00:00:00.000Z")
    assert case_view(forged).problems[0].startswith("Event 5")


def test_an_item_that_is_not_in_the_checklist_is_shown_at_the_end(store: Store) -> None:
    view = _view(store, *answered("stranger", "said-done", "stranger seen"))
    assert view.sections[-1].name == "not in the checklist"
    assert _item(view, "stranger").words == "stranger seen"


@pytest.mark.parametrize("which", ["none", "not opened", "no checklist", "unknown kind"])
def test_what_makes_no_case_is_a_sentence(store: Store, which: str) -> None:
    entries = list(keep(store, "case-1", (opened(), Called("bottle", "Full or low?"))))
    if which == "none":
        entries = []
    elif which == "not opened":
        entries = entries[1:]
    elif which == "no checklist":
        entries[0] = replace(entries[0], body={**entries[0].body, "documents": {}})
    else:
        entries[1] = replace(entries[1], kind="dreamt")
    with pytest.raises(RecordError, match="cannot be shown"):
        case_view(entries)


def test_what_another_channel_stood_for_is_no_utterance_of_its_own(store: Store) -> None:
    taken = Heard("voice", "understood", "irrigation line firm", channel=0)
    beside = Heard("voice", "not-taken", "irrigation line firm", why="nearer there", channel=1)
    view = case_view(keep(store, "case-1", (opened(), beside, taken)))
    assert view.totals.utterances == 1
    assert view.totals.ignored == view.totals.not_understood == 0
    assert view.events == 3
