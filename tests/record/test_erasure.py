"""A case that was erased is in no byte of the files; what stays is that there was one."""

from __future__ import annotations

import os
import signal
import sqlite3
from pathlib import Path

import pytest
from cases import keep, opened, resumed, stepped_store, whole_case
from killed import copies, killed_at

from voicelist.errors import RecordError
from voicelist.record import database
from voicelist.record.commands import list_cases
from voicelist.record.journal import Entry
from voicelist.record.store import Reader, Store
from voicelist.record.store_file import log_of
from voicelist.session.records import Closed, Said

HOW = {"role": "team-lead", "reason": "asked for by the patient", "code_too": False}
SECRET = "only said in this case"


def _bytes(folder: Path) -> bytes:
    return b"\n".join(one.read_bytes() for one in sorted(folder.iterdir()) if one.is_file())


def _three_cases(store: Store, long: int = 200) -> tuple[Entry, ...]:
    """The second is the one that goes: with long events that fill pages of their own, resumed."""
    keep(store, "case-1", (opened(), Said("stays", 1.0), Closed("stopped")))
    keep(store, "case-2", (opened(), *[Said(f"{SECRET} {n} " * n, 1.0) for n in range(1, long)]))
    with store.resume("case-2") as again:
        for record in (resumed()[0], Said(SECRET, 1.0), Closed("completed")):
            again.append(record)
    keep(store, "case-3", whole_case())
    return store.entries("case-2")


def _traces(entries: tuple[Entry, ...], data: bytes) -> list[str]:
    """What of the events is still there: words, runs and hashes, but for the head."""
    parts = {SECRET, *(one.run for one in entries), *(one.hash for one in entries[:-1])}
    return sorted(part for part in parts if part.encode() in data)


@pytest.mark.parametrize("code_too", [False, True])
def test_no_byte_of_an_erased_case_is_left_in_the_files(
    store: Store, store_file: Path, code_too: bool
) -> None:
    entries = _three_cases(store)
    others = {case: store.entries(case) for case in ("case-1", "case-3")}
    assert len(_traces(entries, _bytes(store_file.parent))) == len(entries) - 1 + 3
    store.erase(("case-2",), **{**HOW, "code_too": code_too})
    data = _bytes(store_file.parent)
    assert _traces(entries, data) == []
    assert (b"case-2" in data) is not code_too
    assert {case: store.entries(case) for case in store.codes()} == others
    assert all(verdict.ok for _, verdict in store.verify_all())


def test_what_lies_in_the_log_is_erased_too(store: Store, store_file: Path) -> None:
    """A program that was killed leaves its newest events in the write-ahead log."""
    killed = os.fork()
    if not killed:
        writer = store.open_case("case-2")
        for record in (opened(), Said(SECRET, 1.0)):
            writer.append(record)
        os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(killed, 0)
    entries = store.entries("case-2")
    assert SECRET.encode() in log_of(store_file).read_bytes()
    store.erase(("case-2",), **HOW)
    assert _traces(entries, _bytes(store_file.parent)) == []


def test_a_reader_in_the_way_is_told_and_the_rest_is_cleaned_later(
    store: Store, store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(database._WRITER_PRAGMAS, "busy_timeout", 50)
    entries = _three_cases(store)
    with store.open_case("case-4") as writer:
        writer.append(opened())
        reader = sqlite3.connect(store_file)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM journal").fetchall()
    with pytest.raises(RecordError, match=r"are erased, but .* record erase --clean"):
        store.erase(("case-2",), **HOW)
    assert not store.holds("case-2")
    reader.close()
    store.clean()
    assert _traces(entries, _bytes(store_file.parent)) == []


def test_a_tombstone_says_what_was_there(store: Store, store_file: Path) -> None:
    entries = _three_cases(store)
    store.erase(("case-2",), **HOW)
    (stone,) = Reader(f"sqlite:///{store_file}").erased()
    assert (stone.case, stone.events, stone.head) == ("case-2", len(entries), entries[-1].hash)
    for ask in (store.entries, store.verify, store.resume):
        with pytest.raises(RecordError, match=r"no longer in .*: it was erased .* by team lead"):
            ask("case-2")
    with pytest.raises(RecordError, match="such as case-2-2"):
        store.open_case("case-2")
    with pytest.raises(RecordError, match="no longer in"):
        store.erase(("case-1", "case-2"), **HOW)
    assert store.holds("case-1"), "all or none"
    keep(store, "case-2-2", (opened(), Closed("completed")))


def test_the_one_hash_over_all_heads_stays_what_it_was(store: Store, store_file: Path) -> None:
    _three_cases(store)

    def told() -> str:
        table = list_cases(f"sqlite:///{store_file}", practice=False, as_json=False)
        assert len([line for line in table.splitlines() if line.startswith("case-")]) == 3
        return next(line for line in table.splitlines() if line.startswith("One hash"))

    before = told()
    store.erase(("case-2",), **HOW)
    assert told() == before
    assert '"case-2"' not in list_cases(f"sqlite:///{store_file}", practice=False, as_json=True)


def test_a_damaged_case_can_be_erased(store: Store, store_file: Path) -> None:
    _three_cases(store)
    with sqlite3.connect(store_file) as connection:
        connection.execute(
            "UPDATE journal SET body = x'ff', at = x'00' WHERE \"case\" = 'case-2' AND seq < 5"
        )
    connection.close()
    store.erase(("case-2",), **HOW)
    assert [one.case for one in store.erased()] == ["case-2"]


def test_an_erasure_that_is_killed_is_whole_or_not_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = tmp_path / "made.sqlite3"
    entries = _three_cases(stepped_store(made), long=20)
    seen, number = set(), 0
    while True:
        number += 1
        file = copies(made, tmp_path / str(number))
        store = stepped_store(file)
        if not killed_at(
            number, lambda one=store: one.erase(("case-1", "case-2"), **HOW), monkeypatch
        ):
            break
        seen.add(store.codes())
        assert all(verdict.ok for _, verdict in store.verify_all())
        assert len(store.erased()) == (0 if store.holds("case-2") else 2)
        if store.holds("case-2"):
            store.erase(("case-1", "case-2"), **HOW)
        store.clean()
        assert _traces(entries, _bytes(file.parent)) == []
    assert number > 10
    assert seen == {("case-1", "case-2", "case-3")}, "what is killed before the end changes nothing"
