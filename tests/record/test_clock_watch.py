"""The time of day is set, the computer sleeps, the program stands still: noticed and kept."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.exported import text_of
from tests.session.talk import WHOLE_CASE, shipped_bundle, shipped_case
from tests.session.test_loop import Mute, Screen, Team
from voicelist.record.before import set_up_of_the_day
from voicelist.record.clock_watch import JUMP_FROM_S, STANDSTILL_FROM_S, ClockWatch
from voicelist.record.exports import FORMATS, export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.view import case_view
from voicelist.record.writer import Clocks, Writer
from voicelist.session.events import Event
from voicelist.session.loop import Session
from voicelist.session.record_base import Record
from voicelist.session.records import Answered, ClockChanged, Opened, Resumed
from voicelist.session.spans import span_words
from voicelist.session.state import State, evolve, replay

MORNING = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
HOUR_S, DAY_S, TEN_YEARS_S = 3600.0, 86_400.0, 3652 * 86_400.0
JUMPS = [way * size for size in (HOUR_S, DAY_S, TEN_YEARS_S) for way in (1, -1)]


@dataclass
class FakeClocks:
    """Three clocks that go on when they are told to."""

    wall: datetime = MORNING
    running_s: float = 5.0
    awake_or_not_s: float = 5.0

    def runs(self, seconds: float) -> None:
        self.wall += timedelta(seconds=seconds)
        self.running_s += seconds
        self.awake_or_not_s += seconds

    def sleeps(self, seconds: float) -> None:
        self.wall += timedelta(seconds=seconds)
        self.awake_or_not_s += seconds

    def is_set(self, by_s: float) -> None:
        self.wall += timedelta(seconds=by_s)

    def clocks(self) -> Clocks:
        return Clocks(
            lambda: self.wall,
            lambda: round(self.running_s * 1e9),
            lambda: round(self.awake_or_not_s * 1e9),
        )


def test_clocks_that_only_go_on_are_nothing_to_tell() -> None:
    clocks = FakeClocks()
    watch = ClockWatch(clocks.clocks())
    for seconds in (0.0, 0.3, 7.0, HOUR_S, DAY_S):
        clocks.runs(seconds)
        assert watch.look() == ()


@pytest.mark.parametrize("by_s", JUMPS)
def test_a_time_of_day_that_is_set_is_told_once(by_s: float) -> None:
    clocks = FakeClocks()
    watch = ClockWatch(clocks.clocks())
    clocks.runs(12.0)
    clocks.is_set(by_s)
    (change,) = watch.look()
    assert change == ClockChanged("forward" if by_s > 0 else "back", abs(by_s))
    clocks.runs(40.0)
    assert watch.look() == ()


def test_a_computer_that_slept_is_told_and_is_no_jump() -> None:
    clocks = FakeClocks()
    watch = ClockWatch(clocks.clocks())
    clocks.runs(3.0)
    clocks.sleeps(20.0)
    assert watch.look() == (ClockChanged("slept", 20.0),)
    clocks.sleeps(20.0)
    clocks.is_set(-HOUR_S)
    assert watch.look() == (ClockChanged("slept", 20.0), ClockChanged("back", HOUR_S))


def test_a_standstill_is_a_gap_between_beats_and_not_between_looks() -> None:
    clocks = FakeClocks()
    watch = ClockWatch(clocks.clocks())
    clocks.runs(20.0)
    assert watch.look() == (), "the session may have been speaking"
    watch.beat()
    clocks.runs(0.25)
    watch.beat()
    assert watch.look() == ()
    clocks.runs(20.0)
    watch.beat()
    assert watch.look() == (ClockChanged("stood-still", 20.0),)
    assert watch.look() == ()


@given(st.lists(st.tuples(st.sampled_from(["runs", "sleeps", "is_set"]), st.floats(-1.9, 4.9))))
def test_what_is_below_the_limits_is_never_told(steps: list[tuple[str, float]]) -> None:
    clocks = FakeClocks()
    watch = ClockWatch(clocks.clocks())
    watch.beat()
    for what, seconds in steps:
        if what == "is_set":
            clocks.is_set(max(-0.99 * JUMP_FROM_S, min(seconds, 0.99 * JUMP_FROM_S)))
        elif what == "sleeps":
            clocks.sleeps(min(abs(seconds), 0.99 * JUMP_FROM_S))
        else:
            clocks.runs(min(abs(seconds), 0.99 * STANDSTILL_FROM_S))
        watch.beat()
    assert watch.look() == ()


def test_a_thread_notices_at_its_next_beat() -> None:
    clocks = FakeClocks()
    watch = ClockWatch(clocks.clocks())
    with watch.beating():
        clocks.is_set(HOUR_S)
    watch.beat()
    assert watch.look() == (ClockChanged("forward", HOUR_S),)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (2.4, "2 s"),
        (20, "20 s"),
        (59.6, "1 min"),
        (61, "1 min 1 s"),
        (HOUR_S, "1 h"),
        (HOUR_S + 300, "1 h 5 min"),
        (DAY_S, "1 d"),
        (DAY_S + HOUR_S, "1 d 1 h"),
        (TEN_YEARS_S, "3652 d"),
    ],
)
def test_spans_are_told_in_at_most_two_units(seconds: float, words: str) -> None:
    assert span_words(seconds) == words


@dataclass
class Happening(Team):
    """At the second line something happens to the clocks; every line takes four seconds."""

    clocks: FakeClocks = field(default_factory=FakeClocks)
    what: str = "is_set"
    seconds: float = HOUR_S

    def next_event(self, state: State) -> Event:
        self.clocks.runs(4.0)
        if len(self.lines) == len(WHOLE_CASE) - 1:
            getattr(self.clocks, self.what)(self.seconds)
        return super().next_event(state)


@dataclass
class Written:
    writer: Writer

    def keep(self, record: Record) -> None:
        self.writer.append(record)


def held(file: Path, what: str, seconds: float) -> tuple[tuple[Entry, ...], Screen]:
    """A whole case during which something happens to the clocks; its entries and its screen."""
    clocks, screen = FakeClocks(), Screen()
    store = Store(f"sqlite:///{file}", clocks=clocks.clocks())
    opened = Opened("typed", "0.1.0", shipped_bundle().to_json(), None)
    with store.open_case("practice-007") as writer:
        writer.append(opened)
        team = Happening(list(WHOLE_CASE), clocks=clocks, what=what, seconds=seconds)
        session = Session(
            shipped_case(),
            evolve(State(), opened),
            Written(writer),
            Mute(),
            team,
            screen,
            watch=ClockWatch(clocks.clocks()),
        )
        session.run()
    assert store.verify("practice-007").ok
    return store.entries("practice-007"), screen


CHANGES = [("is_set", one) for one in JUMPS] + [("sleeps", 20.0)]


@pytest.mark.parametrize(("what", "seconds"), CHANGES)
def test_it_is_kept_and_shown_where_it_happened_and_durations_stay_right(
    tmp_path: Path, what: str, seconds: float
) -> None:
    entries, screen = held(tmp_path / "records.sqlite3", what, seconds)
    plain, quiet = held(tmp_path / "plain.sqlite3", "runs", 0.0)
    (change,) = [one for one in entries if one.kind == "clock-changed"]
    assert change.body["seconds"] == abs(seconds)
    heard = [one.seq for one in entries if one.kind == "heard"]
    assert heard[0] < change.seq < heard[1], "before the first record that has the new time"
    told = f"slept for {span_words(seconds)}" if what == "sleeps" else span_words(abs(seconds))
    assert sum(told in one for one in screen.notices) == 1
    assert not any("clock" in one for one in quiet.notices)
    view, wanted = case_view(entries), case_view(plain)
    (shown,) = view.clock_changes
    assert shown.seconds == abs(seconds)
    assert wanted.clock_changes == ()
    assert [one.call_to_answer_s for one in view.items] == [
        one.call_to_answer_s for one in wanted.items
    ]
    assert [one.seconds for one in view.runs] == [one.seconds for one in wanted.runs]
    assert view.state == "completed"


@pytest.mark.parametrize("form", FORMATS)
def test_every_export_tells_of_it(tmp_path: Path, form: str) -> None:
    entries, _ = held(tmp_path / "records.sqlite3", "is_set", -HOUR_S)
    text = text_of(form, export(entries, form))
    if form == "json":
        (told,) = json.loads(text)["clock_changes"]
        assert (told["what"], told["seconds"]) == ("back", HOUR_S)
        assert "set back by 1 h" in told["words"]
    elif form == "csv":
        rows = list(csv.DictReader(io.StringIO(text)))
        (row,) = [one for one in rows if one["section"] == "clock"]
        assert "set back by 1 h" in row["words"]
    elif form == "journal":
        assert '"kind":"clock-changed"' in text
    else:
        assert "set back by 1 h" in " ".join(text.split()).replace("Set", "set")


def test_a_change_of_the_clock_changes_nothing_else() -> None:
    state = State(section="lines", current="bottle", prompts=2)
    assert evolve(state, ClockChanged("back", 5.0)) is state
    assert replay([ClockChanged("slept", 5.0)]) == State()


def test_nothing_is_compared_across_two_starts_of_the_program(tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite3"
    clocks = FakeClocks()
    store = Store(f"sqlite:///{file}", clocks=clocks.clocks())
    opened = Opened("typed", "0.1.0", shipped_bundle().to_json(), None)
    for first in (opened, Resumed("typed", "0.1.0", None)):
        writer = store.resume("one") if first is not opened else store.open_case("one")
        with writer:
            writer.append(first)
            state = replay([opened]) if first is opened else replay([opened, first])
            watch = ClockWatch(clocks.clocks())
            team = Team(list(WHOLE_CASE[:2]))
            Session(
                shipped_case(), state, Written(writer), Mute(), team, Screen(), watch=watch
            ).run()
        clocks.is_set(DAY_S)
    assert not [one for one in store.entries("one") if one.kind == "clock-changed"]


def test_the_days_set_up_was_taken_when_its_last_item_was_whatever_the_clock_said(
    tmp_path: Path,
) -> None:
    clocks = FakeClocks(MORNING + timedelta(hours=4))
    store = Store(f"sqlite:///{tmp_path / 'records.sqlite3'}", clocks=clocks.clocks())
    items = [{"id": one, "call": f"{one}?", "answered by": []} for one in ("bottle", "lines")]
    section = {"id": "day", "when": "first case of the day", "items": items}
    documents = {"checklist": {"id": "day", "sections": [section]}, "plan": {}}
    with store.open_case("one") as writer:
        writer.append(Opened("typed", "0.1.0", documents, None))
        writer.append(Answered("bottle", "said-done", "bottle full"))
        clocks.runs(60.0)
        clocks.is_set(-HOUR_S)
        writer.append(Answered("lines", "said-done", "lines firm"))
    found = set_up_of_the_day(store, "day", clocks.wall.astimezone().date())
    assert found["at"] == store.entries("one")[-1].at
