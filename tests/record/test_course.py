"""Milestones and sections on request, as every form of a record shows them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from cases import SteppedClocks, keep

from tests.session.talk import TIME_OUT, TO_TIME_OUT, Talk, shipped_bundle
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.view import case_view
from voicelist.session.records import Opened

LATE = "incision was at eight forty"
AGO = "end of surgery five minutes ago"


@pytest.fixture
def entries(tmp_path: Path) -> tuple[Entry, ...]:
    """A whole case. The clock goes on by a second at each event, from 08:00:00."""
    talk = Talk()
    talk.says(*TO_TIME_OUT, *TIME_OUT, "incision is made", LATE, "lens is implanted", AGO)
    talk.says("ready for sign out", "counts complete", "procedure name written")
    talk.says("no equipment problems")
    assert talk.state.closed == "completed"
    opened = Opened("typed", "0", shipped_bundle().to_json(), None)
    store = Store(f"sqlite:///{tmp_path / 'cases.db'}", clocks=SteppedClocks(1.0).clocks())
    return keep(store, "practice-007", [opened, *talk.records])


def test_the_view_keeps_the_time_said_and_the_time_it_was_said(entries: tuple[Entry, ...]) -> None:
    course = case_view(entries).course
    first, late, lens, end = course.milestones
    assert [one.id for one in course.milestones] == [
        "incision",
        "incision",
        "lens-implanted",
        "end-of-surgery",
    ]
    assert (first.stands, late.stands) == (False, True)
    assert (late.happened, late.clock) == ("8:40", "8:40")
    assert late.at.at > first.at.at
    assert first.happened == first.at.at[11:19]
    assert lens.happened == lens.at.at[11:19]
    assert _seconds(end.at.at[11:19]) - _seconds(end.happened) == 300
    (request,) = course.requests
    assert (request.section, request.missing, request.short_list) == ("sign-out", (), False)
    assert course.quiet_since is not None
    assert course.quiet_since.at < first.at.at


def _seconds(clock: str) -> int:
    hours, minutes, seconds = clock.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + int(seconds)


def test_text_and_page_tell_each_milestone(entries: tuple[Entry, ...]) -> None:
    course = case_view(entries).course
    text = " ".join(export(entries, "text").decode().replace("\n", " ").split())
    page = export(entries, "html").decode()
    assert "COURSE OF THE CASE" in text
    assert "Course of the case" in page
    for one in (*course.milestones, *course.requests):
        assert one.words.replace('"', "") in text.replace('"', "")
        assert one.name in page
        assert one.said in page
    assert "8:40 by what was said" in page
    assert "milestones, as told" in page


def test_csv_and_json_tell_each_milestone(entries: tuple[Entry, ...]) -> None:
    rows = list(csv.DictReader(io.StringIO(export(entries, "csv").decode("utf-8-sig"))))
    told = [row for row in rows if row["section"] == "milestone"]
    assert [row["item"] for row in told].count("incision") == 2
    assert any("8:40" in row["words"] and row["answered_at"] for row in told)
    assert next(row["words"] for row in rows if row["section"] == "asked for").startswith(
        "sign out"
    )
    course = json.loads(export(entries, "json"))["course"]
    assert [one["happened"] for one in course["milestones"]][1] == "8:40"
    assert all(one["words"] for one in (*course["milestones"], *course["requests"]))
