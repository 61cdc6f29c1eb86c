"""A review as plain text, and the sentences that stand over every review."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from voicelist.record.words import CAUTION
from voicelist.review.asking import ReviewAnswer
from voicelist.review.countable import LeftOut
from voicelist.review.projection import INVENTED, PRACTICE
from voicelist.review.tables import Cell

# What may not be concluded: on every page and above every table.
NOT_TO_CONCLUDE: Final = (
    "A record says what was said and heard, not what was done: nothing here shows that a step was "
    "left out, or that one was done well.",
    "Groups are roles, theatres, items and weeks. Nothing here is about a person, and nothing is "
    "ranked: rows stand in the order of names or of time.",
    "A difference between two groups is no cause. Lists, rooms, cases and days differ, too.",
    "A small number tells little: read the interval beside it, not the figure alone.",
)
_BANNERS: Final = {
    PRACTICE: "PRACTICE - not of patients",
    INVENTED: "INVENTED DATA - made by a generator, not of patients",
}
_NOTHING = "\N{EN DASH}"


def banner(natures: Mapping[str, int]) -> str:
    """What has to stand over a review of such cases, "" over one of real cases alone."""
    return "; ".join(words for nature, words in _BANNERS.items() if natures.get(nature))


def heading(column: str) -> str:
    """A column's name in words; seconds and percent stand behind it."""
    for end, unit in (("_s_median", "median, s"), ("_s_p90", "90th percentile, s")):
        if column.endswith(end):
            return f"{column.removesuffix(end).replace('_', ' ')}: {unit}"
    if column in {"from_percent", "to_percent"}:
        return {"from_percent": "95 % from", "to_percent": "95 % to"}[column]
    if column.endswith("_percent"):
        return f"{column.removesuffix('_percent').replace('_', ' ')}, %"
    return column.replace("_", " ")


def shown(cell: Cell) -> str:
    """A cell as people read it."""
    if cell is None:
        return _NOTHING
    if cell == "":
        return "(none)"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.1f}" if abs(cell) >= 10 else f"{cell:.2f}"
    return f"{cell:,}" if isinstance(cell, int) else cell


def as_text(answer: ReviewAnswer) -> Iterator[str]:
    """A question's title, what it counts, its table and its note."""
    question = answer.question
    yield question.title
    yield question.about
    yield ""
    if answer.rows:
        head = [heading(name) for name in answer.names]
        yield from _columns([head, *([shown(cell) for cell in row] for row in answer.rows)], answer)
    else:
        yield "Nothing to show."
    if answer.note:
        yield answer.note


def _columns(rows: Sequence[Sequence[str]], answer: ReviewAnswer) -> Iterator[str]:
    """Each column as wide as its widest cell, numbers to the right."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    numbers = [
        all(row[place] is None or isinstance(row[place], int | float) for row in answer.rows)
        for place in range(len(widths))
    ]
    for row in rows:
        cells = (
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numbers, strict=True)
        )
        yield "  ".join(cells).rstrip()


def opening(where: str, cases: int, since: str, natures: Mapping[str, int]) -> Iterator[str]:
    """What stands over a review: its nature, whence it is, what may not be concluded."""
    over = banner(natures)
    if over:
        yield over
    begun = f" that began on {since} or later" if since else ""
    yield f"Review of {cases:,} cases{begun}, from {where}."
    yield from NOT_TO_CONCLUDE
    yield CAUTION


def left_out_words(left_out: Sequence[LeftOut]) -> Iterator[str]:
    """Each case that is not counted, by its name."""
    for one in left_out:
        yield f"Not counted: {one.case}. {one.why}"
