"""Lists and look-backs read no events of cases that have ended, and verification always does."""

from __future__ import annotations

import contextlib
import sqlite3
from datetime import UTC, date
from pathlib import Path

import pytest
from cases import MORNING, SteppedClocks, keep, keep_on, opened, resumed, whole_case

from voicelist.errors import RecordError
from voicelist.record import store as stores
from voicelist.record.before import set_up_of_the_day
from voicelist.record.case_line import case_line
from voicelist.record.store import Reader, Store
from voicelist.session.records import Answered, Called, Closed

CALL = Called("bottle", "Full or low: the infusion bottle?")


@pytest.fixture
def no_events(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever reads the events of a case fails."""

    def refuse(*_: object) -> None:
        raise AssertionError("events were read")

    monkeypatch.setattr(stores, "_read_case", refuse)


def _forget_notes(file: Path) -> None:
    with sqlite3.connect(file) as connection:
        connection.execute("DELETE FROM voicelist_case_line")


def test_the_line_of_a_closed_case_is_what_its_events_say(store: Store, store_file: Path) -> None:
    entries = keep(store, "case-1", whole_case())
    (noted,) = store.cases()
    _forget_notes(store_file)
    (read,) = store.cases()
    assert noted == read == case_line(entries)
    assert (noted.state, noted.items, noted.mismatches) == ("stopped", 8, 3)


def test_a_list_of_closed_cases_reads_no_events(
    store: Store, request: pytest.FixtureRequest
) -> None:
    keep(store, "case-1", whole_case())
    keep(store, "case-2", (opened(), Closed("abandoned")))
    request.getfixturevalue("no_events")
    assert [(line.case, line.state) for line in store.cases()] == [
        ("case-2", "abandoned"),
        ("case-1", "stopped"),
    ]


def test_a_case_that_goes_on_is_listed_as_it_stands(store: Store) -> None:
    keep(store, "case-1", whole_case())
    with store.resume("case-1") as writer:
        writer.append(resumed()[0])
        assert [line.state for line in store.cases()] == ["open"]
        for record in resumed()[1:]:
            writer.append(record)
    assert [line.state for line in store.cases()] == ["completed"]


def test_cases_of_a_store_without_notes_get_them_as_another_case_closes(
    store: Store, store_file: Path, request: pytest.FixtureRequest
) -> None:
    keep(store, "case-1", whole_case())
    with sqlite3.connect(store_file) as connection:
        connection.execute("DROP TABLE voicelist_case_line")
        connection.execute("DROP TABLE voicelist_erased")
        connection.execute("UPDATE voicelist_layout SET version = 1")
    assert [line.state for line in store.cases()] == ["stopped"]
    keep(store, "case-2", (opened(), Closed("completed")))
    request.getfixturevalue("no_events")
    assert [line.state for line in store.cases()] == ["completed", "stopped"]


def test_a_record_that_lost_its_end_does_not_verify(store: Store, store_file: Path) -> None:
    entries = keep(store, "case-1", whole_case())
    with sqlite3.connect(store_file) as connection:
        connection.execute("DELETE FROM journal WHERE seq > 17")
    verdict = store.verify("case-1")
    assert not verdict.ok
    assert verdict.count == 17
    assert verdict.closed == ""
    assert f"its writer noted {len(entries)}" in verdict.problems[0]


def test_a_record_that_lost_all_its_events_is_not_unknown(store: Store, store_file: Path) -> None:
    keep(store, "case-1", whole_case())
    with sqlite3.connect(store_file) as connection:
        connection.execute("DELETE FROM journal")
    assert not store.verify("case-1").ok


def test_verification_says_whether_a_case_was_closed(store: Store) -> None:
    keep(store, "case-1", (opened(), CALL))
    assert store.verify("case-1").closed == ""
    assert "not closed" in store.verify("case-1").words
    keep(store, "case-2", (opened(), Closed("completed")))
    assert "closed as completed" in store.verify("case-2").words


def test_a_damaged_index_that_hides_rows_is_found(store: Store, store_file: Path) -> None:
    """Rows that an index does not name are not read by it; SQLite's own check finds them."""
    keep(store, "case-1", (opened(), *[CALL] * 30))
    with sqlite3.connect(store_file) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master "
            "WHERE name = 'sqlite_autoindex_voicelist_case_line_1') "
            "WHERE name = 'sqlite_autoindex_journal_1'"
        )
        connection.execute("DELETE FROM voicelist_case_line")
    connection.close()
    found = ""
    try:
        found = " ".join(Reader(f"sqlite:///{store_file}").verify("case-1").problems)
    except RecordError as error:
        found = str(error)
    assert found


