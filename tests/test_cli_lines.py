"""`voicelist hear CHECKLIST --lines` and `assess --lines`: typed lines, one object each."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.command import CHECKLIST, GRAMMARS, Command, voicelist
from voicelist.lines import Typed, TypedLine, assessed_lines, heard_lines

__all__ = ["voicelist"]
FULL = GRAMMARS / "checklists" / "phaco-full.yaml"
CARD = GRAMMARS / "cards" / "demo-surgeon.yaml"
KEYS = ["item", "text", "amounts_to", "values", "offers", "read_back"]
# Of the development set, in hundredths; `neither` and `no` are never taken as done.
AT_LEAST = {"yes": 95, "no": 90, "control": 85, "settings": 90}


def table(path: Path, *rows: tuple[str, ...]) -> Path:
    path.write_text("".join("\t".join(row) + "\n" for row in rows))
    return path


def told(path: Path, *rows: tuple[str, ...]) -> list[dict[str, Any]]:
    return list(heard_lines(FULL, table(path / "lines.tsv", *rows)))


def test_one_object_a_line_in_order_with_the_keys_of_the_contract(
    voicelist: Command, tmp_path: Path
) -> None:
    lines = table(tmp_path / "l.tsv", ("power", "it's on", "ignored"), ("-", "say again please"))
    answer = voicelist("hear", FULL, "--lines", lines, "--json")
    assert answer.code == 0
    rows = [json.loads(line) for line in answer.out.splitlines()]
    assert [list(row) for row in rows] == [KEYS, KEYS]
    assert rows[0] == {
        "item": "power",
        "text": "it's on",
        "amounts_to": "done",
        "values": {},
        "offers": [],
        "read_back": False,
    }
    assert (rows[1]["item"], rows[1]["amounts_to"]) == ("-", "command:repeat")


@pytest.mark.parametrize(
    ("item", "text", "amounts_to", "read_back"),
    [
        ("irrigation-line", "irrigation line firm", "done", False),
        ("irrigation-line", "firm", "done", True),
        ("irrigation-line", "loose", "fault", False),
        ("irrigation-line", "it isn't firm", "denied", True),
        ("irrigation-line", "it keeps slipping", "offered", True),
        ("irrigation-line", "is it firm", "asked-again", False),
        ("irrigation-line", "what a lovely morning", "ignored", False),
        ("eye", "it's the left", "value", True),
        ("grade", "it's a two on the clinical scale", "value", False),
        ("quadrant-profile", "power thirty vacuum three hundred flow twenty eight", "value", True),
    ],
)
def test_what_a_line_amounts_to(
    tmp_path: Path, item: str, text: str, amounts_to: str, read_back: bool
) -> None:
    (row,) = told(tmp_path, (item, text))
    assert (row["amounts_to"], row["read_back"]) == (amounts_to, read_back)


def test_values_are_told_by_their_names(tmp_path: Path) -> None:
    rows = told(
        tmp_path,
        ("eye", "left eye"),
        ("lens-power", "box says plus nineteen point five"),
        ("lens-model", "it's the toric alpha"),
        ("grade", "two on the clinical scale"),
        ("quadrant-profile", "linear power up to forty in burst vacuum fixed three hundred"),
    )
    assert [row["values"] for row in rows] == [
        {"eye": "left"},
        {"power_D": 19.5},
        {"lens_model": "toric alpha"},
        {"grade": {"scale": "clinical", "value": 2}},
        {
            "power_percent": 40,
            "power": "linear",
            "mode": "burst",
            "vacuum_mmHg": 300,
            "vacuum": "fixed",
        },
    ]


def test_what_may_be_amiss_is_offered_by_the_name_of_the_item(tmp_path: Path) -> None:
    (row,) = told(tmp_path, ("tip", "it's got a burr on it"))
    assert row["offers"] == ["Report the tip?"]


def test_a_line_without_a_tab_and_an_unknown_item_are_refused(
    voicelist: Command, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.tsv"
    broken.write_text("power\tit's on\nnothing here\n")
    answer = voicelist("hear", FULL, "--lines", broken)
    assert answer.code == 2
    assert "broken.tsv:2 has no tab" in answer.text
    unknown = voicelist("hear", FULL, "--lines", table(tmp_path / "u.tsv", ("teapot", "full")))
    assert unknown.code == 2
    assert "There is no item teapot" in unknown.text


def test_sound_and_lines_are_not_heard_together(voicelist: Command, tmp_path: Path) -> None:
    lines = table(tmp_path / "l.tsv", ("power", "on"))
    assert voicelist("hear", FULL, tmp_path / "a.wav", "--lines", lines).code == 2
    assert voicelist("hear", FULL).code == 2


def test_a_checklist_without_wordings_still_reads_its_permitted_sentences() -> None:
    typed = Typed(CHECKLIST)
    assert typed.heard(TypedLine("bottle", "bottle full"))["amounts_to"] == "done"


def test_assess_reads_settings_line_by_line(voicelist: Command, tmp_path: Path) -> None:
    lines = table(
        tmp_path / "l.tsv",
        ("-", "give me thirty percent and three hundred of vacuum"),
        ("-", "vacuum three hundred no three fifty"),
    )
    answer = voicelist("assess", "--card", CARD, "--lines", lines, "--json")
    assert answer.code == 0
    rows = [json.loads(line) for line in answer.out.splitlines()]
    assert rows[0]["values"] == {"power_percent": 30, "vacuum_mmHg": 300}
    assert (rows[1]["values"], rows[1]["amounts_to"]) == ({}, "asked-again")
    nothing = table(tmp_path / "n.tsv", ("-", "what a lovely morning"))
    assert voicelist("assess", "--card", CARD, "--lines", nothing).code == 1


def test_natural_answers_written_from_the_calls_alone(
    natural_answers: Path, tmp_path: Path
) -> None:
    """The development set: what people might say untaught, written by somebody who saw the calls
    and nothing of what is permitted (invented, no real person's words)."""
    rows = [line.split("\t") for line in natural_answers.read_text().splitlines()]
    spoken = [row for row in rows if row[1] != "settings"]
    settings = [row for row in rows if row[1] == "settings"]
    heard = told(tmp_path, *((item, text) for item, _, text, _ in spoken))
    good: Counter[str] = Counter()
    taken = []
    for (item, kind, text, _), row in zip(spoken, heard, strict=True):
        name, _, command = kind.partition(":")
        amounts_to = row["amounts_to"]
        good[name] += amounts_to in _wanted(name, command)
        if name in ("no", "neither") and amounts_to in ("done", "value"):
            taken.append((item, text))
    assert taken == []
    lines = table(tmp_path / "s.tsv", *(("-", text) for _, _, text, _ in settings))
    otherwise = []
    for (_, _, text, meaning), row in zip(settings, assessed_lines(CARD, lines), strict=True):
        wanted = dict(pair.split("=") for pair in meaning.split(";"))
        found = {name: _plain(value) for name, value in row["values"].items()}
        good["settings"] += found == wanted
        if found and found != wanted:
            otherwise.append((text, found))
    assert otherwise == []
    every = Counter(row[1].partition(":")[0] for row in rows)
    short = {
        kind: f"{good[kind]} of {every[kind]}"
        for kind, least in AT_LEAST.items()
        if 100 * good[kind] < least * every[kind]
    }
    assert short == {}


def _wanted(kind: str, command: str) -> tuple[str, ...]:
    return {
        "yes": ("done", "value"),
        "no": ("fault", "denied", "offered"),
        "control": (f"command:{command}",),
    }.get(kind, ())


def _plain(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)
