"""What a damaged, forged or oddly named record shows to somebody at a terminal."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import stat
from pathlib import Path

import pytest

from tests.command import PLAN, Answer, Command, voicelist
from tests.exported import text_of
from tests.session.talk import WHOLE_CASE

__all__ = ["voicelist"]

FORMATS = ("journal", "csv", "json", "html", "text", "pdf", "fhir")
MARK = "DOES NOT VERIFY"


@pytest.fixture
def case(voicelist: Command) -> str:
    """A completed case in the user's own store."""
    lines = "\n".join(WHOLE_CASE) + "\n"
    assert voicelist("run", PLAN, "--typed", "--voice", "none", typed=lines).code == 0
    return "practice-007"


@pytest.fixture
def store_file(tmp_path: Path) -> Path:
    return tmp_path / "data" / "voicelist" / "records.sqlite3"


def _change(store_file: Path, statement: str) -> None:
    with sqlite3.connect(store_file) as connection:
        connection.execute(statement)
    connection.close()


def _export(voicelist: Command, case: str, form: str, folder: Path) -> tuple[Answer, bytes]:
    target = folder / f"case.{form}"
    answer = voicelist("record", "export", case, "--format", form, "-o", target)
    return answer, target.read_bytes() if target.exists() else b""


def _marked(form: str, data: bytes) -> bool:
    text = text_of(form, data)
    if form == "csv":
        return all(MARK in row["note"] for row in csv.DictReader(io.StringIO(text)))
    if form == "json":
        return json.loads(text)["verifies"] is False
    return MARK.lower() in text.lower()


@pytest.mark.parametrize("form", FORMATS)
def test_a_record_that_lost_its_end_is_exported_with_a_mark(
    voicelist: Command, case: str, store_file: Path, tmp_path: Path, form: str
) -> None:
    answer, whole = _export(voicelist, case, form, tmp_path)
    assert answer.code == 0
    assert not _marked(form, whole)
    _change(store_file, "DELETE FROM journal WHERE seq > 17")
    answer, cut = _export(voicelist, case, form, tmp_path)
    assert answer.code == 1
    assert "does not verify" in answer.err
    assert _marked(form, cut)


@pytest.mark.parametrize("form", FORMATS)
def test_a_row_that_cannot_be_read_marks_what_comes_before_it(
    voicelist: Command, case: str, store_file: Path, tmp_path: Path, form: str
) -> None:
    _change(store_file, "UPDATE journal SET body = '{' WHERE seq = 20")
    answer, cut = _export(voicelist, case, form, tmp_path)
    assert answer.code == 1
    assert _marked(form, cut)
    assert "Event 20" in answer.err


def test_a_journal_of_a_damaged_record_does_not_verify_as_a_file(
    voicelist: Command, case: str, store_file: Path, tmp_path: Path
) -> None:
    _change(store_file, "DELETE FROM journal WHERE seq > 17")
    _export(voicelist, case, "journal", tmp_path)
    verified = voicelist("record", "verify", tmp_path / "case.journal")
    assert verified.code == 1
    assert "Line 18" in verified.out


@pytest.mark.parametrize("form", ["svg", "png"])
def test_a_picture_of_a_damaged_record_is_marked(
    voicelist: Command, case: str, store_file: Path, tmp_path: Path, form: str
) -> None:
    target = tmp_path / f"case.{form}"
    assert voicelist("draw", "timeline", case, "-o", target).code == 0
    whole = target.read_bytes()
    _change(store_file, "UPDATE journal SET at = '2031-01-01T00:00:00.000Z' WHERE seq = 20")
    answer = voicelist("draw", "timeline", case, "-o", target)
    assert answer.code == 1
    assert target.read_bytes() != whole
    if form == "svg":
        assert MARK in target.read_text()
        assert MARK.encode() not in whole


