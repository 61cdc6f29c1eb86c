"""Text, CSV, JSON, HTML and PDF of one record say the same things. What each has to say is taken
from the JSON file and from the journal itself, and looked for in all the others."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from cases import keep, keep_on, resumed, stepped_store, whole_case
from many_facts import rich_case
from test_report import Page

from tests.exported import text_of
from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.words import CAUTION, FOOTNOTE, STATUS, hash_words, value_words

FORMATS = ("text", "csv", "html", "pdf")
_SAME = str.maketrans({"\u2212": "-", "\u201c": '"', "\u201d": '"', "\u2019": "'", "'": "'"})


@pytest.fixture(scope="module")
def entries(tmp_path_factory: pytest.TempPathFactory) -> tuple[Entry, ...]:
    return rich_case(stepped_store(tmp_path_factory.mktemp("facts") / "records.sqlite3"))


@pytest.fixture(scope="module")
def told(entries: tuple[Entry, ...]) -> dict[str, Any]:
    found = json.loads(export(entries, "json"))
    assert isinstance(found, dict)
    return found


@pytest.fixture(scope="module", params=FORMATS)
def words(request: pytest.FixtureRequest, entries: tuple[Entry, ...]) -> str:
    """All that one format says, without the spaces, in which lines are broken."""
    return _plain(_text(request.param, export(entries, request.param)))


def _text(form: str, data: bytes) -> str:
    if form == "html":
        return Page(data.decode()).text
    if form == "csv":
        sheet = csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""))
        return " ".join(cell.removeprefix("'") for row in sheet for cell in row)
    return text_of(form, data)


def _plain(text: str) -> str:
    return "".join(text.translate(_SAME).split()).lower()


def _lacking(facts: Iterator[str], words: str) -> list[str]:
    listed = [fact for fact in facts if fact]
    assert listed, "there is something to look for"
    return [fact for fact in listed if _plain(fact) not in words]


def test_the_head_says_the_same(told: dict[str, Any], words: str) -> None:
    def facts() -> Iterator[str]:
        yield from (told["case"], told["checklist_title"], told["state"])
        for one in told["about"]:
            yield one["text"]

    assert _lacking(facts(), words) == []


def test_whether_sound_was_kept_is_told_by_each(
    told: dict[str, Any], words: str, entries: tuple[Entry, ...], two_runs: tuple[Entry, ...]
) -> None:
    """By what the first events of the runs say, in the FHIR Bundle too."""
    assert entries[0].body["sound_kept"] is True
    assert told["runs"][0]["sound_kept"] is True
    kept = "utterances kept apart from the record, encrypted; they may have been deleted since"
    assert _lacking(iter((kept,)), words) == []
    assert f"sound of the room: {kept}" in export(entries, "fhir").decode()
    without = json.loads(export(two_runs, "json"))
    assert [run["sound_kept"] for run in without["runs"]] == [False, False]
    assert "sound of the room: not kept" in export(two_runs, "fhir").decode()


def test_sound_that_only_a_later_run_kept_is_told(store: Store) -> None:
    keep(store, "case-12", whole_case())
    entries = keep_on(store, "case-12", (replace(resumed()[0], sound_kept=True),))
    text = " ".join(export(entries, "text").decode().split())
    assert "Sound of the room: not kept, then utterances kept apart from the record" in text


def test_what_is_first_to_be_read_is_the_same(told: dict[str, Any], words: str) -> None:
    points = told["first_to_be_read"]
    facts = (fact for one in points for fact in (one["words"], one["name"]))
    assert _lacking(facts, words) == []


def test_changes_milestones_late_entries_and_notices_are_the_same(
    told: dict[str, Any], words: str
) -> None:
    def facts() -> Iterator[str]:
        for one in (*told["plan_changes"], *told["late_entries"], *told["clock_changes"]):
            yield one["words"]
        for one in (*told["course"]["milestones"], *told["course"]["requests"]):
            yield one["words"]
        yield from told["course"]["not_started"]
        for notice in told["notices"]:
            yield from (notice["part"], notice["what"])

    assert _lacking(facts(), words) == []


def test_every_item_says_the_same(told: dict[str, Any], words: str) -> None:
    def facts() -> Iterator[str]:
        for item in (item for section in told["sections"] for item in section["items"]):
            yield from (item["name"], item["words"], item["role"].replace("-", " "))
            if item["status"] not in ("said-done", "value"):
                yield STATUS[item["status"]]
            for kind in ("values", "expected"):
                for name, value in item[kind].items():
                    yield value_words(name, value)
            if item["answered"]:
                yield item["answered"]["local"][11:19]
            for one in item["late"]:
                yield f"{one['text']}"
                yield one["paper_time"]

    lacking = _lacking(facts(), words.replace("circulating-nurse", "circulatingnurse"))
    assert [one for one in lacking if "nurse" not in one] == []


def test_caution_footnote_and_head_are_on_every_page(told: dict[str, Any], words: str) -> None:
    if words.startswith("note"):
        assert "noproofthatitwasdone" in words, "a row says it shortly"
        assert told["head"] in words
        assert told["tree_head"] in words
    else:
        assert (
            _lacking(
                iter((CAUTION, FOOTNOTE, hash_words(told["head"]), hash_words(told["tree_head"]))),
                words,
            )
            == []
        )


def test_json_itself_says_what_the_journal_says(
    told: dict[str, Any], entries: tuple[Entry, ...]
) -> None:
    """The other side of the comparison rests on the events, not on the view."""
    points = json.dumps(told["first_to_be_read"])
    for entry in entries:
        if entry.kind == "noticed":
            assert entry.body["what"] in points
        if entry.kind == "equipment-changed":
            assert json.dumps(entry.body["words"])[1:-1] in points
        if entry.kind == "amended":
            assert entry.body["text"] in {one["text"] for one in told["late_entries"]}
        if entry.kind == "plan-changed":
            assert entry.body["document"] in json.dumps(told["plan_changes"])
    assert told["plan"]["eye"] == "right", "the plan in force"
    assert told["plan"]["lens"]["power_D"] == 22.0
    assert "incision" not in told["plan"], "it was planned for the other eye"
    by_name = {one["name"]: one for one in told["plan_in_force"]}
    assert by_name["eye"]["replaced"] == ["left"]
    assert by_name["lens"]["replaced"] == [{"model": "monofocal alpha", "power_D": 21.5}]


def test_what_is_not_settled_and_what_stands_comes_first(told: dict[str, Any]) -> None:
    points = told["first_to_be_read"]
    standing = [one["stands"] for one in points]
    assert standing == sorted(standing, reverse=True)
    first = [(one["kind"], one["name"]) for one in points if one["stands"]]
    assert first[:3] == [("mismatch", "eye"), ("accepted", "quadrant"), ("said-fault", "reflux")]
    assert ("not-applicable", "lens power") in first, "a stop item that was not applied"
    assert "machine (applies to: first case of the day)" in {one["words"] for one in points}


def test_items_count_what_was_answered(told: dict[str, Any]) -> None:
    statuses = [one["status"] for section in told["sections"] for one in section["items"]]
    without = {"not-asked", "called", "waiting", "deferred"}
    assert told["items"] == sum(one not in without for one in statuses) == 5
    assert told["items_due"] == len(statuses) - 1, "one is for the first case of the day"


def test_local_time_stands_beside_utc_with_its_offset(
    told: dict[str, Any], entries: tuple[Entry, ...]
) -> None:
    """The offset by RFC 3339, section 4.2: local time is UTC and the offset added."""
    assert entries[0].at == "2031-03-04T08:00:01.750Z"
    assert told["started_local"] == "2031-03-04T13:30:01.750+05:30"
    texts = {one["name"]: one["text"] for one in told["about"]}
    assert texts["started"] == "2031-03-04 13:30:01 +05:30 (08:00:01 UTC)"
    assert texts["times shown"] == "local time, UTC+05:30"


def test_an_entry_from_paper_is_told_from_others(told: dict[str, Any]) -> None:
    paper, other = told["late_entries"]
    assert (paper["paper_time"], other["paper_time"]) == ("14:05", "")
    assert "from paper, 14:05 on the paper, entered late by scrub nurse" in paper["words"]
    assert "from paper" not in other["words"].partition("reason")[0]
    label = next(
        item for section in told["sections"] for item in section["items"] if item["id"] == "label"
    )
    assert label["status"] == "not-asked", "what is entered late answers nothing"
    assert label["late"][0]["text"] == "lens label kept"


def test_a_record_without_an_offset_shows_utc_alone(two_runs: tuple[Entry, ...]) -> None:
    found = json.loads(export(two_runs, "json"))
    texts = {one["name"]: one["text"] for one in found["about"]}
    assert texts["started"] == "2031-03-04 08:00:01 UTC"
    assert texts["times shown"] == "time of day (UTC)"
    assert found["started_local"] == ""
