"""The engine inside the process: what it may use, and that no case counts twice."""

from __future__ import annotations

import gc
import stat
from pathlib import Path

import pytest

from tests.review.made_cases import entries_of, morning
from voicelist.errors import RecordError
from voicelist.review import duck as duck_module
from voicelist.review import parquet
from voicelist.review.duck import Duck, asked
from voicelist.review.engine import source_of
from voicelist.review.projection import project


def test_memory_is_bounded_and_what_does_not_fit_is_for_its_owner_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(duck_module, "cache_folder", lambda: tmp_path)
    duck = Duck(memory="30MB")
    (away,) = tmp_path.iterdir()
    assert stat.S_IMODE(away.stat().st_mode) == 0o700
    # 16 bytes each at least, so that this cannot fit.
    query = (
        "SELECT count(*), sum(n) FROM (SELECT i % 1_000_000 AS j, count(*) AS n "
        "FROM range(1_200_000) AS r(i) GROUP BY j)"
    )
    run = duck.connection.con.execute
    assert run(query).fetchall() == [(1_000_000, 1_200_000)]
    told = dict(run("SELECT name, value FROM duckdb_settings()").fetchall())
    assert told["temp_directory"] == str(away)
    assert (told["autoinstall_known_extensions"], told["autoload_known_extensions"]) == (
        "false",
        "false",
    )
    del duck, run
    gc.collect()
    assert list(tmp_path.iterdir()) == []


def test_what_fits_neither_in_memory_nor_aside_is_a_sentence() -> None:
    """A list is not put aside."""
    whole = Duck(memory="30MB").connection.sql("SELECT list(i) AS i FROM range(5_000_000) AS r(i)")
    with pytest.raises(RecordError, match="ask about fewer cases with --since"):
        asked(whole)


def test_a_case_that_stands_twice_under_one_head_is_a_sentence(tmp_path: Path) -> None:
    """Two exports at once into one folder: neither knew of the other."""
    one, other = (project(entries_of(morning(), code)) for code in ("case-1", "case-2"))
    parquet.add(tmp_path, [one])
    parquet.add(tmp_path, [one, other])
    with pytest.raises(RecordError, match="holds a case twice under the same head"):
        source_of(str(tmp_path), practice=False)
