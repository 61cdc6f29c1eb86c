"""The page of a review: one file for screen and paper, no scripts, nothing from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import groupby

from jinja2 import Environment
from markupsafe import Markup

from voicelist.record.pages import page_templates
from voicelist.record.words import CAUTION
from voicelist.review.asking import ReviewAnswer
from voicelist.review.draw import figure_svg, funnel_svg
from voicelist.review.intervals import wilson
from voicelist.review.plain import NOT_TO_CONCLUDE, heading, shown
from voicelist.review.said import figure_words, funnel_words
from voicelist.review.series import Figure, Funnel, table_of
from voicelist.review.tables import Cell

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_BLOCK = 26
SOURCES = (
    "Limits of p, u and XmR charts: NIST/SEMATECH e-Handbook of Statistical Methods, sections "
    "6.3.2 and 6.3.3.",
    "Runs and crossings: J. Anhøj and A. V. Olesen (2014), PLoS ONE 9(11): e113825.",
    "Intervals of shares: E. B. Wilson (1927), Journal of the American Statistical Association "
    "22: 209.",
)


@dataclass(frozen=True, slots=True)
class DrawnChart:
    """A picture with its words and its table."""

    title: str
    svg: Markup
    words: tuple[str, ...]
    names: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    @property
    def blocks(self) -> tuple[tuple[tuple[Cell, ...], ...], ...]:
        """The rows in blocks that stand beside each other where there is room."""
        return tuple(
            self.rows[start : start + _BLOCK] for start in range(0, len(self.rows), _BLOCK)
        )


@dataclass(frozen=True, slots=True)
class Page:
    """What stands on the page. `left_out` are sentences, `banner` is "" over real cases."""

    where: str
    cases: int
    since: str
    banner: str
    left_out: tuple[str, ...]
    figures: tuple[Figure, ...]
    funnel: Funnel | None
    answers: tuple[ReviewAnswer, ...]


def as_html(page: Page) -> bytes:
    """The page as one file."""
    template = _environment().get_template("review.html.j2")
    drawn = [_drawn(one) for one in page.figures]
    if page.funnel is not None:
        drawn.append(_funnel(page.funnel))
    text = template.render(
        page=page,
        drawn=drawn,
        shortened=[_shortened(one) for one in page.answers],
        not_to_conclude=NOT_TO_CONCLUDE,
        caution=CAUTION,
        sources=SOURCES,
    )
    return text.encode()


def _shortened(answer: ReviewAnswer) -> tuple[ReviewAnswer, str]:
    """What of a long table stands on the page, and where the rest is."""
    most = answer.question.on_page
    if most is None:
        return answer, answer.note
    place = answer.names.index("cases") - 1
    rows: list[tuple[Cell, ...]] = []
    for _, some in groupby(answer.rows, lambda row: row[:place]):
        rows += list(some)[:most]
    more = len(answer.rows) - len(rows)
    rest = f"{more} more rows stand in {answer.question.name}.csv." if more else ""
    return replace(answer, rows=tuple(rows)), f"{rest} {answer.note}".strip()


def _drawn(figure: Figure) -> DrawnChart:
    words = tuple(figure_words(figure))
    # Built from escaped parts in `draw`.
    svg = Markup(figure_svg(figure, " ".join(words)))
    title = f"{figure.measure.title} ({figure.checklist})"
    return DrawnChart(title, svg, words, *table_of(figure))


def _funnel(funnel: Funnel) -> DrawnChart:
    words = tuple(funnel_words(funnel))
    rows: list[tuple[Cell, ...]] = []
    for number, (theatre, share, cases) in enumerate(funnel.points, start=1):
        low, high = wilson(round(share * cases), cases)
        figures = (round(funnel.scale * one, 1) for one in (share, low, high))
        rows.append((number, theatre, cases, *figures))
    names = ("point", "theatre", "cases", funnel.unit, "95 % from", "95 % to")
    svg = Markup(funnel_svg(funnel, " ".join(words)))
    return DrawnChart(funnel.title, svg, words, names, tuple(rows))


@cache
def _environment() -> Environment:
    environment = page_templates("voicelist.review")
    environment.filters["heading"] = heading
    environment.filters["cell"] = shown
    environment.tests["figure"] = _is_figure
    environment.tests["day"] = _is_day
    return environment


def _is_figure(cell: Cell) -> bool:
    return isinstance(cell, int | float) or cell is None


def _is_day(cell: Cell) -> bool:
    return isinstance(cell, str) and _DAY.fullmatch(cell) is not None


__all__: Sequence[str] = ("Page", "as_html")
