"""What is acknowledged lies in the file that will be read later, and nobody else may read it."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from cases import keep, keep_on, opened, resumed, whole_case

from voicelist import places
from voicelist.errors import RecordError
from voicelist.record import store_file as watched
from voicelist.record.database import insist
from voicelist.record.store import Reader, Store
from voicelist.record.store_file import log_of, readable, rollback_journal_of
from voicelist.session.records import Called, Closed, Resumed

CALL = Called("bottle", "Full or low: the infusion bottle?")


def _delete(file: Path) -> None:
    file.unlink()


def _move(file: Path) -> None:
    file.rename(file.with_name("elsewhere.sqlite3"))


def _replace(file: Path) -> None:
    copy = file.with_name("copy")
    shutil.copyfile(file, copy)
    copy.replace(file)


def _delete_log(file: Path) -> None:
    log_of(file).unlink()


def _replace_log(file: Path) -> None:
    copy = file.with_name("copy")
    shutil.copyfile(log_of(file), copy)
    copy.replace(log_of(file))


def _cut_log(file: Path) -> None:
    os.truncate(log_of(file), 0)


def _cut(file: Path) -> None:
    os.truncate(file, 512)


def _move_folder(file: Path) -> None:
    file.parent.rename(file.parent.with_name("moved"))


LOSSES = (_delete, _move, _replace, _delete_log, _replace_log, _cut_log, _cut, _move_folder)


@pytest.mark.parametrize("lose", LOSSES)
def test_nothing_is_acknowledged_into_a_store_that_is_gone(
    tmp_path: Path, lose: Callable[[Path], None]
) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    store = Store(f"sqlite:///{folder / 'records.sqlite3'}")
    with store.open_case("case-1") as writer:
        writer.append(opened())
        kept = writer.append(CALL)
        lose(folder / "records.sqlite3")
        with pytest.raises(RecordError, match="moved, deleted or changed by something else"):
            writer.append(CALL)
        with pytest.raises(RecordError, match=r"earlier write failed.*voicelist resume case-1"):
            writer.append(CALL)
        assert writer.last == kept


def test_a_store_that_vanishes_while_an_event_is_written_is_noticed_before_it_is_acknowledged(
    store: Store, store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with store.open_case("case-1") as writer:
        writer.append(opened())
        looks = 0
        check = watched.StoreFile.check

        def vanish_behind_the_first_look(self: watched.StoreFile) -> None:
            nonlocal looks
            looks += 1
            check(self)
            if looks == 1:
                store_file.unlink()

        monkeypatch.setattr(watched.StoreFile, "check", vanish_behind_the_first_look)
        with pytest.raises(RecordError, match=r"records.sqlite3 is gone"):
            writer.append(CALL)
        assert looks == 2


def test_a_store_that_grows_and_is_checkpointed_is_still_the_same(
    store: Store, store_file: Path
) -> None:
    with store.open_case("case-1") as writer:
        writer.append(opened())
        for _ in range(700):  # past the thousand pages at which SQLite empties its log
            writer.append(CALL)
        with sqlite3.connect(store_file) as other:
            other.execute("PRAGMA wal_checkpoint(RESTART)").fetchall()
        writer.append(CALL)
    assert store.verify("case-1").ok


class _FailsAtItsEnd:
    """A connection whose pragma gives its row, and an error in its last step."""

    def __init__(self) -> None:
        self.answer = [("wal",)]

    def execute(self, statement: str) -> _FailsAtItsEnd:
        self.setting = "=" in statement
        return self

    def fetchall(self) -> list[tuple[str]]:
        if self.setting:
            raise sqlite3.OperationalError("disk I/O error")
        return self.answer


def test_an_error_in_the_last_step_of_a_pragma_is_not_lost() -> None:
    with pytest.raises(sqlite3.OperationalError, match="disk I/O"):
        insist(_FailsAtItsEnd(), {"journal_mode": "wal"})


def test_a_file_that_does_not_say_that_it_keeps_a_log_is_refused(
    store: Store, store_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """File format of SQLite, sqlite.org/fileformat2.html, 1.3: versions at offset 18 and 19."""
    keep(store, "case-1", (opened(),))
    assert store_file.read_bytes()[18:20] == b"\x02\x02"
    monkeypatch.setattr("voicelist.record.database.insist", lambda *_: None)
    with sqlite3.connect(store_file) as connection:
        connection.execute("PRAGMA journal_mode = delete").fetchall()
    connection.close()
    before = store_file.read_bytes()
    with pytest.raises(RecordError, match="not in SQLite's WAL mode"):
        store.open_case("case-2")
    assert before[18:20] == b"\x01\x01"
    assert Reader(f"sqlite:///{store_file}").codes() == ("case-1",)


def _cut_off_in_rollback_mode(file: Path) -> None:
    """Leaves the file as a program does that is killed while it changes it in rollback mode: its
    journal is hot."""
    script = (
        "import os, sqlite3, sys\n"
        "raw = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "raw.execute('PRAGMA journal_mode = delete').fetchall()\n"
        "raw.execute('PRAGMA cache_size = 1')\n"
        "raw.execute('BEGIN IMMEDIATE')\n"
        "raw.execute('UPDATE journal SET body = \"lost\"')\n"
        "raw.execute('CREATE TABLE filler AS SELECT * FROM journal, journal AS other')\n"
        "os._exit(1)\n"
    )
    subprocess.run([sys.executable, "-c", script, str(file)], check=False)
    assert rollback_journal_of(file).stat().st_size > 0


def test_a_change_that_was_cut_off_is_taken_back_before_anybody_reads(
    store: Store, store_file: Path
) -> None:
    before = keep(store, "case-1", whole_case())
    _cut_off_in_rollback_mode(store_file)
    assert store.entries("case-1") == before
    assert not rollback_journal_of(store_file).exists()
    assert store.verify("case-1").ok


def test_a_case_is_gone_on_with_after_a_change_was_cut_off(store: Store, store_file: Path) -> None:
    keep(store, "case-1", whole_case())
    _cut_off_in_rollback_mode(store_file)
    keep_on(store, "case-1", resumed())
    assert store_file.read_bytes()[18:20] == b"\x02\x02"
    assert store.verify("case-1").closed == "completed"


def test_reading_makes_no_files(store: Store, store_file: Path) -> None:
    keep(store, "case-1", whole_case())
    before = sorted(store_file.parent.iterdir())
    reader = Reader(f"sqlite:///{store_file}")
    assert reader.verify("case-1").ok
    assert reader.cases()
    assert reader.codes() == ("case-1",)
    assert sorted(store_file.parent.iterdir()) == before


def test_a_write_during_a_look_without_a_log_is_noticed(store: Store, store_file: Path) -> None:
    keep(store, "case-1", (opened(),))
    with pytest.raises(RecordError, match="written to while it was read"), readable(store_file):
        keep(store, "case-2", (opened(),))


@pytest.fixture
def read_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Media that cannot be written to: only what asks the system whether it may, is told so."""
    monkeypatch.setattr(watched.os, "access", lambda *_: False)


