"""The tables of a case: each row leads back to its event, each figure can be reckoned by hand."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.review.made_cases import entries_of, morning
from voicelist.errors import RecordError
from voicelist.record.verify import read_journal_file
from voicelist.review.projection import project
from voicelist.review.tables import LEAD, TABLES, dictionary_words
from voicelist.review.written import as_csv

JOURNALS = Path(__file__).parents[1] / "record" / "journals"
PROJECTED = Path(__file__).parent / "projected"
NAMES = sorted(path.stem for path in JOURNALS.glob("*.jsonl"))


def rows_of(tables: Any, name: str) -> list[dict[str, Any]]:
    return [dict(zip(TABLES[name].names, row, strict=True)) for row in tables[name]]


def row_of(tables: Any, table: str, /, **wanted: Any) -> dict[str, Any]:
    (found,) = (
        row for row in rows_of(tables, table) if all(row[key] == one for key, one in wanted.items())
    )
    return found


def test_every_journal_has_its_tables_here() -> None:
    names = {path.name for path in PROJECTED.glob("*.csv")}
    assert names == {f"{name}.{table}.csv" for name in NAMES for table in TABLES}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("table", TABLES)
def test_a_journal_makes_the_committed_table(name: str, table: str) -> None:
    rows = project(read_journal_file(JOURNALS / f"{name}.jsonl"))[table]
    committed = (PROJECTED / f"{name}.{table}.csv").read_bytes().decode()
    assert as_csv(TABLES[table].names, rows) == committed


@pytest.mark.parametrize("name", NAMES)
def test_the_committed_tables_count_what_the_journal_holds(name: str) -> None:
    """Counted from the lines of the file, by nothing of ours."""
    lines = [json.loads(line) for line in (JOURNALS / f"{name}.jsonl").open(encoding="utf-8")]
    kinds = Counter(line["kind"] for line in lines)
    items = [
        (section["id"], item["id"])
        for section in lines[0]["body"]["documents"]["checklist"]["sections"]
        for item in section["items"]
    ]
    committed = {
        table: list(csv.DictReader((PROJECTED / f"{name}.{table}.csv").open(encoding="utf-8")))
        for table in TABLES
    }
    (case,) = committed["cases"]
    assert len(committed["utterances"]) == kinds["heard"]
    assert [(row["section"], row["item"]) for row in committed["items"]] == items
    assert sum(int(row["calls"]) for row in committed["items"]) == kinds["called"]
    assert int(case["events"]) == len(lines)
    assert int(case["asked_again"]) == kinds["asked-again"]
    assert (
        sum(row["asked_again"] == "yes" for row in committed["utterances"]) == kinds["asked-again"]
    )
    assert case["head"] == lines[-1]["hash"]
    assert case["nature"] == ("practice" if "demo" in name else "real")
    events = {line["seq"]: line for line in lines}
    for row in committed["utterances"]:
        assert events[int(row["seq"])]["body"]["words"] == row["words"].removeprefix("'")
    for row in committed["mismatches"]:
        assert events[int(row["seq"])]["kind"] == "read-back"
    for row in committed["items"]:
        if row["answered_at"]:
            assert events[int(row["seq"])]["body"]["item"] == row["item"]
            assert events[int(row["seq"])]["at"] == row["answered_at"]


def test_times_of_an_item_are_those_of_its_events() -> None:
    tables = project(entries_of(morning()))
    line = row_of(tables, "items", item="irrigation-line")
    # Called at 1.0 s, spoken until 3.0, first word for the checklist at 6.5 - 0.7, answer at 9.1;
    # the next item is called at 10.0.
    assert line["wait_s"] == 2.8
    assert line["call_to_answer_s"] == 8.1
    assert line["held_s"] == 9.0
    assert (line["asked_again"], line["calls"], line["before_incision"]) == (1, 1, True)
    bottle = row_of(tables, "items", item="bottle")
    assert (bottle["prompts"], bottle["deferred"], bottle["wait_s"]) == (1, 1, None)
    assert bottle["before_incision"] is False, "put off is no answer"
    late = row_of(tables, "items", item="counts")
    assert late["before_incision"] is False


def test_what_was_heard_knows_its_item_and_the_talk_before() -> None:
    tables = project(entries_of(morning()))
    unclear = row_of(tables, "utterances", words="irrigation fur")
    assert (unclear["item"], unclear["section"]) == ("irrigation-line", "lines")
    assert (unclear["asked_again"], unclear["talk_before"]) == (True, 1)
    assert (unclear["length_s"], unclear["decided_after_s"]) == (0.7, 0.3)
    talk = row_of(tables, "utterances", status="not-for-us")
    assert (talk["item"], talk["words"], talk["asked_again"]) == ("", "", False)


def test_the_course_of_a_case_and_its_totals() -> None:
    tables = project(entries_of(morning()))
    (case,) = rows_of(tables, "cases")
    assert (case["theatre"], case["month"], case["duration_s"]) == ("East 1", "2031-03", 99.0)
    assert case["time_out_s"] == 12.0
    assert (case["items_due"], case["items_before_incision"]) == (8, 8)
    assert case["answered_before_incision"] == 2
    closed = row_of(tables, "milestones", kind="section-closed", name="lines")
    assert closed["lasted_s"] == 33.9
    told = row_of(tables, "milestones", kind="told", name="incision")
    assert (told["seq"], told["late"], told["role"]) == (22, False, "surgeon")
    eye = row_of(tables, "mismatches", item="eye")
    assert (eye["outcome"], eye["to_outcome_s"], eye["section"]) == ("settled", 4.5, "time-out")


def test_without_an_incision_nobody_knows_what_came_before_it() -> None:
    timed = [pair for pair in morning() if pair[1].kind != "milestone"]
    tables = project(entries_of(timed))
    (case,) = rows_of(tables, "cases")
    assert case["answered_before_incision"] is None
    assert {row["before_incision"] for row in rows_of(tables, "items")} == {None}


def test_every_row_says_of_what_nature_it_is() -> None:
    tables = project(entries_of(morning()), nature="invented")
    lead = len(LEAD)
    heads = {row[:lead][2] for table in tables.values() for row in table}
    natures = {row[:lead][4] for table in tables.values() for row in table}
    assert natures == {"invented"}
    assert heads == {entries_of(morning())[-1].hash}


def test_events_that_make_no_case_are_refused_with_a_sentence() -> None:
    with pytest.raises(RecordError, match="makes no tables"):
        project(entries_of(morning())[1:])


def test_the_dictionary_names_every_column_with_its_unit() -> None:
    words = dictionary_words()
    for table in TABLES.values():
        assert f"\n{table.name}: " in words
        for column in table.columns:
            assert column.about
            assert f"  {column.name} " in words
            # What is counted in seconds says so in its name, as everywhere in this house.
            assert (column.unit == "s") == column.name.endswith("_s")


def test_a_cell_begins_no_formula() -> None:
    (row,) = csv.reader(io.StringIO(as_csv(("words",), [("=cmd",)]).partition("\n")[2]))
    assert row == ["'=cmd"]
