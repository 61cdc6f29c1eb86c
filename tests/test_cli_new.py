"""New checklists and plans on the command line, and all that may be said."""

from __future__ import annotations

import io
import re
import shlex
from pathlib import Path

import pytest
import yaml
from rich.console import Console

from tests.command import CHECKLIST, GRAMMARS, Command, voicelist
from voicelist import progress
from voicelist.documents.loading import load_checklist, load_plan

__all__ = ["voicelist"]

PAGE = Path(__file__).resolve().parents[1] / "docs" / "authoring.md"


@pytest.fixture
def room(tmp_path: Path) -> Path:
    for name in ("checklists", "plans"):
        (tmp_path / "room" / name).mkdir(parents=True)
    return tmp_path / "room"


def test_new_documents_pass_the_check_as_they_are(voicelist: Command, room: Path) -> None:
    target = room / "checklists" / "ours.yaml"
    made = voicelist("checklist", "new", "-o", target)
    assert (made.code, str(target) in made.out) == (0, True), made.text
    plan = room / "plans" / "room-12.yaml"
    made = voicelist("plan", "new", "-o", plan, "--checklist", "ours")
    assert (made.code, str(plan) in made.out) == (0, True), made.text
    checked = voicelist("check", room)
    assert (checked.code, checked.out.strip()) == (0, "No problems."), checked.text
    items = [item for _, item in load_checklist(target).document.all_items()]
    assert [item.id for item in items][-1] == "case-number"
    written = yaml.safe_load(target.read_text(encoding="utf-8"))["sections"][0]["items"]
    assert all({"thing", "good", "bad"} <= set(item) and "done" not in item for item in written)
    assert load_plan(plan).document.eye is None


