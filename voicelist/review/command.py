"""What `voicelist review` does, as functions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicelist.errors import UsageError
from voicelist.review.asking import AT_LEAST, ReviewAnswer, answer, day_of, question_named
from voicelist.review.countable import LeftOut
from voicelist.review.engine import ReviewSource, WantedCases, chosen, source_of
from voicelist.review.files import write, write_answer
from voicelist.review.page import Page, as_html
from voicelist.review.plain import as_text, banner, left_out_words, opening
from voicelist.review.questions import GROUPS, QUESTIONS
from voicelist.review.series import figures, funnel


@dataclass(frozen=True, slots=True)
class ReviewWanted:
    """What somebody wants to know. `ask` is the name of a question, None for all of them."""

    where: str | None
    ask: str | None = None
    since: str | None = None
    by: str | None = None
    practice: bool = False
    at_least: int = AT_LEAST


@dataclass(frozen=True, slots=True)
class Review:
    """The answers, and what was not counted."""

    source: ReviewSource
    tables: Mapping[str, Any]
    since: str
    cases: int
    natures: Mapping[str, int]
    answers: tuple[ReviewAnswer, ...]
    at_least: int

    @property
    def left_out(self) -> Sequence[LeftOut]:
        """Cases that are not counted, each with its reason."""
        return self.source.left_out

    def lines(self) -> Iterator[str]:
        """The review as plain text."""
        yield from opening(self.source.where, self.cases, self.since, self.natures)
        for one in self.answers:
            yield ""
            yield from as_text(one)


def review(asked: ReviewWanted) -> Review:
    """Asks. Raises UsageError, RecordError or MissingPart with a sentence."""
    since = day_of(asked.since) if asked.since else ""
    questions = [question_named(asked.ask)] if asked.ask else list(QUESTIONS.values())
    if asked.ask:
        questions[0].groups(asked.by)
    elif asked.by not in {None, *GROUPS}:
        raise UsageError(f"Nothing goes by {asked.by}: choose one of {', '.join(GROUPS)}.")
    source = source_of(asked.where, practice=asked.practice)
    tables = chosen(source, WantedCases(since, asked.practice))
    cases = tables["cases"]
    counted = cases.group_by("nature").aggregate(cases=cases.count()).to_pyarrow().to_pylist()
    natures = {str(one["nature"]): int(one["cases"]) for one in counted}
    answers = [
        answer(one, tables, asked.by if asked.ask or asked.by in one.by else None, asked.at_least)
        for one in questions
    ]
    total = sum(natures.values())
    return Review(source, tables, since, total, natures, tuple(answers), asked.at_least)


def write_review(folder: Path, found: Review) -> tuple[Path, ...]:
    """The page, and each table as CSV and as Parquet; returns the files. Raises UsageError."""
    written = [path for one in found.answers for path in write_answer(folder, one)]
    page = folder / "review.html"
    write(page, as_html(_page(found)))
    return (page, *written)


def _page(found: Review) -> Page:
    return Page(
        found.source.where,
        found.cases,
        found.since,
        banner(found.natures),
        tuple(left_out_words(found.left_out)),
        tuple(figures(found.tables, found.at_least)),
        funnel(found.tables, found.at_least),
        found.answers,
    )
