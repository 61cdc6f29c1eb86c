"""Each question, reckoned once more by plain Python and numpy from the same rows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import binomtest

from tests.command import Command, voicelist
from tests.review.made_cases import morning, stored
from tests.review.many_cases import cases, grouped, rows_of
from voicelist.errors import UsageError
from voicelist.review import parquet
from voicelist.review.asking import ReviewAnswer, answer, day_of, question_named
from voicelist.review.engine import ReviewSource, WantedCases, chosen, source_of
from voicelist.review.intervals import wilson
from voicelist.review.questions import GROUPS, QUESTIONS
from voicelist.review.walk import walk

__all__ = ["voicelist"]

EVERY = cases(60)


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> ReviewSource:
    folder = tmp_path_factory.mktemp("tables")
    for start in (0, 30):
        parquet.add(folder, EVERY[start : start + 30])
    return source_of(str(folder), practice=False)


def ask(source: ReviewSource, name: str, by: str | None = None, at_least: int = 1) -> ReviewAnswer:
    return answer(question_named(name), chosen(source, WantedCases()), by, at_least)


def table_of(found: ReviewAnswer) -> list[dict[str, Any]]:
    return [dict(zip(found.names, row, strict=True)) for row in found.rows]


def quantile(values: list[float | None], share: float) -> Any:
    """Between two values in proportion; to the millisecond, whichever way a tie is rounded."""
    some = [one for one in values if one is not None]
    return pytest.approx(float(np.quantile(some, share)), abs=0.00051) if some else None


@pytest.mark.parametrize("by", ["item", "week", "theatre", "checklist", "role"])
def test_time_by_every_group(source: ReviewSource, by: str) -> None:
    due = [row for row in rows_of(EVERY, "items") if row["due"] and row["calls"]]
    reckoned = grouped(due, *GROUPS[by])
    found = table_of(ask(source, "time", by))
    assert [tuple(row[name] for name in GROUPS[by]) for row in found] == list(reckoned)
    for row, (_, rows) in zip(found, reckoned.items(), strict=True):
        assert row["cases"] == len({one["head"] for one in rows})
        for name in ("call_to_answer_s", "wait_s", "held_s"):
            values = [one[name] for one in rows]
            assert row[f"{name}_median"] == quantile(values, 0.5)
            assert row[f"{name}_p90"] == quantile(values, 0.9)


def test_answers_asked_again_by_role(source: ReviewSource) -> None:
    said = [
        row
        for row in rows_of(EVERY, "utterances")
        if row["status"] in ("understood", "not-understood") and row["item"]
    ]
    reckoned = grouped(said, "role")
    found = table_of(ask(source, "asked-again", "role"))
    assert len(found) == len(reckoned) == 2
    for row, rows in zip(found, reckoned.values(), strict=True):
        again = sum(one["asked_again"] for one in rows)
        assert (row["utterances"], row["asked_again"]) == (len(rows), again)
        exact = binomtest(again, len(rows)).proportion_ci(0.95, method="wilson")
        assert row["from_percent"] == round(100 * exact.low, 1)
        assert row["to_percent"] == round(100 * exact.high, 1)


def test_mismatches_by_rule_and_outcome(source: ReviewSource) -> None:
    rows = rows_of(EVERY, "mismatches")
    (row,) = table_of(ask(source, "mismatches"))
    assert (row["rule"], row["severity"]) == ("plan-eye", "stop")
    assert row["mismatches"] == len(rows) > 5
    for outcome in ("settled", "open"):
        assert row[outcome] == sum(one["outcome"] == outcome for one in rows)


def test_stop_items_reported_prompts_and_what_was_left(source: ReviewSource) -> None:
    items = [row for row in rows_of(EVERY, "items") if row["due"]]
    for row in table_of(ask(source, "reported")):
        rows = [one for one in items if one["item"] == row["item"] and one["calls"]]
        assert all(one["stop"] for one in rows)
        assert row["asked"] == len(rows)
        assert row["reported"] == sum(one["faults"] > 0 for one in rows)
    prompted = table_of(ask(source, "prompts", "theatre"))
    assert sum(row["prompts"] for row in prompted) == sum(one["prompts"] for one in items) > 0
    left = table_of(ask(source, "left", "checklist"))
    assert left[0]["left_for_later"] == sum(one["deferred"] > 0 for one in items) > 0
    assert left[0]["not_asked"] == sum(one["status"] == "not-asked" for one in items) > 0


def test_sections_time_out_and_versions(source: ReviewSource) -> None:
    rows = rows_of(EVERY, "cases")
    closed = [row for row in rows_of(EVERY, "milestones") if row["kind"] == "section-closed"]
    for row in table_of(ask(source, "sections")):
        values = [one["lasted_s"] for one in closed if one["name"] == row["section"]]
        assert row["lasted_s_median"] == quantile(values, 0.5)
    out = table_of(ask(source, "time-out", "theatre"))
    told = [row for row in rows if row["answered_before_incision"] is not None]
    assert sum(row["incision_told"] for row in out) == len(told)
    assert 0 < len(told) < len(rows)
    assert sum(row["items_answered_before"] for row in out) == sum(
        row["answered_before_incision"] for row in told
    )
    (change,) = table_of(ask(source, "change"))
    assert (change["first_day"], change["cases"]) == ("2031-03-04", 60)
    assert change["duration_s_median"] == quantile([row["duration_s"] for row in rows], 0.5)


def test_wordings_are_shown_where_several_cases_have_them(source: ReviewSource) -> None:
    said = [row for row in rows_of(EVERY, "utterances") if row["status"] == "not-understood"]
    reckoned = grouped(said, "section", "item", "words")
    enough = {key for key, rows in reckoned.items() if len({one["head"] for one in rows}) >= 3}
    found = ask(source, "wordings")
    assert {(row["section"], row["item"], row["words"]) for row in table_of(found)} == enough
    assert found.withheld == len(reckoned) - len(enough)


def test_talk_before_an_utterance_makes_a_group_of_its_own(source: ReviewSource) -> None:
    (row,) = table_of(ask(source, "talk", "checklist"))
    assert row["talk"] == "no talk before"


def test_small_groups_are_withheld_and_told(source: ReviewSource) -> None:
    found = ask(source, "time", "week", at_least=8)
    assert found.rows == ()
    weeks = {row["week"] for row in rows_of(EVERY, "cases")}
    assert found.withheld == len(weeks)
    assert f"{len(weeks)} groups of fewer than 8 cases not shown." == found.note


@pytest.mark.parametrize("name", QUESTIONS)
def test_every_question_can_be_asked_by_each_of_its_groups(source: ReviewSource, name: str) -> None:
    for by in QUESTIONS[name].by:
        found = ask(source, name, by)
        assert "cases" in found.names
        assert found.names[0] == GROUPS[by][0]
        keys = [row[: len(GROUPS[by])] for row in found.rows]
        if name not in {"change", "wordings"}:
            assert keys == sorted(keys), "in the order of names, never of results"


def test_a_group_that_does_not_fit_is_refused(source: ReviewSource) -> None:
    with pytest.raises(UsageError, match="time-out cannot be asked by role: choose one of week"):
        ask(source, "time-out", "role")
    with pytest.raises(UsageError, match="There is no question who: choose one of time"):
        question_named("who")
    with pytest.raises(UsageError, match="is no date"):
        day_of("yesterday")


def test_a_case_that_was_exported_again_counts_once(tmp_path: Path) -> None:
    """It went on after the first export: more events, another head."""
    from tests.review.made_cases import entries_of
    from voicelist.review.projection import project

    entries = entries_of(morning())
    parquet.add(tmp_path, [project(entries[:-3])])
    parquet.add(tmp_path, [project(entries)])
    tables = chosen(source_of(str(tmp_path), practice=False), WantedCases())
    assert tables["cases"].to_pyarrow()["head"].to_pylist() == [entries[-1].hash]
    assert set(tables["items"].to_pyarrow()["head"].to_pylist()) == {entries[-1].hash}


def test_a_folder_without_any_mismatch_is_reviewed_all_the_same(
    voicelist: Command, tmp_path: Path
) -> None:
    from tests.review.made_cases import entries_of
    from voicelist.review.projection import project

    quiet = [pair for pair in morning() if pair[1].kind != "read-back"]
    parquet.add(tmp_path / "in", [project(entries_of(quiet))])
    assert not (tmp_path / "in" / "mismatches").exists()
    answer = voicelist("review", str(tmp_path / "in"), "-o", str(tmp_path / "out"))
    assert answer.code == 0, answer.text


@pytest.mark.parametrize(("count", "of"), [(0, 7), (7, 7), (3, 10), (81, 263)])
def test_intervals_are_those_of_a_reference_library(count: int, of: int) -> None:
    exact = binomtest(count, of).proportion_ci(0.95, method="wilson")
    assert wilson(count, of) == pytest.approx((exact.low, exact.high), abs=1e-12)


def test_no_proportion_is_made_of_what_is_none() -> None:
    with pytest.raises(ValueError, match="3 of 2"):
        wilson(3, 2)


def test_a_store_and_a_folder_give_the_same_answers(voicelist: Command, tmp_path: Path) -> None:
    file, folder = tmp_path / "records.sqlite3", tmp_path / "tables"
    stored(file, [(f"case-{number}", morning()) for number in range(4)])
    store = f"sqlite:///{file}"
    voicelist(
        "record", "export", "--all", "--format", "parquet", "-o", str(folder), "--store", store
    )
    by_store = voicelist("review", store, "--at-least", "2")
    by_folder = voicelist("review", str(folder), "--at-least", "2")
    assert (by_store.code, by_folder.code) == (0, 0)
    assert by_store.out.splitlines()[1:] == by_folder.out.splitlines()[1:]
    assert "irrigation-line" in by_store.out
    assert "nothing is ranked" in by_store.out


def test_what_nobody_can_review_is_a_sentence(voicelist: Command, tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite3"
    stored(file, [("case-1", morning())])
    store = f"sqlite:///{file}"
    empty = voicelist("review")
    assert (empty.code, "holds no records" in empty.err) == (1, True)
    nowhere = voicelist("review", "nowhere")
    assert (nowhere.code, "no store or folder nowhere" in nowhere.err) == (2, True)
    nobody = voicelist("review", store, "--by", "person")
    assert (nobody.code, "Nothing goes by person: choose one of week" in nobody.err) == (2, True)
    nothing = voicelist("review", str(tmp_path))
    assert (nothing.code, "holds no tables" in nothing.err) == (1, True)
    real = voicelist("review", store, "--practice")
    assert (real.code, "1 are real: review them without --practice" in real.err) == (1, True)
    late = voicelist("review", store, "--since", "2031-03-05")
    assert (late.code, "No case" in late.err) == (1, True)
    text = tmp_path / "text.sqlite3"
    text.write_text("no database")
    broken = voicelist("review", str(text))
    assert (broken.code, "cannot be read" in broken.err) == (1, True)


def test_a_tampered_case_is_named_and_never_counted(voicelist: Command, tmp_path: Path) -> None:
    import sqlite3

    file = tmp_path / "records.sqlite3"
    stored(file, [(f"case-{number}", morning()) for number in range(3)])
    with sqlite3.connect(file) as raw:
        raw.execute("UPDATE journal SET mono_ms = 5 WHERE \"case\" = 'case-1' AND seq = 7")
    answer = voicelist("review", str(file), "--at-least", "1", "--ask", "change")
    assert answer.code == 1
    assert "Review of 2 cases" in answer.out
    assert "Not counted: case-1. It does not verify. Event 7" in answer.err


def test_the_walk_needs_no_events() -> None:
    assert walk(()).utterances == []
