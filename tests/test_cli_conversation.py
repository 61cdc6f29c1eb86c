"""Late entries, turnovers, second eyes, quiet cases: as a user meets them on the command line."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.command import GRAMMARS, Command, voicelist
from tests.session.talk import WHOLE_CASE
from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.record.store import Reader
from voicelist.session.records import from_body
from voicelist.session.state import replay

__all__ = ["voicelist"]

AMEND = ("--reason", "it was read afterwards", "--role", "team-lead")


def plan_of(code: str) -> Path:
    return GRAMMARS / "plans" / f"{code}.yaml"


def lines_of(plan: str) -> str:
    """What a team without a slip says in the whole case."""
    room = Room(case_of(plan))
    lines = []
    while not room.state.closed:
        lines.append(right_line(room.case, room.state))
        room.says(lines[-1])
    return "\n".join(lines) + "\n"


def typed(voicelist: Command, plan: str, lines: str, *more: object) -> str:
    answer = voicelist("run", plan_of(plan), "--typed", "--voice", "none", *more, typed=lines)
    assert answer.code == 0, answer.text
    return answer.out


def exported(voicelist: Command, case: str, form: str, folder: Path) -> str:
    target = folder / f"{case}.{form}"
    assert voicelist("record", "export", case, "--format", form, "-o", target).code == 0
    return target.read_text(encoding="utf-8-sig")


def test_a_late_entry_is_chained_and_shown_apart_in_every_export(
    voicelist: Command, tmp_path: Path
) -> None:
    typed(voicelist, "practice-007", "\n".join(WHOLE_CASE) + "\n")
    before = voicelist("record", "verify", "practice-007").out.split()[-1]
    text = "the lens label is in the paper record"
    done = voicelist("record", "amend", "practice-007", text, *AMEND, "--item", "lens-power")
    assert done.code == 0, done.text
    head = done.out.split()[-1]
    assert head != before
    assert voicelist("record", "verify", "practice-007", "--head", head).code == 0
    old_head = voicelist("record", "verify", "practice-007", "--head", before)
    assert old_head.code == 0
    assert "1 late entry came since" in old_head.out
    shown = voicelist("record", "show", "practice-007").out
    assert shown.index("ENTERED LATE") > shown.index("SIGN OUT")
    assert text in " ".join(shown.split())
    told = json.loads(exported(voicelist, "practice-007", "json", tmp_path))
    (entry,) = told["late_entries"]
    assert (entry["text"], entry["role"], entry["item"]) == (text, "team-lead", "lens-power")
    rows = list(csv.DictReader(io.StringIO(exported(voicelist, "practice-007", "csv", tmp_path))))
    assert [row["section"] for row in rows].count("late entry") == 1
    assert rows[-1]["item"] == "lens-power"
    html = exported(voicelist, "practice-007", "html", tmp_path)
    assert html.index('id="late-entries"') > html.index("Sign out")
    assert text in html
    exported(voicelist, "practice-007", "journal", tmp_path)
    journal = tmp_path / "practice-007.journal"
    assert voicelist("record", "verify", journal, "--head", head).code == 0


def test_a_late_entry_changes_no_answer(voicelist: Command) -> None:
    typed(voicelist, "practice-007", "\n".join(WHOLE_CASE) + "\n")
    records = [from_body(one.kind, one.body) for one in Reader().entries("practice-007")]
    voicelist("record", "amend", "practice-007", "bottle was low", *AMEND, "--item", "bottle")
    after = [from_body(one.kind, one.body) for one in Reader().entries("practice-007")]
    assert len(after) == len(records) + 1
    assert replay(after) == replay(records)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("nobody-1", "text", *AMEND), 1, "There is no case nobody-1"),
        (("practice-007", "text", "--reason", "why", "--role", "visitor"), 2, "no role visitor"),
        (("practice-007", "", *AMEND), 2, "The entry has to be"),
        (("practice-007", "a\nb", *AMEND), 2, "The entry has to be"),
        (("practice-007", "text", "--reason", " ", "--role", "surgeon"), 2, "The reason has to be"),
        (("practice-007", "text", *AMEND, "--item", "nothing"), 2, "no item nothing"),
    ],
)
def test_a_late_entry_that_cannot_be_leaves_the_record_as_it_was(
    voicelist: Command, arguments: tuple[str, ...], code: int, words: str
) -> None:
    typed(voicelist, "practice-007", "\n".join(WHOLE_CASE) + "\n")
    before = voicelist("record", "list", "--json").out
    answer = voicelist("record", "amend", *arguments)
    assert answer.code == code
    assert words in answer.err
    assert voicelist("record", "list", "--json").out == before


def test_a_stopped_case_takes_late_entries_and_is_gone_on_with_afterwards(
    voicelist: Command,
) -> None:
    typed(voicelist, "practice-007", "\n".join(WHOLE_CASE[:5]) + "\n")
    assert voicelist("record", "amend", "practice-007", "paper took over", *AMEND).code == 0
    assert voicelist("record", "amend", "practice-007", "for ten minutes", *AMEND).code == 0
    rest = "\n".join(WHOLE_CASE[5:]) + "\n"
    resumed = voicelist("resume", "practice-007", "--typed", "--voice", "none", typed=rest)
    assert "practice-007: completed" in resumed.out
    assert voicelist("record", "verify", "practice-007").code == 0
    shown = voicelist("record", "show", "practice-007").out
    assert "paper took over" in shown
    assert "for ten minutes" in shown


def test_a_turnover_shows_when_and_in_which_record_the_set_up_was_taken(
    voicelist: Command, tmp_path: Path
) -> None:
    alone = typed(voicelist, "practice-102", "")
    assert "The day's set-up: no record of it was found." in alone
    assert "Taken or missing: today's set-up?" in alone
    store = ("--store", f"sqlite:///{tmp_path / 'again.sqlite3'}")
    typed(voicelist, "practice-101", lines_of("practice-101"), *store)
    told = typed(voicelist, "practice-102", lines_of("practice-102"), *store)
    assert "The day's set-up: taken at" in told
    assert "record practice-101" in told
    assert "practice-102: completed" in told
    shown = voicelist("record", "show", "practice-102", *store).out
    assert "Day's set-up: taken at" in shown
    assert "practice-101" in shown


def test_a_set_up_that_is_not_whole_does_not_count(voicelist: Command) -> None:
    typed(voicelist, "practice-101", "machine power on\nvent and valves free\n")
    told = typed(voicelist, "practice-102", "")
    assert "no record of it was found" in told


def test_the_second_eye_may_not_be_the_first_one_again(voicelist: Command, tmp_path: Path) -> None:
    typed(voicelist, "practice-101", "machine power on\n")
    told = typed(voicelist, "practice-103", "")
    assert "Second eye: nothing about eye, lens or axis carries over." in told
    shown = voicelist("record", "show", "practice-103").out
    assert "Second eye of: practice-101; nothing carried over" in shown
    same = tmp_path / "plans" / "same-eye.yaml"
    same.parent.mkdir()
    text = plan_of("practice-103").read_text(encoding="utf-8")
    text = text.replace("case: practice-103", "case: same-eye-7").replace("eye: left", "eye: right")
    same.write_text(text, encoding="utf-8")
    refused = voicelist("run", same, "--typed", "--voice", "none", typed="")
    assert refused.code == 1
    assert "names the right eye; so did practice-101" in refused.err
    assert "same-eye" not in voicelist("record", "list", "--json").out


def test_a_quiet_case_shows_its_read_backs(voicelist: Command) -> None:
    lines = "clinical grade four\nclinical grade three\n"
    told = typed(voicelist, "practice-007", lines, "--from", "settings", "--quiet")
    assert "on display  I heard 4 clinical." in told
    shown = voicelist("record", "show", "practice-007").out
    assert "Read-backs: on the display alone" in shown
    assert "Begun at: settings; earlier sections not asked" in shown


def test_the_plan_may_make_a_case_quiet(voicelist: Command, tmp_path: Path) -> None:
    plans = tmp_path / "plans"
    plans.mkdir()
    plan = plans / "local.yaml"
    plan.write_text(plan_of("practice-007").read_text(encoding="utf-8") + "quiet: true\n")
    begin = ("--typed", "--voice", "none", "--from", "settings")
    told = voicelist("run", plan, *begin, typed="clinical grade four\n")
    assert "on display  I heard 4 clinical." in told.out


def test_a_change_of_plan_heads_the_record_in_every_export(
    voicelist: Command, tmp_path: Path
) -> None:
    lines = (
        "change of plan eye right from the consent form\nsurgeon agrees to the change\n"
        "nurse agrees to the change\nnurse handing over\nmarked eye right\n"
    )
    typed(voicelist, "practice-007", lines, "--from", "time-out")
    shown = " ".join(voicelist("record", "show", "practice-007").out.split())
    words = "eye: left to right, read from the consent form, agreed by surgeon"
    assert shown.index("CHANGE OF PLAN") < shown.index(words) < shown.index("FIRST TO BE READ")
    assert "circulating nurse handed over" in shown
    told = json.loads(exported(voicelist, "practice-007", "json", tmp_path))
    assert told["plan_changes"][0]["words"].startswith(words)
    rows = list(csv.DictReader(io.StringIO(exported(voicelist, "practice-007", "csv", tmp_path))))
    assert rows[0]["section"] == "change of plan"
    html = exported(voicelist, "practice-007", "html", tmp_path)
    assert html.index('id="plan-changes"') < html.index('id="attention"')
    assert voicelist("record", "verify", "practice-007").code == 0
