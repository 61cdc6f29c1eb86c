"""A folder of tables: what is added to it, and what of it is no longer believed."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from tests.command import Command, voicelist
from tests.review.made_cases import entries_of, morning, stored
from voicelist.errors import RecordError, UsageError
from voicelist.review import parquet
from voicelist.review.countable import cases_of
from voicelist.review.exporting import export_folder
from voicelist.review.projection import project
from voicelist.review.tables import TABLES

__all__ = ["voicelist"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two theatres, two months."""
    folder = tmp_path / "tables"
    cases = [entries_of(morning(theatre), f"case-{theatre}") for theatre in ("East 1", "West/2")]
    parquet.add(folder, map(project, cases))
    return folder


def read(folder: Path, table: str) -> list[dict[str, object]]:
    return [row for path in parquet.parts(folder)[table] for row in pq.read_table(path).to_pylist()]


def test_what_is_read_from_the_folder_is_what_was_projected(folder: Path) -> None:
    rows = project(entries_of(morning("East 1"), "case-East 1"))
    for name, table in TABLES.items():
        found = [row for row in read(folder, name) if row["theatre"] == "East 1"]
        assert len(found) == len(rows[name])
        for row, cells in zip(found, rows[name], strict=True):
            for column, cell in zip(table.columns, cells, strict=True):
                if column.kind == "time" and cell is not None:
                    at = row[column.name].strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3]
                    assert f"{at}Z" == cell
                else:
                    assert row[column.name] == cell


def test_the_folder_is_parted_by_month_and_theatre(folder: Path) -> None:
    parts = sorted(
        path.parent.relative_to(folder).as_posix() for path in (folder / "cases").rglob("*.parquet")
    )
    assert parts == ["cases/month=2031-03/theatre=East 1", "cases/month=2031-03/theatre=West%2F2"]


def test_units_and_meanings_go_with_the_columns(folder: Path) -> None:
    field = pq.read_schema(parquet.parts(folder)["items"][0]).field("wait_s")
    assert field.metadata[b"unit"] == b"s"
    assert b"first word" in field.metadata[b"about"]


def test_the_same_cases_make_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    again = tmp_path / "again"
    cases = [entries_of(morning(theatre), f"case-{theatre}") for theatre in ("East 1", "West/2")]
    parquet.add(again, map(project, cases))
    for one in sorted(path for path in folder.rglob("*") if path.is_file()):
        assert (again / one.relative_to(folder)).read_bytes() == one.read_bytes()


def test_an_export_adds_what_is_new_and_nothing_twice(tmp_path: Path) -> None:
    folder, file = tmp_path / "tables", tmp_path / "records.sqlite3"
    stored(file, [("case-1", morning())])
    first = export_folder(folder, cases_of(f"sqlite:///{file}", practice=False))
    assert (first.cases, first.there, first.left_out) == (1, 0, ())
    stored(file, [("case-2", morning())])
    second = export_folder(folder, cases_of(f"sqlite:///{file}", practice=False))
    assert (second.cases, second.there) == (1, 1)
    assert sorted(str(row["case"]) for row in read(folder, "cases")) == ["case-1", "case-2"]
    third = export_folder(folder, cases_of(f"sqlite:///{file}", practice=False))
    assert (third.cases, third.there) == (0, 2)


def test_a_file_that_is_missing_is_noticed(folder: Path) -> None:
    parquet.parts(folder)["items"][0].unlink()
    with pytest.raises(RecordError, match=r"not whole: 1 of 10 files are missing .*items/"):
        parquet.parts(folder)


def test_a_byte_that_changed_is_noticed(folder: Path) -> None:
    path = parquet.parts(folder)["cases"][0]
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    with pytest.raises(RecordError, match=r"not as it was written: 1 of 10 files"):
        parquet.parts(folder)


def test_a_list_that_was_not_copied_is_noticed(folder: Path) -> None:
    parquet.add(folder, [project(entries_of(morning("North 3"), "case-n"))])
    first, _ = sorted((folder / "lists").iterdir(), key=lambda path: path.stat().st_mtime_ns)
    first.unlink()
    with pytest.raises(RecordError, match="stand on no list"):
        parquet.parts(folder)


