"""The cases of a store that may be counted, and those that may not, each with its reason."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from voicelist.errors import RecordError
from voicelist.record.outlines import Outline
from voicelist.record.store import Reader
from voicelist.record.verify import verify_reading
from voicelist.review.projection import Rows, project


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A case that is not counted, and why."""

    case: str
    why: str


def countable(
    reader: Reader,
    *,
    left_out: list[LeftOut],
    known: Callable[[str, str], bool] = lambda case, head: False,
    only: str | None = None,
) -> Iterator[Rows]:
    """The tables of each case that verifies, the oldest first, or of one `only`; what does not is
    added to `left_out`. A case that is `known` under its head is verified all the same, and not
    given. Raises RecordError if the store itself cannot be read."""
    beside = _damage(reader)
    if beside:
        left_out.append(LeftOut("the database", beside))
    wanted = (one for one in reader.outlines() if only in {None, one.case})
    for outline in reversed(tuple(wanted)):
        try:
            rows = _rows(reader, outline)
        except RecordError as error:
            left_out.append(LeftOut(outline.case, str(error)))
            continue
        if not known(outline.case, outline.head):
            yield rows


def _rows(reader: Reader, outline: Outline) -> Rows:
    reading = reader.kept(outline.case)
    verdict = verify_reading(reading)
    if not verdict.ok:
        raise RecordError(f"It does not verify. {verdict.problems[0]}")
    return project(reading.entries)


def _damage(reader: Reader) -> str:
    """What the database finds amiss in itself: rows may be hidden by it."""
    outlines = reader.outlines()
    if not outlines:
        return ""
    whole = reader.verify(outlines[0].case, database=True).problems
    alone: Collection[str] = reader.verify(outlines[0].case, database=False).problems
    return " ".join(one for one in whole if one not in alone)
