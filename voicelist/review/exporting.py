"""`record export --format parquet`: the cases of a store into a folder of tables."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from voicelist.errors import RecordError
from voicelist.review import parquet
from voicelist.review.countable import Cases, LeftOut, countable

# Cases that are held in memory at once.
_AT_ONCE = 1000


@dataclass(frozen=True, slots=True)
class Written:
    """What an export did. `there` counts cases that the folder had already, as they are now."""

    cases: int
    there: int
    left_out: tuple[LeftOut, ...]

    @property
    def words(self) -> str:
        """One line."""
        before = f", {self.there} were there before" if self.there else ""
        return f"{self.cases} cases added{before}."


def export_folder(folder: Path, cases: Cases, case: str | None = None) -> Written:
    """Adds every case of a store to a folder, or one alone; what is there already is not written
    again, what does not verify is left out and named. Raises RecordError for an empty store, an
    unknown case, or a folder that is not whole."""
    held: frozenset[tuple[str, str]] = frozenset()
    if parquet.is_folder_of_ours(folder):
        parquet.tidy(folder)
        held = frozenset((code, head) for _, code, head in parquet.held(folder))
    left_out: list[LeftOut] = []
    there = added = 0

    def known(code: str, head: str) -> bool:
        nonlocal there
        there += (code, head) in held
        return (code, head) in held

    found = countable(cases, left_out=left_out, known=known, only=case)
    while batch := list(islice(found, _AT_ONCE)):
        parquet.add(folder, batch)
        added += len(batch)
    if not added and not there and not left_out:
        what = "no records" if case is None else f"no case {case}"
        raise RecordError(f"There is nothing to export: {cases.where} holds {what}.")
    return Written(added, there, tuple(left_out))
