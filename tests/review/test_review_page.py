"""The page: everything on it is read back from its HTML, points of charts from their places."""

from __future__ import annotations

import csv
import re
from html.parser import HTMLParser
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from tests.command import Command, voicelist
from tests.review.made_cases import entries_of, morning
from tests.review.many_cases import cases
from voicelist.record.words import CAUTION
from voicelist.review import parquet
from voicelist.review.charts import ChartPoint, chart
from voicelist.review.draw import figure_svg, funnel_svg, nice_ticks
from voicelist.review.plain import NOT_TO_CONCLUDE
from voicelist.review.projection import project
from voicelist.review.questions import QUESTIONS
from voicelist.review.said import figure_words, funnel_words
from voicelist.review.series import MEASURES, Figure, Funnel, table_of

__all__ = ["voicelist"]

SHARE = MEASURES[0]


class Parts(HTMLParser):
    """Tags, ids and texts of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in ("href", "src", "xlink:href"):
                self.links.append(value or "")

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tables")
    parquet.add(folder, cases(120))
    return folder


@pytest.fixture
def written(voicelist: Command, folder: Path, tmp_path: Path) -> Path:
    out = tmp_path / "out"
    answer = voicelist("review", str(folder), "--at-least", "3", "-o", str(out))
    assert answer.code == 0, answer.text
    return out


def test_the_page_needs_nothing_from_elsewhere(written: Path) -> None:
    page = Parts((written / "review.html").read_text(encoding="utf-8"))
    assert {"script", "link", "img", "iframe"}.isdisjoint(page.tags)
    assert all(link.startswith("#") and link[1:] in page.ids for link in page.links)
    assert len(page.ids) == len(set(page.ids))
    assert {*QUESTIONS, "charts", "not", "sources"} <= set(page.ids)


def test_the_page_says_what_may_not_be_concluded(written: Path) -> None:
    page = Parts((written / "review.html").read_text(encoding="utf-8"))
    for sentence in (*NOT_TO_CONCLUDE, CAUTION):
        assert sentence in page.text
    assert "INVENTED" not in page.text
    assert "Anhøj" in page.text


def test_every_chart_has_words_and_a_table(written: Path) -> None:
    html = (written / "review.html").read_text(encoding="utf-8")
    drawings = html.count("<svg ")
    assert drawings == len(MEASURES) + 1, "one checklist, and the funnel of two theatres"
    assert html.count('role="img" aria-label="') == drawings
    for measure in MEASURES:
        assert f"{measure.title} (phaco)" in html
    assert html.count("Version ") >= len(MEASURES)


def test_colours_are_black_and_greys(written: Path) -> None:
    html = (written / "review.html").read_text(encoding="utf-8")
    assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;\s])", html)) <= {
        "#000",
        "#fff",
        "#ccc",
        "#767676",
    }
    assert "size: A4" in html


def test_tables_stand_beside_the_page(written: Path) -> None:
    for name in QUESTIONS:
        with (written / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
            head, *rows = csv.reader(file)
        table = pq.read_table(written / f"{name}.parquet")
        assert table.column_names == head
        assert table.num_rows == len(rows)
    assert (written / "review.html").stat().st_mode & 0o077 == 0


def test_what_is_invented_or_practice_stands_over_everything(
    voicelist: Command, tmp_path: Path
) -> None:
    parquet.add(tmp_path / "in", [project(entries_of(morning()), "invented")])
    plain = voicelist("review", str(tmp_path / "in"))
    assert (plain.code, "1 are practice or invented: review them with" in plain.err) == (1, True)
    command = ("review", str(tmp_path / "in"), "--practice", "--at-least", "1")
    assert voicelist(*command).out.startswith("INVENTED DATA")
    assert voicelist(*command, "-o", str(tmp_path / "out")).code == 0
    html = (tmp_path / "out" / "review.html").read_text(encoding="utf-8")
    assert html.index('class="banner">INVENTED DATA') < html.index("<h1>")


def test_what_was_said_is_no_markup(voicelist: Command, tmp_path: Path) -> None:
    hostile = "<script>alert(1)</script>"
    some = [project(entries_of(morning(f"{hostile}{n % 2}"), f"case-{n}")) for n in range(4)]
    parquet.add(tmp_path / "in", some)
    out = tmp_path / "out"
    assert voicelist("review", str(tmp_path / "in"), "--at-least", "1", "-o", str(out)).code == 0
    html = (out / "review.html").read_text(encoding="utf-8")
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)" in html


def figure(values: list[float], of: float = 50, parts: tuple[str, ...] = ("old",)) -> Figure:
    size = len(values) // len(parts)
    points = [ChartPoint(f"w{n}", one, of, parts[n // size]) for n, one in enumerate(values)]
    return Figure("phaco", SHARE, chart("p", points), 0, 10)


def test_points_stand_where_their_values_are() -> None:
    values = [0.1, 0.2, 0.3, 0.25] * 4
    svg = figure_svg(figure(values), "about")
    ys = [float(one) for one in re.findall(r'<circle class="dot" cx="[\d.]+" cy="([\d.]+)"', svg)]
    ticks = {
        float(label): float(y)
        for y, label in re.findall(r'<text x="50.0" y="([\d.]+)" text-anchor="end">([\d.]+)<', svg)
    }
    (low, low_y), *_, (high, high_y) = sorted(ticks.items())
    for value, y in zip(values, ys, strict=True):
        share = (100 * value - low) / (high - low)
        assert y == pytest.approx(low_y - 4 + share * (high_y - low_y), abs=0.2)


def test_a_point_beyond_is_marked_named_and_in_the_table() -> None:
    drawn = figure([0.2] * 15 + [0.6])
    assert figure_svg(drawn, "about").count('class="beyond"') == 1
    assert "Beyond the limits: the week of w15." in " ".join(figure_words(drawn))
    names, rows = table_of(drawn)
    assert [row[0] for row in rows if row[names.index("beyond")] == "yes"] == ["w15"]


def test_a_new_version_is_a_step_and_said() -> None:
    drawn = figure([0.4, 0.44] * 7 + [0.1, 0.14] * 7, parts=("old", "new"))
    svg = figure_svg(drawn, "about")
    assert svg.count('class="change"') == 1
    assert svg.count('class="centre"') == 2
    words = " ".join(figure_words(drawn))
    assert "From the week of w14 most cases used another version" in words
    assert "Version old, 14 weeks: mean 42.0" in words
    assert "Version new, 14 weeks: mean 12.0" in words


def test_few_weeks_are_not_dressed_up() -> None:
    drawn = figure([0.2] * 5)
    assert 'class="limit"' not in figure_svg(drawn, "about")
    assert "no limits are drawn and nothing is judged" in " ".join(figure_words(drawn))


def test_a_funnel_names_who_is_outside_and_ranks_nobody() -> None:
    points = (("A", 0.20, 400), ("B", 0.45, 400), ("C", 0.10, 12))
    funnel = Funnel("Share", "% of cases", 100, points, 1, 10)
    words = " ".join(funnel_words(funnel))
    assert "Not between the curves: A, B." in words
    assert "1 theatre of fewer than 10 cases not shown." in words
    assert funnel_svg(funnel, words).count('class="beyond"') == 2


@pytest.mark.parametrize("values", [[0.0, 1.0], [3.2, 97.1], [5.0, 5.0], [0.0013, 0.0021]])
def test_ticks_hold_all_values_at_round_steps(values: list[float]) -> None:
    ticks = nice_ticks(values, from_zero=False)
    assert ticks[0] <= min(values)
    assert ticks[-1] >= max(values)
    assert 2 <= len(ticks) <= 9
