"""How far a rule may be trusted stands where its finding is shown: terminal, report, assessment.
One hash for many records. What `devices` says of the room."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.command import GRAMMARS, PLAN, Command, voicelist
from tests.session.talk import WHOLE_CASE
from voicelist.clinical.room import room_words

__all__ = ["voicelist"]

TAG = "project choice: a card is the surgeon's own decision"
SLIP = [
    *WHOLE_CASE[:14],
    "power forty vacuum five hundred flow thirty two pulses thirty",
    "vacuum three fifty",
    *WHOLE_CASE[15:],
]


def run(voicelist: Command, plan: Path, lines: list[str]) -> str:
    answer = voicelist("run", plan, "--typed", "--voice", "none", typed="\n".join(lines) + "\n")
    assert answer.code == 0, answer.text
    return " ".join(answer.out.split())


def test_a_running_case_shows_what_to_do_and_how_far_the_rule_may_be_trusted(
    voicelist: Command,
) -> None:
    told = run(voicelist, PLAN, SLIP)
    remedy = "Say the value again, or let the surgeon accept it with a reason."
    assert f"({remedy} Rule: project choice.)" in told


@pytest.mark.parametrize("form", ["text", "html", "csv", "json"])
def test_every_export_says_how_far_the_rule_of_a_mismatch_may_be_trusted(
    voicelist: Command, tmp_path: Path, form: str
) -> None:
    run(voicelist, PLAN, SLIP)
    out = tmp_path / f"case.{form}"
    voicelist("record", "export", "practice-007", "--format", form, "-o", out)
    page = " ".join(out.read_text(encoding="utf-8").replace("&#39;", "'").split())
    assert TAG in page


def test_a_case_without_a_mismatch_shows_no_rule(voicelist: Command) -> None:
    assert "Say the value again" not in run(voicelist, PLAN, list(WHOLE_CASE))


def test_an_assessment_shows_the_tag_and_programs_get_the_keys_that_they_know(
    voicelist: Command,
) -> None:
    words = ("assess", "vacuum 500", "--card", GRAMMARS / "cards" / "demo-surgeon.yaml")
    grade = ("--grade", "clinical 3")
    assert TAG in voicelist(*words, *grade).out
    (finding,) = json.loads(voicelist(*words, *grade, "--json").out)["findings"]
    assert list(finding) == [
        "rule",
        "severity",
        "quantity",
        "heard",
        "expected",
        "unit",
        "sentence",
    ]


def one_hash(voicelist: Command, *more: object) -> str:
    told = voicelist("record", "list", *more).out
    (found,) = re.findall(r"One hash for these \d+: ([0-9a-f ]+)", told)
    return str(found)


def test_one_hash_stands_for_the_records_of_a_day_and_later_cases_do_not_move_it(
    voicelist: Command,
) -> None:
    run(voicelist, PLAN, list(WHOLE_CASE))
    run(voicelist, GRAMMARS / "plans" / "practice-008.yaml", ["irrigation line firm"])
    kept = one_hash(voicelist)
    run(voicelist, GRAMMARS / "plans" / "practice-009.yaml", ["irrigation line firm"])
    assert one_hash(voicelist) != kept
    assert one_hash(voicelist, "--oldest", 2) == kept
    entry = ("practice-007", "the label is on paper", "--reason", "late", "--role", "team-lead")
    assert voicelist("record", "amend", *entry).code == 0
    assert one_hash(voicelist, "--oldest", 2) != kept


def test_devices_says_what_nearness_is_worth(voicelist: Command) -> None:
    told = voicelist("devices").out
    assert "at 5 cm a microphone gets 26 dB more of a voice than at 1 m (derived" in told


@pytest.mark.parametrize(
    ("index", "band", "advised"), [(0.59, "fair", True), (0.60, "good", False)]
)
def test_below_a_good_index_of_speech_each_role_wants_a_microphone(
    index: float, band: str, advised: bool
) -> None:
    """Bands of a page on the speech transmission index; what to do is a project choice."""
    told = room_words(index)
    assert f"Speech in this room: {band}" in told
    assert ("a microphone of its own" in told) == advised


def test_an_index_beyond_its_scale_is_refused(voicelist: Command) -> None:
    assert voicelist("devices", "--speech-index", 1.2).code == 2