def test_a_damaged_record_is_shown_with_a_mark(
    voicelist: Command, case: str, store_file: Path
) -> None:
    assert voicelist("record", "show", case).code == 0
    _change(store_file, "UPDATE journal SET mono_ms = mono_ms + 1 WHERE seq = 20")
    shown = voicelist("record", "show", case)
    assert shown.code == 1
    assert MARK in shown.out


def test_a_file_of_the_name_of_a_case_does_not_answer_for_it(
    voicelist: Command, case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(case).write_text("not a journal")
    assert voicelist("record", "verify", case).code == 0
    verified = voicelist("record", "verify", f"./{case}")
    assert verified.code == 1
    assert "the file" in verified.out


def test_a_file_is_verified_by_its_name_alone_where_no_case_has_it(
    voicelist: Command, case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    exported, _ = _export(voicelist, case, "journal", tmp_path)
    head = exported.out.splitlines()[1].removeprefix("Head ")
    verified = voicelist("record", "verify", "case.journal", "--head", head)
    assert verified.code == 0
    assert "the file case.journal: verifies" in verified.out
    assert "closed as completed" in verified.out


def test_all_cases_are_verified_at_once(voicelist: Command, case: str, store_file: Path) -> None:
    assert voicelist("record", "verify", "--all").code == 0
    _change(store_file, "UPDATE journal SET mono_ms = mono_ms + 1 WHERE seq = 20")
    verified = voicelist("record", "verify", "--all")
    assert verified.code == 1
    assert f"{case}: Event 20" in verified.out
    assert voicelist("record", "verify").code == 2
    assert voicelist("record", "verify", case, "--all").code == 2


def test_a_list_shows_the_newest_hundred_and_says_so(
    voicelist: Command, case: str, store_file: Path
) -> None:
    _change(
        store_file,
        'INSERT INTO journal SELECT printf("copy-%03d", other.seq), journal.seq, journal.at, '
        "journal.run, journal.mono_ms, journal.kind, journal.body, journal.prev, journal.hash "
        "FROM journal, journal AS other WHERE journal.seq < 3 AND other.seq <= 120",
    )
    count = len(json.loads(voicelist("record", "list", "--json").out))
    shown = voicelist("record", "list")
    assert f"And {count - 100} older ones" in shown.out
    assert f"One hash for these {count}" in shown.out
    every = voicelist("record", "list", "--all")
    assert "older ones" not in every.out
    assert len(every.out.splitlines()) == len(shown.out.splitlines()) - 1 + count - 100


def test_nothing_in_a_record_steers_a_terminal(
    voicelist: Command, case: str, store_file: Path
) -> None:
    forged = "x\x1b]0;title\x07\x1b[31m\u202egnp"
    with sqlite3.connect(store_file) as connection:
        connection.execute('UPDATE journal SET "case" = ?', (forged,))
    connection.close()
    for command in (
        ("list",),
        ("list", "--json"),
        ("show", forged),
        ("verify", forged),
        ("verify", "--all"),
        ("show", "unknown\x1b[2J"),
        ("amend", forged, "late", "--reason", "found", "--role", "team-lead"),
    ):
        told = voicelist("record", *command)
        assert told.text
        assert not {"\x1b", "\x07", "\u202e"} & set(told.text), command
    resumed = voicelist("resume", forged, "--typed", typed="")
    assert not {"\x1b", "\x07", "\u202e"} & set(resumed.text)


def test_an_export_is_its_owners_alone_and_whole_or_not_there(
    voicelist: Command, case: str, tmp_path: Path
) -> None:
    answer, data = _export(voicelist, case, "json", tmp_path)
    target = tmp_path / "case.json"
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    target.chmod(0o640)
    assert _export(voicelist, case, "json", tmp_path)[1] == data
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    target.unlink()
    target.mkdir()
    answer = voicelist("record", "export", case, "--format", "json", "-o", target)
    assert answer.code == 2
    assert sorted(one.name for one in tmp_path.iterdir()) == ["case.json", "data"]
