"""Proposals of wordings from records of typed cases. What is said is invented; that nothing is
proposed from a denial, a question or a doubt is the design's rule."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
import yaml

from tests.command import PLAN, Command, voicelist
from tests.session.talk import WHOLE_CASE, shipped_bundle
from voicelist.authoring.wordings import Proposal, as_lines, proposed
from voicelist.grammar.ruleset import RuleSet
from voicelist.session.natural import Natural

__all__ = ["voicelist"]


def a_case(voicelist: Command, *said: str, plan: Path = PLAN) -> None:
    """A whole case, its first item answered in these words before the permitted ones."""
    lines = "\n".join((*said, *WHOLE_CASE)) + "\n"
    answer = voicelist("run", plan, "--typed", "--voice", "none", typed=lines)
    assert answer.code == 0, answer.err


def found(voicelist: Command, *options: str) -> list[tuple[str, str, str, int, int]]:
    answer = voicelist("record", "wordings", "--json", *options)
    assert answer.code == 0
    every = json.loads(answer.out)
    return [(one["item"], one["key"], one["words"], one["times"], one["cases"]) for one in every]


def test_what_was_said_otherwise_is_proposed_with_counts_over_cases(
    voicelist: Command, tmp_path: Path
) -> None:
    other = tmp_path / "again.yaml"
    other.write_text(PLAN.read_text().replace("case: practice-007", "case: again-007"))
    a_case(voicelist, "the irrigation line is bulletproof", "irrigation line bulletproof")
    a_case(voicelist, "irrigation line is bulletproof now thanks", plan=other)
    assert found(voicelist) == [("irrigation-line", "good", "bulletproof", 3, 2)]
    assert found(voicelist, "--at-least", "4") == []


def test_the_lines_can_be_pasted_into_the_checklist(voicelist: Command) -> None:
    a_case(voicelist, "the irrigation line is bulletproof")
    answer = voicelist("record", "wordings")
    pasted = yaml.safe_load(answer.out)
    assert list(pasted) == ["good"]
    *before, new = pasted["good"].split(" | ")
    assert new == "bulletproof"
    items = {item.id: item for _, item in shipped_bundle().checklist.all_items()}
    assert " | ".join(before) == items["irrigation-line"].good
    assert "# phaco: irrigation-line" in answer.out
    assert "bulletproof: once in 1 case" in answer.out


def test_a_record_that_does_not_verify_is_left_out_unless_it_is_asked_for(
    voicelist: Command, tmp_path: Path
) -> None:
    a_case(voicelist, "the irrigation line is bulletproof")
    with sqlite3.connect(tmp_path / "data" / "voicelist" / "records.sqlite3") as connection:
        connection.execute("UPDATE journal SET mono_ms = mono_ms + 1 WHERE seq = 4")
    connection.close()
    answer = voicelist("record", "wordings", "--json")
    assert json.loads(answer.out) == []
    assert "do not verify: 1" in answer.err
    assert len(found(voicelist, "--unverified")) == 1


def test_of_a_denial_or_another_item_nothing_is_proposed(voicelist: Command) -> None:
    a_case(voicelist, "the irrigation line is not bulletproof", "no", "yes")
    assert found(voicelist) == []


def test_what_was_reported_in_between_was_mended_and_is_not_proposed(voicelist: Command) -> None:
    a_case(voicelist, "the irrigation line is bulletproof", "irrigation line not firm", "no")
    assert found(voicelist) == []


@pytest.fixture(scope="module")
def natural() -> Natural:
    bundle = shipped_bundle()
    items = {item.id: item for _, item in bundle.checklist.all_items()}
    return Natural(items, RuleSet.from_texts(bundle.rules.items()), {})


@pytest.mark.parametrize(
    ("item", "key", "words", "expected"),
    [
        ("irrigation-line", "good", "the irrigation line is bulletproof", ("good", "bulletproof")),
        ("irrigation-line", "good", "it is really bulletproof now", ("good", "bulletproof")),
        ("irrigation-line", "good", "bulletproof", ("good", "bulletproof")),
        ("irrigation-line", "good", "the fat hose is firm", ("thing", "fat hose")),
        ("irrigation-line", "bad", "the irrigation line is floppy", ("bad", "floppy")),
        ("irrigation-line", "good", "the irrigation line is firm", None),
        ("irrigation-line", "good", "is the irrigation line bulletproof", None),
        ("irrigation-line", "good", "the irrigation line is not bulletproof", None),
        ("irrigation-line", "bad", "the irrigation line is not bulletproof", None),
        ("irrigation-line", "good", "irrigation line maybe bulletproof", None),
        ("irrigation-line", "good", "the irrigation line will be bulletproof", None),
        ("irrigation-line", "good", "she said the irrigation line is bulletproof", None),
        ("irrigation-line", "good", "yes", None),
        ("irrigation-line", "good", "the irrigation line is loose", None),
        ("irrigation-line", "bad", "the irrigation line is tight", None),
        ("irrigation-line", "good", "the aspiration line is bulletproof", None),
        ("irrigation-line", "good", "the aspiration line", None),
        ("irrigation-line", "good", "all of it has a leak", None),
        ("irrigation-line", "good", "the two of us went home after a long long day", None),
        ("irrigation-line", "good", "now", None),
    ],
)
def test_which_words_are_new(
    natural: Natural, item: str, key: str, words: str, expected: tuple[str, str] | None
) -> None:
    new = proposed(natural, item, key, tuple(words.split()))
    assert (None if new is None else (new[0], " ".join(new[1]))) == expected


def test_a_key_that_the_checklist_lacks_is_written_whole() -> None:
    lines = as_lines([Proposal("phaco", "tip", "bad", "floppy", 2, 2, "")])
    assert lines == ["# phaco: tip", "#   floppy: 2 times in 2 cases", 'bad: "floppy"']
