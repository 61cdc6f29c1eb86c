"""Exports for programs and spreadsheets, and the plain text."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from cases import DOCUMENTS, answered, keep, opened

from tests.exported import text_of
from voicelist.errors import UsageError
from voicelist.record.exports import FORMATS, export, guarded
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.verify import verify_file
from voicelist.record.words import (
    CAUTION,
    PRACTICE_BANNER,
    clock_words,
    hash_words,
    quantity_words,
    value_words,
)
from voicelist.session.records import Answered

Entries = tuple[Entry, ...]


def _rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def _row(data: bytes, item: str) -> dict[str, str]:
    return next(row for row in _rows(data) if row["item"] == item and row["status"])


def test_there_are_these_formats(stopped_case: Entries) -> None:
    assert FORMATS == ("journal", "json", "csv", "html", "text", "pdf", "fhir")
    assert all(export(stopped_case, name) for name in FORMATS)


@pytest.mark.parametrize("name", ["parquet", "scroll"])
def test_another_format_is_refused_and_the_existing_ones_named(
    stopped_case: Entries, name: str
) -> None:
    with pytest.raises(UsageError, match=rf"{name} is .*journal, json, csv, html, text, pdf, fhir"):
        export(stopped_case, name)


def test_the_same_record_gives_the_same_bytes(two_runs: Entries) -> None:
    for name in FORMATS:
        assert export(two_runs, name) == export(two_runs, name)


def test_an_exported_journal_verifies_against_its_head(two_runs: Entries, tmp_path: Path) -> None:
    file = tmp_path / "case-12.jsonl"
    file.write_bytes(export(two_runs, "journal"))
    assert verify_file(file, two_runs[-1].hash).ok
    file.write_bytes(export(two_runs[:-1], "journal"))
    assert not verify_file(file, two_runs[-1].hash).ok


def test_json_holds_the_view(two_runs: Entries) -> None:
    found = json.loads(export(two_runs, "json"))
    assert (found["format"], found["caution"]) == (1, CAUTION)
    assert (found["case"], found["state"], found["head"]) == (
        "case-12",
        "completed",
        two_runs[-1].hash,
    )
    assert [one["outcome"] for one in found["mismatches"]] == ["corrected", "accepted", "corrected"]
    quadrant = found["sections"][1]["items"][0]
    assert quadrant["values"]["vacuum_mmHg"] == {"value": 350, "control": "fixed"}
    assert quadrant["answered"]["at"] == quadrant["answers"][-1]["at"]["at"]
    assert found["sections"][2]["items"][2]["status"] == "not-asked"
    assert found["notices"][0]["part"] == "microphone"
    assert list(found).index("mismatches") < list(found).index("sections"), "mismatches first"


def test_csv_has_a_row_for_every_item(two_runs: Entries) -> None:
    data = export(two_runs, "csv")
    assert data.startswith(b"\xef\xbb\xbfnote,case,"), "the mark by which spreadsheets know UTF-8"
    items = [row for row in _rows(data) if row["status"]]
    assert [row["status"] for row in items] == [
        "said done",
        "said done",
        "said done",
        "value said",
        "said done",
        "value said",
        "value said",
        "not asked",
    ]
    flow = _row(data, "quadrant")
    assert "vacuum 350 mmHg fixed" in flow["values"]
    assert "vacuum 350 \u00b1 25 mmHg fixed" in flow["expected"]
    assert "by surgeon (as spoken, not verified), reason: dense nucleus" in flow["mismatches"]
    assert _row(data, "bottle")["reported"].startswith('reported not right, "bottle low", ')
    assert _row(data, "reflux")["taken_back"].startswith(
        '"reflux control found" (said done): taken back'
    )
    assert _row(data, "irrigation-line")["call_to_answer_s"] == "4.500"
    assert all("no proof" in row["note"] for row in _rows(data))


def test_every_row_of_a_practice_csv_says_so(practice_case: Entries) -> None:
    assert {row["note"] for row in _rows(export(practice_case, "csv"))} == {PRACTICE_BANNER}


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("=1+1", "'=1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
        ("-2+3", "'-2+3"),
        ("\t=1", "'\t=1"),
        ("\uff1d1", "'\uff1d1"),
        ("+21.5", "+21.5"),
        ("-3", "-3"),
        ("-1e-7", "-1e-7"),
        ("bottle full", "bottle full"),
        ("", ""),
    ],
)
def test_a_cell_is_no_formula_and_a_number_stays_a_number(cell: str, kept: str) -> None:
    assert guarded(cell) == kept


def test_words_that_look_like_a_formula_are_guarded_in_the_file(store: Store) -> None:
    heard = Answered("bottle", "said-done", '=HYPERLINK("x")', "", "")
    data = export(keep(store, "case-1", (opened(), heard)), "csv")
    assert _row(data, "bottle")["words"] == '\'=HYPERLINK("x")'


def test_text_tells_mismatches_before_items(two_runs: Entries) -> None:
    text = export(two_runs, "text").decode()
    places = [
        text.index(part)
        for part in (
            "Case case-12: completed",
            "An aid to memory",
            "FIRST TO BE READ",
            "expected 32 cc/min: accepted",
            "heard 500 mmHg, expected 350 mmHg: said",
            "THE LINES",
            "irrigation line [stop item]: said done",
            "counts: not asked",
            f"head {hash_words(two_runs[-1].hash)}",
        )
    ]
    assert places == sorted(places)
    assert max(len(line) for line in text.splitlines()) <= 80


def test_text_of_practice_says_so_at_every_part(practice_case: Entries) -> None:
    text = export(practice_case, "text").decode()
    parts = ["Cataract surgery", "FIRST TO BE READ", "THE LINES", "THE SETTINGS", "TIME OUT"]
    for part in parts:
        assert f"*** {PRACTICE_BANNER} ***\n{part}" in text


def test_real_cases_never_say_practice(two_runs: Entries) -> None:
    for name in FORMATS:
        assert PRACTICE_BANNER not in text_of(name, export(two_runs, name))


def test_an_export_of_a_record_that_does_not_verify_says_so(two_runs: Entries) -> None:
    cut = (*two_runs[:5], *two_runs[6:])
    for name in ("text", "pdf", "fhir"):
        assert "DOES NOT VERIFY" in text_of(name, export(cut, name))
    assert b"does not verify" in export(cut, "html")
    assert json.loads(export(cut, "json"))["problems"]


def test_the_record_never_says_done_as_a_fact(two_runs: Entries) -> None:
    for name in ("text", "csv"):
        words = export(two_runs, name).decode().replace("no proof that a step\nwas done", "")
        words = words.replace("no proof that a step was done", "").replace("it was done", "")
        words = words.replace("checklist is no proof that a step was done", "")
        assert words.count("done") == words.count("said done") + words.count("said-done")


@pytest.mark.parametrize(
    ("quantity", "value", "words"),
    [
        ("vacuum_mmHg", 350, "vacuum 350 mmHg"),
        ("flow_cc_per_min", 32.5, "flow 32.5 cc/min"),
        ("power_percent", {"value": 40, "control": "linear"}, "power 40% linear"),
        (
            "vacuum_mmHg",
            {"value": 350, "control": "fixed", "tolerance": 25},
            "vacuum 350 \u00b1 25 mmHg fixed",
        ),
        (
            "power_percent",
            {"value": 20, "control": "linear", "tolerance": 5, "minimum": 0},
            "power 0 to 20 \u00b1 5% linear",
        ),
        (
            "pulses_per_s",
            {"value": 40, "control": "", "counted": True},
            "pulses 40/s (said as a count)",
        ),
        ("modulation", {"value": "short-pulses", "control": ""}, "modulation short-pulses"),
        ("pulses_per_s", 30, "pulses 30/s"),
        ("on_time_ms", 6, "on time 6 ms"),
        ("power_D", 21.5, "power +21.5 D"),
        ("power_D", -3, "power -3 D"),
        ("axis_deg", 178, "axis 178\u00b0"),
        ("eye", "left", "eye left"),
        ("grade", {"scale": "locs3-no", "value": 3.5}, "grade locs3-no 3.5"),
        ("lens", {"model": "alpha", "power_D": 20}, "lens model alpha, power +20 D"),
        ("sign", True, "sign True"),
        ("power_D", None, "power"),
    ],
)
def test_quantities_read_with_their_units(quantity: str, value: object, words: str) -> None:
    assert quantity_words(quantity, value) == words


def test_several_values_read_with_commas() -> None:
    assert value_words("vacuum_mmHg", (300, 350)) == "300 mmHg, 350 mmHg"


def test_minutes_and_seconds_carry_over() -> None:
    assert [clock_words(one) for one in (0, 9.96, 59.96, 61.04, 3600)] == [
        "0:00.0",
        "0:10.0",
        "1:00.0",
        "1:01.0",
        "60:00.0",
    ]


def test_a_checklist_without_items_still_exports(store: Store) -> None:
    empty = {**DOCUMENTS, "checklist": {"id": "none", "title": "None", "sections": []}}
    entries = keep(store, "case-1", (opened("typed", empty),))
    assert all(export(entries, name) for name in FORMATS)
    assert answered("bottle", "said-done", "bottle full")
