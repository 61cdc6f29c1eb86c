"""The cases of a store that may be counted, and those that may not, each with its reason."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

from voicelist.department import cases as department
from voicelist.department.server import holds_department, is_server, name_of
from voicelist.errors import RecordError
from voicelist.record.store import Reader
from voicelist.record.verify import Reading, verify_reading
from voicelist.review.projection import Rows, project


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A case that is not counted, and why."""

    case: str
    why: str


@dataclass(frozen=True, slots=True)
class KeptCase:
    """A case as it is kept, as far as it can be read. `theatre` is None where the case alone says
    it."""

    case: str
    theatre: str | None
    reading: Reading

    @property
    def name(self) -> str:
        """The case for people."""
        return f"{self.case} of {self.theatre}" if self.theatre else self.case


class Cases(Protocol):
    """Where cases are read for a review."""

    @property
    def where(self) -> str:
        """The place for people; without passwords."""

    def damage(self) -> str:
        """What the place finds amiss in itself, "" if nothing."""

    def each(self, only: str | None) -> Iterator[KeptCase]:
        """Every case, or those of one code."""


class StoreCases:
    """The cases of a store, the oldest first."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self.where = reader.where

    def damage(self) -> str:
        """Rows may be hidden by it."""
        outlines = self._reader.outlines()
        if not outlines:
            return ""
        _, whole = next(iter(self._reader.verify_all()))
        alone = self._reader.verify(outlines[0].case).problems
        return " ".join(one for one in whole.problems if one not in alone)

    def each(self, only: str | None) -> Iterator[KeptCase]:
        """Raises RecordError if the store cannot be read."""
        for outline in reversed(self._reader.outlines()):
            if only in {None, outline.case}:
                yield KeptCase(outline.case, None, self._reader.kept(outline.case))


class DepartmentCases:
    """The cases of all theatres of a server."""

    def __init__(self, url: str) -> None:
        self._url = url
        self.where = name_of(url)

    def damage(self) -> str:
        """The server looks after itself."""
        return ""

    def each(self, only: str | None) -> Iterator[KeptCase]:
        """Raises RecordError if the server cannot be read."""
        for theatre, case, reading in department.readings(self._url):
            if only in {None, case}:
                yield KeptCase(case, theatre, reading)


def cases_of(url: str | None, *, practice: bool) -> Cases:
    """The cases of a store or of a department's server. Raises RecordError or UsageError."""
    if url is not None and is_server(url) and holds_department(url):
        return DepartmentCases(url)
    return StoreCases(Reader(url, practice=practice))


def countable(
    cases: Cases,
    *,
    left_out: list[LeftOut],
    known: Callable[[str, str], bool] = lambda case, head: False,
    only: str | None = None,
) -> Iterator[Rows]:
    """The tables of each case that verifies, or of one `only`; what does not is added to
    `left_out`. A case that is `known` under its head is verified all the same, and not given.
    Raises RecordError if the place itself cannot be read."""
    beside = cases.damage()
    if beside:
        left_out.append(LeftOut("the database", beside))
    for kept in cases.each(only):
        try:
            rows = rows_of(kept)
        except RecordError as error:
            left_out.append(LeftOut(kept.name, str(error)))
            continue
        if not known(kept.case, kept.reading.entries[-1].hash):
            yield rows


def rows_of(kept: KeptCase) -> Rows:
    """The tables of a case. Raises RecordError with the reason why it may not be counted."""
    verdict = verify_reading(kept.reading)
    if not verdict.ok:
        raise RecordError(f"It does not verify. {verdict.problems[0]}")
    return project(kept.reading.entries, theatre=kept.theatre)
