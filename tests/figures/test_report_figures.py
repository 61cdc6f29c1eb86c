"""The pictures of a report: from the record alone, whole, safe, and marked as practice."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.command import PLAN
from tests.figures.drawn import Drawn
from tests.record.cases import keep, opened, stepped_store
from voicelist.documents.bundle import load_bundle
from voicelist.figures.canvas import as_svg
from voicelist.figures.inline import plan_at_the_end, report_figures
from voicelist.figures.timeline import timeline_picture
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.timeline import WIDTH, timeline
from voicelist.record.view import case_view
from voicelist.record.words import PRACTICE_BANNER
from voicelist.session.records import Answered, Called

EVIL = "<script>alert(1)</script>\"'&"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return stepped_store(tmp_path / "records.sqlite3")


def documents() -> dict[str, Any]:
    return load_bundle(PLAN).to_json()


def case(store: Store, source: str = "live", held: dict[str, Any] | None = None) -> Any:
    records = (
        opened(source, held or documents()),
        Called("irrigation-line", "Firm or loose: the irrigation line?"),
        Answered("irrigation-line", "said-done", "irrigation line firm"),
        Called("priming", "Complete or stopped: the priming?"),
    )
    return keep(store, "case-1", records)


def page(entries: tuple[Entry, ...]) -> str:
    return export(entries, "html", report_figures).decode()


def test_the_pictures_are_those_of_the_embedded_plan_and_card(store: Store) -> None:
    held = documents()
    held["plan"]["incision"] = {"main_deg": 40.0, "side_port_deg": 130.0}
    bands = held["card"]["grades"]
    third = next(band for band in bands if band["from"] == 3)
    third["phases"]["quadrant"]["vacuum_mmHg"]["value"] = 333.0
    html = page(case(store, held=held))
    assert "main incision 40°" in html
    assert "333 mmHg" in html


def test_a_page_with_pictures_takes_nothing_from_elsewhere_and_has_each_id_once(
    store: Store,
) -> None:
    html = page(case(store))
    assert html.count('class="picture"') == 3
    assert not re.search(r"url\(|@import|https?:|//[a-z]|<script|<style[^>]*text/css", html)
    ids = re.findall(r' id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    used = set(re.findall(r'href="#([^"]+)"', html))
    assert used <= set(ids)


def test_the_same_record_gives_the_same_page(store: Store) -> None:
    entries = case(store)
    assert page(entries) == page(entries)


def test_every_picture_of_a_practice_report_says_so(store: Store) -> None:
    pictures = report_figures(case(store, "practice")).figures
    assert len(pictures) == 3
    assert all(PRACTICE_BANNER in one.svg for one in pictures)
    assert not any(PRACTICE_BANNER in one.svg for one in report_figures(case_live(store)).figures)


def test_pictures_are_headed_as_planned_and_not_as_set_or_done(store: Store) -> None:
    html = page(case(store))
    head = html.index("not what was set on the machine, cut or done")
    assert html.index('id="pictures"') < head < html.index('class="picture"')
    for caption in ("Incisions, from the plan", "Settings for quadrant, from the card"):
        assert f"<figcaption>{caption}</figcaption>" in html


def changed(entries: tuple[Entry, ...], field: str, new: object) -> tuple[Entry, ...]:
    """As a journal would hold a change of plan."""
    last = entries[-1]
    body = {"field": field, "old": "", "new": new, "document": "the clinic note", "roles": []}
    return (*entries, replace(last, seq=last.seq + 1, kind="plan-changed", body=body))


def test_a_plan_that_was_changed_counts_as_it_stood_at_the_end(store: Store) -> None:
    entries, plan = case_live(store), documents()["plan"]
    assert plan_at_the_end(plan, entries) == plan
    grade = {"scale": "clinical", "value": 2}
    assert plan_at_the_end(plan, changed(entries, "grade", grade)) == {**plan, "grade": grade}
    lens = changed(entries, "lens-power", 20.0)
    assert plan_at_the_end(plan, lens) == plan, "no picture shows the lens"


def test_incisions_of_the_other_eye_are_not_drawn(store: Store) -> None:
    entries, plan = case_live(store), documents()["plan"]
    other = plan_at_the_end(plan, changed(entries, "eye", "right"))
    assert other["eye"] == "right"
    assert "incision" not in other
    back = plan_at_the_end(plan, changed(entries, "eye", plan["eye"]))
    assert back == plan


def case_live(store: Store) -> tuple[Entry, ...]:
    return keep(store, "case-2", (opened("live", documents()),))


def test_what_the_documents_do_not_hold_is_left_out(store: Store) -> None:
    held = documents()
    del held["plan"]["incision"]
    held["card"] = {"id": "of an unknown version"}
    entries = case(store, held=held)
    assert report_figures(entries).figures == ()
    assert "in pictures" not in page(entries)


def test_what_documents_say_stays_text_in_a_picture(store: Store) -> None:
    held = documents()
    held["plan"]["case"] = EVIL
    html = page(case(store, held=held))
    assert "<script" not in html
    assert "plan of case &lt;script" in html


def test_a_picture_over_time_has_every_sign_at_its_place(store: Store) -> None:
    entries = case(store, "practice")
    found = Drawn.of(as_svg(timeline_picture(entries)))
    (panel,) = timeline(case_view(entries), entries)
    wide = float(found.root.attrib["viewBox"].split()[2])
    drawn = sorted(
        float(one.attrib["x"]) * WIDTH / wide
        for one in found.root.iter()
        if one.tag.endswith("use") and float(one.attrib["x"]) > wide * 0.2
    )
    marks = [mark.x for row in panel.items for mark in row.marks]
    assert marks
    for x in marks:
        assert any(abs(x - other) < 0.2 for other in drawn)
    assert "practice: seconds since it began, 2031-03-04 08:00:01 UTC" in found.whole_text
    assert PRACTICE_BANNER in found.whole_text
    assert "no proof that it was done" in found.whole_text


def test_the_text_in_place_of_the_drawing_counts_what_was_said(store: Store) -> None:
    told = Drawn.of(as_svg(timeline_picture(case(store)))).told("desc")
    assert "said done 1" in told
    assert "called, no answer 1" in told or "still waiting 1" in told
