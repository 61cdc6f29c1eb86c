"""Where the tables of a review come from, and which of their cases are asked about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from voicelist.department.server import holds_department, is_server, name_of
from voicelist.errors import RecordError, UsageError
from voicelist.review import parquet
from voicelist.review.countable import Cases, LeftOut, cases_of, countable
from voicelist.review.duck import Duck
from voicelist.review.in_place import DepartmentTables, has_tables
from voicelist.review.projection import REAL
from voicelist.review.tables import TABLES, Row
from voicelist.review.written import needed

if TYPE_CHECKING:
    import ibis.expr.types as ir


@dataclass(frozen=True, slots=True)
class ReviewSource:
    """The tables of a review as Ibis has them. `where` is for people, `left_out` names what is not
    counted, `natures` counts cases by their nature. `engine` lives as long as its tables."""

    where: str
    tables: Mapping[str, ir.Table]
    left_out: tuple[LeftOut, ...]
    natures: Mapping[str, int]
    engine: object


@dataclass(frozen=True, slots=True)
class WantedCases:
    """Which cases: those that began on `since` or later ("" all), practice or real."""

    since: str = ""
    practice: bool = False


def source_of(where: str | None, *, practice: bool) -> ReviewSource:
    """Tables from a store (an address or a file of SQLite; None is the user's own), a folder of
    Parquet, or a server, in place where it has them. Raises UsageError, RecordError or MissingPart
    with a sentence."""
    needed("ibis")
    if where is not None and "://" not in where:
        path = Path(where)
        if path.is_dir():
            return _of_folder(path)
        if not path.is_file():
            raise UsageError(
                f"There is no store or folder {where}: give an address such as "
                "sqlite:///records.sqlite3, or a folder made by voicelist record export."
            )
        where = f"sqlite:///{path}"
    if where is not None and is_server(where) and holds_department(where) and has_tables(where):
        return _in_place(where)
    return _of_store(cases_of(where, practice=practice))


def _in_place(url: str) -> ReviewSource:
    place = DepartmentTables(url)
    left_out = tuple(place.left_out())
    tables = place.tables()
    return ReviewSource(name_of(url), tables, left_out, _natures(tables["cases"]), place)


def _of_store(cases: Cases) -> ReviewSource:
    left_out: list[LeftOut] = []
    rows: dict[str, list[Row]] = {name: [] for name in TABLES}
    for case in countable(cases, left_out=left_out):
        for name, some in case.items():
            rows[name].extend(some)
    if not rows["cases"] and not left_out:
        raise RecordError(f"There is nothing to review: {cases.where} holds no records.")
    duck = Duck()
    tables = duck.of_rows(rows)
    return ReviewSource(cases.where, tables, tuple(left_out), _natures(tables["cases"]), duck)


def _of_folder(folder: Path) -> ReviewSource:
    duck = Duck()
    tables = duck.of_files(parquet.parts(folder))
    return ReviewSource(str(folder), tables, (), _natures(tables["cases"]), duck)


def _natures(cases: ir.Table) -> Mapping[str, int]:
    counted = cases.group_by("nature").aggregate(cases=cases.count()).to_pyarrow().to_pylist()
    return Counter({str(one["nature"]): int(one["cases"]) for one in counted})


def chosen(source: ReviewSource, wanted: WantedCases) -> Mapping[str, ir.Table]:
    """The tables of the cases that are wanted. Raises RecordError if there are none."""
    real = source.natures.get(REAL, 0)
    others = sum(source.natures.values()) - real
    there, beside = (others, real) if wanted.practice else (real, others)
    if not there:
        raise RecordError(_nothing(source, wanted, beside))
    found = {}
    for name, table in source.tables.items():
        # Without others there is nothing to tell apart, row by row.
        kept = table.filter((table.nature == REAL) != wanted.practice) if beside else table
        found[name] = kept.filter(kept.day >= wanted.since) if wanted.since else kept
    if wanted.since and not int(found["cases"].count().to_pyarrow().as_py()):
        raise RecordError(f"No case in {source.where} began on {wanted.since} or later.")
    return found


def _nothing(source: ReviewSource, wanted: WantedCases, beside: int) -> str:
    kind = "practice or invented" if wanted.practice else "real"
    other = "real" if wanted.practice else "practice or invented"
    if not beside:
        return (
            f"There is nothing to review: no case in {source.where} can be counted "
            f"({len(source.left_out)} left out)."
        )
    how = "without --practice" if wanted.practice else "with --practice"
    return f"No case in {source.where} is {kind}; {beside} are {other}: review them {how}."
