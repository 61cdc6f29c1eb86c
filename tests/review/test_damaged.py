"""A review of what is empty, broken or copied in part: a sentence, and never a figure of it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.command import Command, voicelist
from tests.review.made_cases import entries_of, morning, stored
from voicelist.review import parquet
from voicelist.review.projection import project

__all__ = ["voicelist"]

SPOIL = Callable[[Path], None]


def halved(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def one_page_over(path: Path) -> None:
    """A page in the middle, as a disk may lose it."""
    data = bytearray(path.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 4096] = bytes(4096)
    path.write_bytes(data)


def emptied(path: Path) -> None:
    with sqlite3.connect(path) as raw:
        raw.execute("DELETE FROM journal")


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda path: path.write_bytes(b""), "holds no records"),
        (lambda path: path.write_text("no database"), "cannot be read"),
        (halved, "cannot be read"),
        (one_page_over, "cannot be read"),
        (emptied, "holds no records"),
    ],
    ids=["no bytes", "no database", "half of it", "a page lost", "no events"],
)
def test_a_store_without_what_makes_it_one_is_a_sentence(
    voicelist: Command, tmp_path: Path, spoil: SPOIL, sentence: str
) -> None:
    file = tmp_path / "records.sqlite3"
    stored(file, [(f"case-{number}", morning()) for number in range(4)])
    spoil(file)
    answer = voicelist("review", str(file), "--at-least", "1")
    assert (answer.code, "Review of" in answer.out) == (1, False)
    assert sentence in answer.err


@pytest.mark.parametrize("what", ["file", "end", "list", "all files"])
def test_a_folder_that_was_copied_in_part_is_a_sentence(
    voicelist: Command, tmp_path: Path, what: str
) -> None:
    folder = tmp_path / "tables"
    for number in range(2):
        parquet.add(folder, [project(entries_of(morning(f"East {number}"), f"case-{number}"))])
    one = next((folder / "items").rglob("*.parquet"))
    match what:
        case "file":
            one.unlink()
        case "end":
            one.write_bytes(one.read_bytes()[:-100])
        case "list":
            next((folder / "lists").iterdir()).unlink()
        case _:
            for table in ("cases", "items", "utterances", "mismatches", "milestones"):
                shutil.rmtree(folder / table)
    answer = voicelist("review", str(folder), "--at-least", "1")
    assert (answer.code, answer.out) == (1, "")
    assert "is not whole" in answer.err or "not as it was written" in answer.err
    assert "export anew into an empty one" in answer.err


def test_an_empty_folder_and_one_of_something_else(voicelist: Command, tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "one.txt").write_text("nothing of ours")
    for folder in (tmp_path, tmp_path / "letters"):
        answer = voicelist("review", str(folder))
        assert (answer.code, "holds no tables" in answer.err) == (1, True)
