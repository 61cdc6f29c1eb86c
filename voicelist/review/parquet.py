"""A folder of Parquet files: cases are added, by month and theatre, and nothing is changed.

    cases/month=2031-03/theatre=East 2/part-0123456789abcdef.parquet    (and the other tables)
    lists/0123456789abcdef.json

One export writes at most one part for each table, month and theatre, and last of all a list of its
parts with their lengths and hashes. So a folder that was copied in part, or whose files changed on
the way, does not pass for whole. A list does not hinder somebody who rewrites it, too.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import voicelist
from voicelist.errors import RecordError, UsageError
from voicelist.review.projection import Rows
from voicelist.review.tables import LEAD, TABLES, VERSION, Row
from voicelist.review.written import arrow_schema, arrow_table, needed

LISTS = "lists"
_AGAIN = "Copy the folder again, or export anew into an empty one."
_PLACE = {one.name: number for number, one in enumerate(LEAD)}
_SHOWN_AT_MOST = 3
Key = tuple[str, str, str]  # theatre, case, head
Files = Mapping[str, tuple[Path, ...]]  # by table


@dataclass(frozen=True, slots=True)
class ParquetPart:
    """One file of the folder, as its list says it has to be."""

    name: str
    rows: int
    length: int
    sha256: str


def is_folder_of_ours(folder: Path) -> bool:
    """Whether there is anything of an export in the folder."""
    return any((folder / name).is_dir() for name in (LISTS, *TABLES))


def add(folder: Path, cases: Iterable[Rows]) -> int:
    """Adds cases to the folder, which is made if it is not there; returns how many parts were
    written. Raises UsageError if it cannot be written."""
    parted: dict[tuple[str, str, str], list[Row]] = defaultdict(list)
    keys: list[Key] = []
    for rows in cases:
        for name, table in rows.items():
            for row in table:
                parted[name, str(row[_PLACE["month"]]), str(row[_PLACE["theatre"]])].append(row)
        keys.append(key_of(rows["cases"][0]))
    if not keys:
        return 0
    digest = hashlib.sha256("\n".join(map(repr, keys)).encode()).hexdigest()[:16]
    try:
        written = [
            _write(folder, digest, *where, arrow_table(TABLES[where[0]], rows))
            for where, rows in sorted(parted.items())
        ]
        _write_list(folder, digest, written)
    except OSError as error:
        raise UsageError(f"{folder} cannot be written: {error.strerror}.") from error
    return len(written)


def key_of(row: Row) -> Key:
    """Theatre, case and head of a row."""
    return (
        str(row[_PLACE["theatre"]]),
        str(row[_PLACE["case"]]),
        str(row[_PLACE["head"]]),
    )


def held(folder: Path) -> frozenset[Key]:
    """The cases in the folder, each with the head under which it was added. Raises as `parts`."""
    found: set[Key] = set()
    with _plainly(folder):
        for path in parts(folder)["cases"]:
            columns = needed("pyarrow.parquet").read_table(
                path, columns=["theatre", "case", "head"]
            )
            found.update(zip(*(one.to_pylist() for one in columns.columns), strict=True))
    return frozenset(found)


def parts(folder: Path) -> Files:
    """The files of each table, after every one was compared with its list. Raises RecordError with
    a sentence for a folder that is not whole."""
    every = listed(folder)
    lacking = [one for one in every if not (folder / one.name).is_file()]
    if lacking:
        raise RecordError(
            f"{folder} is not whole: {len(lacking)} of {len(every)} files are missing "
            f"({_named(lacking)}). {_AGAIN}"
        )
    with ThreadPoolExecutor() as pool:
        same = list(pool.map(lambda one: _is_same(folder / one.name, one), every))
    changed = [one for one, alike in zip(every, same, strict=True) if not alike]
    if changed:
        raise RecordError(
            f"{folder} is not as it was written: {len(changed)} of {len(every)} files were cut "
            f"short or changed ({_named(changed)}). {_AGAIN}"
        )
    known = {one.name for one in every}
    strangers = [name for name in _present(folder) if name not in known]
    if strangers:
        raise RecordError(
            f"{folder} is not whole: {len(strangers)} files stand on no list of it, such as "
            f"{strangers[0]}; a list was not copied, or an export was cut short. {_AGAIN}"
        )
    return {
        table: tuple(folder / one.name for one in every if one.name.startswith(f"{table}/"))
        for table in TABLES
    }


def tidy(folder: Path) -> None:
    """Takes away parts that an export left which was cut short: they stand on no list. Nothing is
    done where there is no list at all, for that is another trouble."""
    if not (folder / LISTS).is_dir():
        return
    known = {one.name for one in listed(folder)}
    for name in _present(folder):
        if name not in known:
            (folder / name).unlink()


def listed(folder: Path) -> list[ParquetPart]:
    """Every file that the lists of a folder name. Raises RecordError without lists, or for one that
    cannot be read."""
    lists = sorted((folder / LISTS).glob("*.json"))
    if not lists:
        what = "is not whole: its lists are missing" if _present(folder) else "holds no tables"
        raise RecordError(
            f"{folder} {what}. Export records into it: voicelist record export --all "
            "--format parquet -o FOLDER."
        )
    every: list[ParquetPart] = []
    for path in lists:
        try:
            told = json.loads(path.read_bytes())
            version = told["tables"]
            every += [ParquetPart(**one) for one in told["parts"]]
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise RecordError(f"The list {path} cannot be read. {_AGAIN}") from error
        if version != VERSION:
            raise RecordError(
                f"{path} tells of tables of version {version}; this voicelist knows version "
                f"{VERSION}. Export anew into an empty folder, or use the version that wrote it."
            )
    return every


def _present(folder: Path) -> list[str]:
    found = (path for table in TABLES for path in (folder / table).rglob("part-*.parquet"))
    return sorted(path.relative_to(folder).as_posix() for path in found)


def _named(some: list[ParquetPart]) -> str:
    more = len(some) - _SHOWN_AT_MOST
    names = ", ".join(one.name for one in some[:_SHOWN_AT_MOST])
    return f"{names} and {more} more" if more > 0 else names


def _is_same(path: Path, part: ParquetPart) -> bool:
    return path.stat().st_size == part.length and _sha256(path) == part.sha256


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def write_parts(
    folder: Path, digest: str, month: str, theatre: str, tables: Mapping[str, Any]
) -> None:
    """Adds Arrow tables of one month and theatre, and their list. Raises OSError."""
    written = [_write(folder, digest, name, month, theatre, rows) for name, rows in tables.items()]
    _write_list(folder, digest, written)


def _write(
    folder: Path, digest: str, table: str, month: str, theatre: str, rows: Any
) -> ParquetPart:
    where = folder / table / f"month={month}" / f"theatre={quote(theatre, safe=' ') or '_'}"
    where.mkdir(parents=True, exist_ok=True)
    path = where / f"part-{digest}.parquet"
    beside = path.with_suffix(".unfinished")
    schema = arrow_schema(TABLES[table])
    needed("pyarrow.parquet").write_table(rows.cast(schema), beside, compression="zstd")
    os.replace(beside, path)
    name = path.relative_to(folder).as_posix()
    return ParquetPart(name, rows.num_rows, path.stat().st_size, _sha256(path))


def _write_list(folder: Path, digest: str, written: list[ParquetPart]) -> None:
    told: dict[str, Any] = {
        "tables": VERSION,
        "software": voicelist.__version__,
        "parts": [{name: getattr(one, name) for name in ParquetPart.__slots__} for one in written],
    }
    (folder / LISTS).mkdir(exist_ok=True)
    path = folder / LISTS / f"{digest}.json"
    beside = path.with_suffix(".unfinished")
    beside.write_text(json.dumps(told, indent=1), encoding="utf-8")
    os.replace(beside, path)


@contextmanager
def _plainly(folder: Path) -> Iterator[None]:
    """A file that no longer reads as Parquet becomes a sentence."""
    arrow = needed("pyarrow")
    try:
        yield
    except (arrow.ArrowException, OSError) as error:
        raise RecordError(f"{folder} cannot be read as tables ({error}). {_AGAIN}") from error
