"""A store of an earlier layout is read as it is, and brought to this one whole or not at all."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from cases import keep, opened, stepped_store, whole_case
from killed import copies, killed_at

from voicelist.record.journal import Entry
from voicelist.record.layout import LAYOUT
from voicelist.record.store import Reader, Store
from voicelist.session.records import Called, Closed

NOTES, STONES = "voicelist_case_line", "voicelist_erased"
BASE = {"journal", "voicelist_layout"}


def _as_layout_1(file: Path, *, notes: bool) -> None:
    """The store as it was before layout 2 had a number: later on with notes, at first without."""
    with sqlite3.connect(file) as connection:
        connection.execute("DROP TABLE voicelist_erased")
        connection.execute("DELETE FROM voicelist_case_line WHERE line = ''")
        if not notes:
            connection.execute("DROP TABLE voicelist_case_line")
        connection.execute("UPDATE voicelist_layout SET version = 1")
    connection.close()


def _layout(file: Path) -> tuple[int, set[str]]:
    with sqlite3.connect(file) as connection:
        (version,) = connection.execute("SELECT version FROM voicelist_layout").fetchone()
        names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    connection.close()
    return version, {one for one in names if not one.startswith("sqlite_")}


@pytest.mark.parametrize("notes", [False, True])
def test_a_store_of_an_earlier_layout_is_read_as_it_is_and_gone_on_with(
    store: Store, store_file: Path, notes: bool
) -> None:
    before = {"case-1": keep(store, "case-1", whole_case())}
    _as_layout_1(store_file, notes=notes)
    old = (1, BASE | ({NOTES} if notes else set()))
    reader = Reader(f"sqlite:///{store_file}")
    assert [line.state for line in reader.cases()] == ["stopped"]
    assert reader.verify("case-1").ok
    assert reader.erased() == ()
    assert _layout(store_file) == old, "reading changes nothing"
    keep(store, "case-2", (opened(), Called("bottle", "Full or low: the infusion bottle?")))
    assert _layout(store_file) == (LAYOUT, BASE | {NOTES, STONES})
    assert reader.entries("case-1") == before["case-1"]
    assert all(verdict.ok for _, verdict in reader.verify_all())
    store.erase(("case-1",), role="team-lead", reason="asked for", code_too=False)
    assert [one.case for one in reader.erased()] == ["case-1"]


@pytest.mark.parametrize("earlier", ["nothing", "without notes", "with notes"])
def test_a_change_of_layout_that_is_killed_is_whole_or_not_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, earlier: str
) -> None:
    made = tmp_path / "made.sqlite3"
    entries: tuple[Entry, ...] = ()
    old: tuple[int, set[str]] = (0, set())
    if earlier != "nothing":
        entries = keep(stepped_store(made), "case-1", whole_case())
        _as_layout_1(made, notes=earlier == "with notes")
        old = _layout(made)
    number = 0
    while True:
        number += 1
        file = copies(made, tmp_path / str(number))
        store = stepped_store(file)
        if not killed_at(number, lambda one=store: one.open_case("case-2").close(), monkeypatch):
            break
        if entries:
            assert store.entries("case-1") == entries
        tables = sqlite3.connect(file).execute("SELECT name FROM sqlite_master").fetchall()
        found = _layout(file) if tables else (0, set())
        assert found in (old, (LAYOUT, BASE | {NOTES, STONES}))
        keep(store, "case-2", (opened(), Closed("completed")))
        assert _layout(file) == (LAYOUT, BASE | {NOTES, STONES})
        assert all(verdict.ok for _, verdict in store.verify_all())
    assert number > 5
