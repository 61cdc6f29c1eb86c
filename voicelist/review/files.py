"""The files that a review writes: tables as CSV and Parquet, beside the page."""

from __future__ import annotations

from pathlib import Path

from voicelist.errors import UsageError
from voicelist.review.asking import ReviewAnswer
from voicelist.review.written import as_csv, needed


def write_answer(folder: Path, answer: ReviewAnswer) -> tuple[Path, Path]:
    """A question's table as NAME.csv and NAME.parquet. Raises UsageError."""
    sheet = folder / f"{answer.question.name}.csv"
    write(sheet, as_csv(answer.names, answer.rows).encode("utf-8-sig"))
    pa = needed("pyarrow")
    columns = zip(*answer.rows, strict=True) if answer.rows else ([] for _ in answer.names)
    table = pa.table({name: list(cells) for name, cells in zip(answer.names, columns, strict=True)})
    sink = pa.BufferOutputStream()
    needed("pyarrow.parquet").write_table(table, sink)
    arrow = folder / f"{answer.question.name}.parquet"
    write(arrow, sink.getvalue().to_pybytes())
    return sheet, arrow


def write(target: Path, data: bytes) -> None:
    """Writes a file, for its owner alone, whole or not at all. Raises UsageError."""
    beside = target.with_name(f".{target.name}.unfinished")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        beside.touch(mode=0o600)
        beside.write_bytes(data)
        beside.replace(target)
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}.") from error