@pytest.mark.parametrize("run", [1, 2], ids=["in one run", "a later run"])
def test_an_end_that_the_index_hides_is_found_without_a_look_at_the_whole_file(
    store: Store, store_file: Path, monkeypatch: pytest.MonkeyPatch, run: int
) -> None:
    """A flipped byte in the index leaves out the last event of an open case, which no later event
    and no note of an end can show."""
    keep(store, "case-1", (opened(), *[CALL] * 20, Closed("stopped")))
    if run == 2:
        keep_on(store, "case-1", (resumed()[0],))
    last = store.entries("case-1")[-1].seq
    if run == 1:
        with sqlite3.connect(store_file) as connection:
            connection.execute("DELETE FROM voicelist_case_line WHERE line <> ''")
    with contextlib.suppress(sqlite3.Error), contextlib.closing(sqlite3.connect(store_file)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(store_file.read_bytes())
    # A record of the index: lengths of its three values, then the code, the number and the row.
    at = data.index(b"\x04\x19\x01\x01case-1" + bytes([last, last])) + 4
    data[at] ^= 0x10
    store_file.write_bytes(data)

    def refuse(*_: object) -> None:
        raise AssertionError("the whole file is looked at")

    monkeypatch.setattr(stores, "integrity_problems", refuse)
    verdict = store.verify("case-1")
    assert not verdict.ok
    assert f"event {last}" in verdict.problems[0] or f"noted {last}" in verdict.problems[0]
    with pytest.raises(RecordError, match="damaged"):
        store.entries("case-1")


@pytest.mark.parametrize("damage", [b"\xff\xfe", b"\x00"])
def test_damaged_text_names_case_and_event_and_hides_no_other_case(
    store: Store, store_file: Path, damage: bytes
) -> None:
    keep(store, "case-1", (opened(), CALL))
    keep(store, "case-2", (opened(), CALL))
    with sqlite3.connect(store_file) as connection:
        connection.execute(
            "UPDATE journal SET kind = CAST(? AS TEXT) WHERE \"case\" = 'case-1' AND seq = 2",
            (b"call" + damage,),
        )
    assert "Event 2" in store.verify("case-1").problems[0]
    assert store.verify("case-2").ok
    assert {line.case for line in store.cases()} == {"case-1", "case-2"}
    keep(store, "case-3", (opened(), Closed("completed")))
    assert store.verify("case-3").ok


def test_a_damaged_table_definition_is_told_in_a_sentence(store: Store, store_file: Path) -> None:
    """SQLite's own message then holds the damaged byte, which is no UTF-8."""
    keep(store, "case-1", (opened(), CALL))
    whole = store_file.read_bytes()
    assert b"CREATE TABLE journal" in whole
    at = whole.index(b"NOT NULL", whole.index(b"CREATE TABLE journal"))
    store_file.write_bytes(whole[: at + 2] + b"\xe2" + whole[at + 3 :])
    for look in (lambda: store.verify("case-1"), store.cases, lambda: store.open_case("case-2")):
        with pytest.raises(RecordError):
            look()


def test_a_code_that_is_no_text_blocks_neither_a_list_nor_a_start(
    store: Store, store_file: Path
) -> None:
    keep(store, "case-1", (opened(), CALL))
    with sqlite3.connect(store_file) as connection:
        connection.execute("UPDATE journal SET \"case\" = CAST(x'63ff' AS TEXT) WHERE seq = 2")
    lines = {line.case: line.state for line in store.cases()}
    assert lines["case-1"] == "open"
    assert lines["c\udcff"] == "unreadable"
    keep(store, "case-2", (opened(), Closed("completed")))


def test_the_days_set_up_is_looked_for_in_the_records_of_the_day_alone(
    store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clocks = SteppedClocks()
    store = Store(f"sqlite:///{store_file}", clocks=clocks.clocks())
    keep(store, "yesterday", whole_case())
    clocks.now = clocks.now.replace(day=MORNING.day + 2)
    keep(store, "today", whole_case())
    read = []
    kept = Reader.kept
    monkeypatch.setattr(Reader, "kept", lambda self, case: read.append(case) or kept(self, case))
    day = clocks.now.astimezone(UTC).astimezone().date()
    assert "case" not in set_up_of_the_day(store, "phaco", day)
    assert read == ["today"]
    assert "case" not in set_up_of_the_day(store, "phaco", date(2001, 1, 1))
    assert read == ["today"]


def test_a_record_of_the_day_that_does_not_verify_is_no_set_up(
    store: Store, store_file: Path
) -> None:
    documents = {"checklist": {"id": "phaco", "sections": [
        {"id": "lines", "when": "first case of the day", "items": [{"id": "bottle"}]},
    ]}}  # fmt: skip
    done = Answered("bottle", "said-done", "bottle full", "circulating-nurse", "channel")
    entries = keep(store, "case-1", (opened(documents=documents), done, Closed("completed")))
    today = MORNING.astimezone().date()
    assert set_up_of_the_day(store, "phaco", today)["head"] == entries[-1].hash
    with sqlite3.connect(store_file) as connection:
        connection.execute("UPDATE journal SET mono_ms = mono_ms + 1 WHERE seq = 2")
    found = set_up_of_the_day(store, "phaco", today)
    assert "case" not in found
    assert found["why"] == "the record case-1 of today does not verify"


def test_a_case_is_resumed_only_whole(store: Store, store_file: Path) -> None:
    keep(store, "case-1", whole_case())
    with sqlite3.connect(store_file) as connection:
        connection.execute("DELETE FROM journal WHERE seq > 17")
    with pytest.raises(RecordError, match=r"damaged.*lost or removed"):
        store.resume("case-1")