def test_the_commands_of_the_page_do_what_it_says(
    voicelist: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (block,) = re.findall(r"^```sh\n(.*?)^```$", PAGE.read_text(encoding="utf-8"), re.M | re.S)
    printed = []
    for line in block.splitlines():
        program, *arguments = shlex.split(line)
        if program == "mkdir":
            for folder in arguments[1:]:
                Path(folder).mkdir(parents=True)
            continue
        answer = voicelist(*arguments)
        assert answer.code == 0, answer.text
        printed.append(answer.out)
    assert printed[2].strip() == "No problems."
    assert "suction working" in printed[3]
    assert "doctor or nurse handing over" in printed[3]


def test_the_item_of_the_page_is_the_one_that_the_command_makes(voicelist: Command) -> None:
    blocks = re.findall(r"^```yaml\n(.*?)^```$", PAGE.read_text(encoding="utf-8"), re.M | re.S)
    (item,) = yaml.safe_load(blocks[0])
    told = f"{item['thing']}: {item['good']} / {item['bad']}"
    made = voicelist("checklist", "new", "--item", told, "--role", "endoscopy-nurse=nurse")
    (written,) = yaml.safe_load(made.out)["sections"][0]["items"]
    same = ("id", "answered by", "call", "thing", "good", "bad")
    assert {key: item[key] for key in same} == {key: written[key] for key in same}


@pytest.mark.parametrize(
    "arguments",
    [("checklist", "new"), ("plan", "new", "--checklist", "briefing", "--case", "room-1")],
)
def test_nothing_is_written_over(voicelist: Command, room: Path, arguments: tuple[str]) -> None:
    target = room / "ours.yaml"
    target.write_text("mine\n", encoding="utf-8")
    answer = voicelist(*arguments, "-o", target)
    assert answer.code == 2
    assert "is there already and stays as it is" in answer.err
    assert target.read_text(encoding="utf-8") == "mine\n"
    assert [one.name for one in room.iterdir() if one.is_file()] == ["ours.yaml"]


def test_a_plan_is_asked_for_all_that_its_list_compares(voicelist: Command, room: Path) -> None:
    target = room / "plans" / "list-a.yaml"
    lacking = voicelist("plan", "new", "-o", target, "--checklist", "phaco")
    assert lacking.code == 2
    named = ("--number", "--grade", "--card", "--eye", "--lens-model", "--lens-power")
    assert all(one in lacking.err for one in named)
    assert not target.exists()
    given = ("--number", 7, "--grade", "clinical 3", "--card", "demo-surgeon", "--eye", "left")
    lens = ("--lens-model", "monofocal alpha", "--lens-power", "21.5")
    made = voicelist("plan", "new", "-o", target, "--checklist", "phaco", *given, *lens)
    assert made.code == 0, made.text
    plan = load_plan(target).document
    assert (plan.case, plan.number, plan.side, plan.card) == ("list-a", 7, "left", "demo-surgeon")
    assert (plan.grade.scale, plan.grade.value) == ("clinical", 3)
    assert (plan.lens.model, plan.lens.power_D, plan.lens.axis_deg) == (
        "monofocal alpha",
        21.5,
        None,
    )


def test_what_else_is_planned_has_a_key_that_the_list_compares(voicelist: Command) -> None:
    base = ("plan", "new", "--checklist", "injection", "--case", "b-3", "--eye", "right")
    both = ("--planned", "agent=agent bravo", "--planned", "dose=two milligrams")
    assert yaml.safe_load(voicelist(*base, *both).out)["also"] == {
        "agent": "agent bravo",
        "dose": "two milligrams",
    }
    one = voicelist(*base, *both[:2])
    assert (one.code, '--planned "dose=WORDS"' in one.err) == (2, True)
    other = voicelist(*base, *both, "--planned", "colour=blue dye")
    assert (other.code, "compares no colour: it has agent, dose" in other.err) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("checklist", "new", "--item", "suction working"), "is not understood"),
        (("checklist", "new", "--item", "Pump 2: on / off"), "is not understood"),
        (("checklist", "new", "--item", "a: b / c", "--item", "a: d / e"), "name each thing once"),
        (
            ("checklist", "new", "--item", "the long row of things: all of them / one two"),
            "more than 7 words",
        ),
        (("checklist", "new", "--role", "Dr. 1"), "is not understood"),
        (("checklist", "new", "-o", "Our List.yaml"), "lower-case"),
        (("checklist", "new", "-o", "ours.txt"), ".yaml"),
        (("checklist", "new", "-o", "nowhere/ours.yaml"), "cannot be written"),
        (("plan", "new", "--checklist", "nothing", "--case", "a-1"), "There is no checklist"),
        (("plan", "new", "--checklist", "briefing"), "Give --case"),
        (("help", GRAMMARS / "lexicon.yaml"), "no checklist and no plan"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    voicelist: Command,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str],
    told: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    answer = voicelist(*arguments)
    assert answer.code == 2, answer.text
    assert told in answer.err
    assert len(answer.err.strip().splitlines()) == 1
    assert list(tmp_path.rglob("*.yaml")) == []


def test_help_prints_what_may_be_said_in_every_case_and_to_a_list(voicelist: Command) -> None:
    always = voicelist("help")
    assert always.code == 0
    assert "  say that again\n" in always.out
    assert "  yes report it\n" in always.out
    of_list = voicelist("help", CHECKLIST)
    assert of_list.out.startswith(always.out)
    assert "\nSign out (begins when asked for)\n" in of_list.out
    assert "    marked eye left or right\n" in of_list.out
    calls = [item.call for _, item in load_checklist(CHECKLIST).document.all_items()]
    assert all(f"  {call}\n" in of_list.out for call in calls)
    assert not set("[]|$<>{}").intersection(of_list.out)


def test_the_shipped_lists_of_the_whole_day_need_no_eye() -> None:
    for name in ("practice-301", "practice-302"):
        assert load_plan(GRAMMARS / "plans" / f"{name}.yaml").document.eye is None


def test_a_terminal_shows_which_document_is_checked_and_a_pipe_nothing(
    voicelist: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = io.StringIO()

    def console(**kinds: bool) -> Console:
        assert kinds == {"stderr": True}
        return Console(file=shown, force_terminal=True, width=200)

    paths = (GRAMMARS / "lexicon.yaml", GRAMMARS / "limits.yaml")
    piped = voicelist("check", *paths)
    assert (piped.out, piped.err.count("limits.yaml")) == ("No problems.\n", 0)
    monkeypatch.setattr(progress, "Console", console)
    assert voicelist("check", *paths).out == "No problems.\n"
    assert "limits.yaml" in shown.getvalue()
    assert "1/2" in shown.getvalue()
