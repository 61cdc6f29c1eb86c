"""The engine inside this process: DuckDB, which fetches nothing and grows no further than it may.

Extensions are neither installed nor loaded from elsewhere. What does not fit in memory goes for a
while into a folder that only its owner can read.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from voicelist.errors import RecordError
from voicelist.places import cache_folder
from voicelist.review.questions import KEY
from voicelist.review.tables import TABLES, Row
from voicelist.review.written import arrow_table, needed

if TYPE_CHECKING:
    import ibis.expr.types as ir

# The engine's share; beside it the process needs some 0.3 GB. Project choice.
MEMORY: Final = "2500MB"
_SETTINGS: Final[Mapping[str, Any]] = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": False,
    # The answers are put in order; the rows that they are made of need not be.
    "preserve_insertion_order": False,
}


class Duck:
    """A new database in memory, with a folder for what does not fit, which goes with it."""

    def __init__(self, memory: str = MEMORY) -> None:
        ibis = needed("ibis")
        away = cache_folder()
        away.mkdir(parents=True, exist_ok=True)
        self._away = tempfile.TemporaryDirectory(prefix="review-", dir=away)
        self.connection = ibis.duckdb.connect(
            **_SETTINGS, memory_limit=memory, temp_directory=self._away.name
        )
        # A file is opened by every question that reads it.
        self.connection.con.execute("SET parquet_metadata_cache = true")

    def of_rows(self, rows: Mapping[str, Sequence[Row]]) -> Mapping[str, ir.Table]:
        """The tables of rows at hand."""
        tables = {
            name: self.connection.create_table(name, arrow_table(table, rows[name]))
            for name, table in TABLES.items()
        }
        return _keyed(tables)

    def of_files(self, files: Mapping[str, Sequence[Path]]) -> Mapping[str, ir.Table]:
        """The tables of files, which are read when they are asked. Raises RecordError for a folder
        that holds a case twice."""
        tables = {
            name: self.connection.read_parquet(
                [str(path) for path in paths], table_name=name, hive_partitioning=False
            )
            if paths
            else self.connection.create_table(name, arrow_table(TABLES[name], []))
            for name, paths in files.items()
        }
        return _keyed(_newest_only(tables))


def asked(expression: ir.Table) -> Any:
    """The answer as a table of Arrow, from whichever engine. Raises RecordError where the engine
    inside this process may not use as much memory as it needs."""
    try:
        return expression.to_pyarrow()
    except needed("duckdb").OutOfMemoryException as error:
        raise RecordError(
            "This review needs more memory than it may use: ask about fewer cases with --since, or "
            "ask one question with --ask."
        ) from error


def _keyed(tables: Mapping[str, ir.Table]) -> Mapping[str, ir.Table]:
    """Cases are told apart by a number made of their heads, which is faster, once it is seen that
    no two heads make the same."""
    heads = tables["cases"]["head"]
    both = tables["cases"].aggregate(heads=heads.nunique(), numbers=heads.hash().nunique())
    (found,) = both.to_pyarrow().to_pylist()
    if found["heads"] == found["numbers"]:
        return {name: table.mutate(**{KEY: table["head"].hash()}) for name, table in tables.items()}
    return {name: table.mutate(**{KEY: table["head"]}) for name, table in tables.items()}


def _newest_only(tables: Mapping[str, ir.Table]) -> Mapping[str, ir.Table]:
    """A case that was exported, went on and was exported again counts once, with its later head."""
    import ibis

    cases = tables["cases"]
    of_case = ["theatre", "case"]
    number, keys = _count(cases), _count(cases.select(*of_case).distinct())
    if number == keys:
        return tables
    window = ibis.window(group_by=of_case)
    longest = cases.mutate(longest=cases.events.max().over(window))
    heads = longest.filter(longest.events == longest.longest).select("head")
    newest = {name: table.semi_join(heads, "head") for name, table in tables.items()}
    if _count(newest["cases"]) != keys:
        raise RecordError(
            "The folder holds a case twice under the same head, so that no figure would be right: "
            "export anew into an empty one."
        )
    return newest


def _count(table: ir.Table) -> int:
    return int(table.count().to_pyarrow().as_py())
