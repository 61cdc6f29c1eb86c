"""A question asked: an expression run, small groups withheld, intervals added."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from voicelist.errors import UsageError
from voicelist.review.duck import asked
from voicelist.review.intervals import wilson
from voicelist.review.questions import QUESTIONS, Question
from voicelist.review.tables import Cell

# A group of fewer cases is not shown. Project choice, no source: enough that a row is about a way
# of working and hardly about one day.
AT_LEAST: Final = 10


@dataclass(frozen=True, slots=True)
class ReviewAnswer:
    """A question's table. `withheld` counts groups that were too small to be shown."""

    question: Question
    names: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    withheld: int
    at_least: int

    @property
    def note(self) -> str:
        """What is not shown, "" where all is."""
        if not self.withheld:
            return ""
        groups = "1 group" if self.withheld == 1 else f"{self.withheld} groups"
        return f"{groups} of fewer than {self.at_least} cases not shown."


def question_named(name: str) -> Question:
    """Raises UsageError for an unknown one."""
    if name not in QUESTIONS:
        raise UsageError(f"There is no question {name}: choose one of {', '.join(QUESTIONS)}.")
    return QUESTIONS[name]


def day_of(text: str) -> str:
    """A date as it is compared. Raises UsageError for anything else."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise UsageError(f"{text!r} is no date: write it as 2031-03-04.") from None


def answer(
    question: Question, tables: Mapping[str, Any], by: str | None = None, at_least: int = AT_LEAST
) -> ReviewAnswer:
    """Runs a question. Raises UsageError for a group that it cannot be asked by."""
    fewest = question.at_least or at_least
    found = asked(question.ask(tables, question.groups(by)))
    names = tuple(found.column_names)
    every = [tuple(row[name] for name in names) for row in found.to_pylist()]
    cases = names.index("cases")
    shown = [tuple(map(_rounded, row)) for row in every if row[cases] >= fewest]
    if question.share is not None:
        names, shown = _with_interval(names, shown, question.share)
    return ReviewAnswer(question, names, tuple(shown), len(every) - len(shown), fewest)


def _rounded(cell: Any) -> Cell:
    """Seconds to the millisecond, as they were kept."""
    same = same_of_all(cell)
    return round(same, 3) if isinstance(same, float) else same


def same_of_all(cell: Any) -> Any:
    """Engines differ in the last bit of a value between two others. Values are kept to the
    millisecond and lie at tenths between them: six places hold all of it, and no such bit."""
    return round(cell, 6) if isinstance(cell, float) else cell


def _with_interval(
    names: tuple[str, ...], rows: Sequence[tuple[Cell, ...]], share: tuple[str, str]
) -> tuple[tuple[str, ...], list[tuple[Cell, ...]]]:
    """A proportion in percent with its 95 % interval, behind the counts that it is made of."""
    count, of = (names.index(one) for one in share)
    wide = [(*row, *_percent(row[count], row[of])) for row in rows]
    return (*names, f"{share[0]}_percent", "from_percent", "to_percent"), wide


def _percent(count: Cell, of: Cell) -> tuple[Cell, Cell, Cell]:
    if not isinstance(count, int) or not isinstance(of, int) or not 0 <= count <= of or of == 0:
        return None, None, None
    low, high = wilson(count, of)
    return round(100 * count / of, 1), round(100 * low, 1), round(100 * high, 1)
