"""Practice as a user meets it, typed: a bad phrase is found, nothing stands among real cases."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.command import CHECKLIST, PLAN, Command, voicelist
from voicelist.errors import VoicelistError
from voicelist.record.store import Store
from voicelist.record.writer import Writer
from voicelist.session.records import Opened

__all__ = ["voicelist"]

# Common practice, no source: invented. The call does not invite what the first item permits.
BAD = """\
format: 1
language: en-US
id: tried
title: A list with a bad phrase
sections:
  - id: lines
    name: the lines
    order: fixed
    items:
      - id: irrigation-line
        answered by: [circulating-nurse]
        call: "Firm or loose: the irrigation line?"
        done: conduit patent and coupled
        fault: irrigation line (loose | leaking)
        stop: true
        why: A loose line lets the eye go soft.
      - id: bottle
        answered by: [scrub-nurse]
        call: "Full or low: the infusion bottle?"
        thing: infusion bottle
        good: full
        bad: low
        why: Inflow must exceed outflow at all times.
"""


@pytest.fixture
def bad_list(tmp_path: Path) -> Path:
    file = tmp_path / "site" / "checklists" / "tried.yaml"
    file.parent.mkdir(parents=True)
    file.write_text(BAD, encoding="utf-8")
    return file


def part(text: str, title: str) -> str:
    """What stands below a heading of the result."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=\n\n|\Z)", text, re.M | re.S)
    assert found is not None, text
    return found[1]


def rehearse(voicelist: Command, document: Path, *more: str, typed: str = "") -> tuple[int, str]:
    answer = voicelist("rehearse", document, "--typed", "--voice", "none", *more, typed=typed)
    return answer.code, answer.text


def test_a_bad_phrase_is_found_and_what_is_proposed_is_understood(
    voicelist: Command, bad_list: Path
) -> None:
    code, told = rehearse(voicelist, bad_list, "--play", "everyone")
    assert code == 0
    say = part(told, "Say it like this")
    assert "the irrigation line is firm (nurse)" in say
    assert "conduit patent and coupled" in say
    assert "bottle" not in say
    proposed = part(told, "What the list could permit besides")
    for line in ('thing: "irrigation line"', 'good: "firm"', 'bad: "loose"'):
        assert line in proposed
    # Whoever keeps the list takes the proposal up.
    kept = '        thing: "irrigation line"\n        good: "firm"\n        bad: "loose"\n'
    bad_list.write_text(BAD.replace("        stop: true\n", f"{kept}        stop: true\n", 1))
    code, told = rehearse(voicelist, bad_list, "--play", "everyone")
    assert (code, part(told, "Say it like this")) == (0, "All that was said was understood.")


def test_a_rehearsal_that_is_broken_off_is_told_and_leaves_no_real_case(
    voicelist: Command, bad_list: Path
) -> None:
    """The partner plays the scrub nurse; the nurse answers once, and then nobody does."""
    code, told = rehearse(voicelist, bad_list, "--play", "scrub nurse", typed="not yet sure\n")
    assert code == 1
    assert "held: broken off" in told
    assert json.loads(voicelist("record", "list", "--json").out) == []
    (kept,) = json.loads(voicelist("record", "list", "--practice", "--json").out)
    assert (kept["case"], kept["source"], kept["state"]) == (
        "rehearsal-tried",
        "practice",
        "stopped",
    )
    assert voicelist("record", "verify", "rehearsal-tried", "--practice").code == 0
    shown = voicelist("record", "show", "rehearsal-tried", "--practice").out
    assert "PRACTICE" in shown
    assert voicelist("resume", "rehearsal-tried", "--typed").code == 1  # no real case


def test_the_real_store_takes_no_rehearsal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    writer: Writer = Store(None).open_case("rehearsal-tried")
    with pytest.raises(VoicelistError):
        writer.append(Opened("practice", "1", {}, None))
    writer.close()
    assert Store(None).codes() == ()