def test_without_any_list_nothing_is_believed(folder: Path) -> None:
    for path in (folder / "lists").iterdir():
        path.unlink()
    with pytest.raises(RecordError, match="its lists are missing"):
        parquet.parts(folder)


def test_an_export_that_was_cut_short_is_tidied_by_the_next(folder: Path) -> None:
    whole = {path for path in folder.rglob("*.parquet")}
    parquet.add(folder, [project(entries_of(morning("North 3"), "case-n"))])
    newest = max((folder / "lists").iterdir(), key=lambda path: path.stat().st_mtime_ns)
    newest.unlink()
    parquet.tidy(folder)
    assert {path for path in folder.rglob("*.parquet")} == whole
    assert parquet.parts(folder)


def test_tables_of_a_later_version_are_refused(folder: Path) -> None:
    (path,) = (folder / "lists").iterdir()
    path.write_text(json.dumps({**json.loads(path.read_text()), "tables": 99}))
    with pytest.raises(RecordError, match="tables of version 99"):
        parquet.parts(folder)


def test_a_folder_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(UsageError, match="cannot be written"):
        parquet.add(tmp_path / "file", [project(entries_of(morning()))])


def test_a_tampered_case_is_named_and_left_out(voicelist: Command, tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite3"
    stored(file, [("case-1", morning()), ("case-2", morning())])
    with sqlite3.connect(file) as raw:
        raw.execute(
            """UPDATE journal SET body = replace(body, '"said-done"', '"said-fault"')
            WHERE "case" = 'case-1' AND kind = 'answered'"""
        )
    command = ("record", "export", "--all", "--format", "parquet", "-o", str(tmp_path / "tables"))
    answer = voicelist(*command, "--store", f"sqlite:///{file}")
    assert answer.code == 1
    assert "1 cases added" in answer.out
    assert "Left out: case-1. It does not verify. Event 9: its hash does not fit" in answer.err
    assert [row["case"] for row in read(tmp_path / "tables", "cases")] == ["case-2"]


def test_one_case_alone_and_what_else_is_said(voicelist: Command, tmp_path: Path) -> None:
    file, folder = tmp_path / "records.sqlite3", tmp_path / "tables"
    stored(file, [("case-1", morning()), ("case-2", morning())])
    store = ("--store", f"sqlite:///{file}")
    form = ("--format", "parquet", "-o", str(folder))
    assert voicelist("record", "export", "case-2", *form, *store).code == 0
    assert [row["case"] for row in read(folder, "cases")] == ["case-2"]
    both = voicelist("record", "export", "case-2", "--all", *form, *store)
    assert (both.code, "Name a case, or give --all" in both.err) == (2, True)
    since = voicelist("record", "export", "--all", "--since", "2031-03-05", *form, *store)
    assert (since.code, "give --since to voicelist review" in since.err) == (2, True)
    unknown = voicelist("record", "export", "case-3", *form, *store)
    assert (unknown.code, "holds no case case-3" in unknown.err) == (1, True)


def test_an_empty_store_and_one_that_was_copied_in_part(voicelist: Command, tmp_path: Path) -> None:
    command = ("record", "export", "--all", "--format", "parquet", "-o", str(tmp_path / "tables"))
    empty = voicelist(*command, "--store", f"sqlite:///{tmp_path / 'none.sqlite3'}")
    assert (empty.code, "holds no records" in empty.err) == (1, True)
    file = tmp_path / "records.sqlite3"
    stored(file, [(f"case-{number}", morning()) for number in range(8)])
    half = tmp_path / "half.sqlite3"
    half.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    answer = voicelist(*command, "--store", f"sqlite:///{half}")
    assert answer.code == 1
    assert "Traceback" not in answer.err
    assert "malformed" in answer.err or "damaged" in answer.err
    assert not (tmp_path / "tables").exists()


def test_the_dictionary_is_printed(voicelist: Command) -> None:
    answer = voicelist("schema")
    assert answer.code == 0
    assert "cases: one case" in answer.out
    assert "real (s)" in answer.out