@pytest.mark.usefixtures("read_only")
def test_read_only_media_are_read_as_they_are(store: Store, store_file: Path) -> None:
    keep(store, "case-1", whole_case())
    before = {file: file.read_bytes() for file in store_file.parent.iterdir()}
    assert Reader(f"sqlite:///{store_file}").verify("case-1").ok
    assert {file: file.read_bytes() for file in store_file.parent.iterdir()} == before


@pytest.mark.usefixtures("read_only")
def test_what_a_log_still_holds_is_read_from_read_only_media_too(
    store: Store, store_file: Path, tmp_path: Path
) -> None:
    media = tmp_path / "media"
    with store.open_case("case-1") as writer:
        writer.append(opened())
        writer.append(CALL)
        media.mkdir()
        for file in (store_file, log_of(store_file)):
            shutil.copyfile(file, media / file.name)
    before = {file: file.read_bytes() for file in media.iterdir()}
    assert Reader(f"sqlite:///{media / store_file.name}").verify("case-1").count == 2
    assert {file: file.read_bytes() for file in media.iterdir()} == before


@pytest.mark.skipif(os.name != "posix", reason="there are no such rights here")
def test_files_are_their_owners_alone(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        store = Store(f"sqlite:///{tmp_path / 'data' / 'records.sqlite3'}")
        with store.open_case("case-1") as writer:
            writer.append(opened())
            files = list((tmp_path / "data").iterdir())
            modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in files}
    finally:
        os.umask(before)
    assert set(modes.values()) == {0o600}
    assert {"records.sqlite3", "records.sqlite3-wal", "records.sqlite3-shm"} <= set(modes)
    assert stat.S_IMODE((tmp_path / "data").stat().st_mode) == 0o700


def test_a_failed_writer_lets_the_next_one_in(store: Store, store_file: Path) -> None:
    kept = keep(store, "case-1", (opened(), CALL))
    with store.resume("case-1") as writer:
        writer.append(Resumed("live", "0.1.0", None))
        store_file.rename(store_file.with_name("away"))
        with pytest.raises(RecordError, match="is gone"):
            writer.append(CALL)
    store_file.with_name("away").rename(store_file)
    assert store.entries("case-1")[:2] == kept
    keep_on(store, "case-1", (Resumed("live", "0.1.0", None), Closed("completed")))
    assert store.verify("case-1").ok


def test_an_own_file_that_others_could_read_is_closed_to_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "voicelist"
    monkeypatch.setattr(places.platformdirs, "user_data_dir", lambda *_, **__: str(folder))
    folder.mkdir()
    (folder / "records.sqlite3").touch(0o644)
    (folder / "records.sqlite3").chmod(0o644)
    keep(Store(), "case-1", (opened(),))
    assert stat.S_IMODE((folder / "records.sqlite3").stat().st_mode) == 0o600