def test_the_page_stands_alone_says_practice_and_is_safe_to_open(
    voicelist: Command, bad_list: Path, tmp_path: Path
) -> None:
    bad_list.write_text(BAD.replace("A list with", "A <script>list</script> & with"))
    page_file = tmp_path / "wall.html"
    code, _ = rehearse(voicelist, bad_list, "--play", "everyone", "-o", str(page_file))
    page = page_file.read_text(encoding="utf-8")
    assert code == 0
    assert "PRACTICE: no record of a case" in page
    assert "<script" not in page
    assert "A &lt;script&gt;list&lt;/script&gt; &amp; with" in page
    assert not re.search(r"(?:src|href)=|https?://|@import|url\(", page)
    assert str(tmp_path) not in page  # no folder of this computer, no user's name
    assert "size: A4" in page
    assert "not a medical device" in page


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--play", "cook"), "choose nurse, scrub nurse, surgeon"),
        (("--play", "surgeon"), "play another role"),
    ],
)
def test_a_role_that_has_nothing_to_answer_is_refused_before_anything_is_kept(
    voicelist: Command, bad_list: Path, options: tuple[str, ...], told: str
) -> None:
    code, text = rehearse(voicelist, bad_list, *options)
    assert code == 2
    assert told in text
    assert json.loads(voicelist("record", "list", "--practice", "--json").out) == []


def test_a_plan_and_a_checklist_are_rehearsed_and_nothing_else(
    voicelist: Command, tmp_path: Path
) -> None:
    code, text = rehearse(voicelist, CHECKLIST.parents[1] / "cards" / "demo-surgeon.yaml")
    assert (code, "is no checklist and no plan" in text) == (2, True)
    code, text = rehearse(voicelist, PLAN, "--play", "surgeon", typed="irrigation line firm\n")
    assert (code, "held: broken off" in text) == (1, True)


def test_practice_with_the_pedal_is_scored_and_drawn_and_may_end_early(
    voicelist: Command, tmp_path: Path
) -> None:
    page_file = tmp_path / "pedal.html"
    lines = "irrigation only\nlinear\nfixed\nhelp\nsomething else\n"
    options = ("--typed", "--voice", "none", "--phase", "chop", "--questions", "6")
    answer = voicelist("practise", "pedal", *options, "-o", page_file, typed=lines)
    assert answer.code == 0
    assert re.search(r"asked: \d of 6: ended early", answer.out)
    assert "Travel of the pedal in chop" in answer.out
    assert "0 to 40 %, linear" in answer.out
    page = page_file.read_text(encoding="utf-8")
    assert "<svg" in page
    assert "What the pedal gives: chop" in page
    for practice in ((), ("--practice",)):
        assert json.loads(voicelist("record", "list", *practice, "--json").out) == []


def test_practice_with_settings_reads_the_case_and_explains_what_does_not_fit(
    voicelist: Command,
) -> None:
    lines = "power 60 vacuum 70 flow 24\nvacuum 70\npower 40 vacuum 360 flow 32\n"
    answer = voicelist("practise", "settings", "--typed", "--voice", "none", typed=lines)
    assert answer.code == 0
    assert "Eye: left. Grade: 3 clinical." in answer.out
    assert "asked: 2 of 7: ended early" in answer.out
    again = part(answer.out, "To look at again")
    assert "Vacuum is 70; the card says 360." in again
    assert "[project choice:" in again
    # Nothing gives an expected value before the first answer.
    assert "360" not in answer.out[: answer.out.index("Vacuum is 70")]


def test_a_plan_without_a_grade_has_no_settings_to_practise(voicelist: Command) -> None:
    plan = PLAN.with_name("practice-301.yaml")
    answer = voicelist("practise", "settings", plan, "--typed", "--voice", "none")
    assert answer.code == 2
    assert "no grade" in answer.text


def test_a_fast_rehearsal_has_nobody_else_who_would_have_to_hear_the_partner(
    voicelist: Command, bad_list: Path
) -> None:
    code, text = rehearse(voicelist, bad_list, "--play", "nurse", "--fast")
    assert (code, "--play everyone" in text) == (2, True)
