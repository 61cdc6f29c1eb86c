"""Cards on the command line: a new one, one as tables, two compared, and the schemas."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

from tests.command import CARD, CHECKLIST, GRAMMARS, Command, voicelist
from voicelist.documents.names import KINDS, PHASES, SCALE_LIMITS
from voicelist.record.schema import shipped_schema

__all__ = ["voicelist"]

OTHER_CARD = GRAMMARS / "cards" / "demo-surgeon-two.yaml"


@pytest.mark.parametrize("scale", SCALE_LIMITS)
def test_a_new_card_passes_the_check_and_has_every_phase(
    voicelist: Command, tmp_path: Path, scale: str
) -> None:
    target = tmp_path / "cards" / "our-surgeon.yaml"
    target.parent.mkdir()
    made = voicelist("card", "new", "-o", target, "--scale", scale)
    assert made.code == 0, made.text
    assert str(target) in made.out
    checked = voicelist("check", target)
    assert (checked.code, checked.out.strip()) == (0, "No problems.")
    data = yaml.safe_load(target.read_text(encoding="utf-8"))
    assert data["id"] == "our-surgeon"
    assert {band["scale"] for band in data["grades"]} == {scale}
    assert [set(band["phases"]) for band in data["grades"]] == [set(PHASES)] * len(data["grades"])


def test_a_new_card_chooses_no_setting_for_anybody(voicelist: Command) -> None:
    data = yaml.safe_load(voicelist("card", "new").out)
    settings = [
        setting
        for band in data["grades"]
        for phase in band["phases"].values()
        for setting in phase.values()
    ]
    assert len(settings) > 60
    assert {(one["value"], one["tolerance"]) for one in settings} == {(0, 0)}


def test_what_is_said_differs_from_a_card_that_nobody_filled_in(
    voicelist: Command, tmp_path: Path
) -> None:
    target = tmp_path / "our-surgeon.yaml"
    voicelist("card", "new", "-o", target)
    words = ["power", "forty", "vacuum", "three", "fifty", "flow", "thirty", "two"]
    told = voicelist("assess", *words, "--card", target, "--grade", "clinical 3", "--json")
    differing = {one["quantity"] for one in json.loads(told.out)["findings"]}
    assert {"power_percent", "vacuum_mmHg", "flow_cc_per_min"} <= differing


def test_a_new_card_carries_the_caution_and_explains_itself(voicelist: Command) -> None:
    text = " ".join(voicelist("card", "new").out.replace("#", " ").split())
    assert "not a medical device" in text
    for word in ("tolerance", "linear", "fixed", "pulses_per_s", "bottle_cm", "infusion_mmHg"):
        assert word in text


def test_a_card_that_is_there_is_never_written_over(voicelist: Command, tmp_path: Path) -> None:
    target = tmp_path / "our-surgeon.yaml"
    target.write_text("mine\n", encoding="utf-8")
    again = voicelist("card", "new", "-o", target)
    assert again.code == 2
    assert "is there already" in again.err
    assert target.read_text(encoding="utf-8") == "mine\n"


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("Our Surgeon.yaml", "lower-case"),
        ("our-surgeon.txt", ".yaml"),
        ("nowhere/our-surgeon.yaml", "cannot be written"),
    ],
)
def test_a_new_card_under_a_name_that_cannot_be_is_one_sentence(
    voicelist: Command, tmp_path: Path, name: str, told: str
) -> None:
    answer = voicelist("card", "new", "-o", tmp_path / name)
    assert answer.code == 2
    assert told in answer.err
    assert len(answer.err.strip().splitlines()) == 1
    assert list(tmp_path.rglob("*.*")) == []


def test_a_new_card_on_an_unknown_scale_names_the_scales(voicelist: Command) -> None:
    answer = voicelist("card", "new", "--scale", "colour")
    assert answer.code == 2
    assert "locs3-no" in answer.err


def cells(text: str) -> list[list[str]]:
    """The rows of the tables on a screen."""
    rows = [line.strip("│").split("│") for line in text.splitlines() if line.startswith("│")]
    return [[cell.strip() for cell in row] for row in rows]


def test_a_card_is_shown_with_units_control_and_the_caution(voicelist: Command) -> None:
    shown = voicelist("card", "show", CARD)
    assert shown.code == 0
    assert "not a medical device" in " ".join(shown.out.split())
    third = shown.out[shown.out.index("grade clinical 3") :]
    rows = cells(third[: third.index("grade clinical 4")])
    start = next(i for i, row in enumerate(rows) if row[0] == "quadrant")
    assert [row[1:] for row in rows[start : start + 5]] == [
        ["power", "0 to 40", "%", "linear", "± 5"],
        ["vacuum", "350", "mmHg", "fixed", "± 25"],
        ["flow", "32", "cc/min", "fixed", "± 3"],
        ["modulation", "pulse", "", "", ""],
        ["pulses", "30", "/s", "", ""],
    ]
    assert "Nothing on the card for" not in shown.out
    assert "Main incision to side port: 90 degrees, ± 15." in third


def test_what_the_card_lacks_and_what_else_it_holds_is_shown(
    voicelist: Command, tmp_path: Path
) -> None:
    path = tmp_path / "small.yaml"
    text = """format: 1
language: en-US
id: small
grades:
  - scale: clinical
    from: 1
    to: 4
    phases:
      cortex: {vacuum_mmHg: {value: 400, control: linear, tolerance: 25}}
"""
    path.write_text(text, encoding="utf-8")
    shown = voicelist("card", "show", path).out
    lacking = "Nothing on the card for: sculpt, chop, quadrant, epinucleus, polish, viscoelastic."
    assert lacking in " ".join(shown.split())
    assert "Also:" not in shown
    path.write_text(f"{text}also: {{second-instrument: blunt chopper}}\n", encoding="utf-8")
    assert "Also: second instrument, blunt chopper." in voicelist("card", "show", path).out


def test_what_two_figures_of_pulses_amount_to_is_worked_out(
    voicelist: Command, tmp_path: Path
) -> None:
    # Common practice, no source: 6 ms and 40, read as pulses per second; the duty is derived.
    short = tmp_path / "card.yaml"
    text = CARD.read_text(encoding="utf-8")
    short.write_text(text.replace("pulses_per_s: 40", "pulses_per_s: 40, on_time_ms: 6"), "utf-8")
    told = voicelist("card", "show", short).out
    assert told.count("Worked out") == 1
    assert "quadrant: 25 ms a pulse, 6 on and 19 off, duty 24 %." in told


def test_pump_and_pulses_that_wait_are_on_the_screen(voicelist: Command, tmp_path: Path) -> None:
    card = tmp_path / "card.yaml"
    text = CARD.read_text(encoding="utf-8")
    waiting = "modulation: {kind: burst, pulses_per_s: 40, on_occlusion: true}"
    card.write_text(
        text.replace(
            "modulation: {kind: pulse, pulses_per_s: 40}", f"pump: peristaltic\n        {waiting}"
        ),
        encoding="utf-8",
    )
    rows = [row[1:3] for row in cells(voicelist("card", "show", card).out)]
    assert ["modulation", "burst"] in rows
    assert ["on occlusion", "yes"] in rows
    assert ["pump", "peristaltic"] in rows


def test_every_number_of_a_card_is_on_its_screen(voicelist: Command) -> None:
    shown = voicelist("card", "show", CARD).out
    told = [row[2].rpartition(" ")[2] for row in cells(shown)]
    data = yaml.safe_load(CARD.read_text(encoding="utf-8"))
    for band in data["grades"]:
        for phase in band["phases"].values():
            for quantity, setting in phase.items():
                value = setting["pulses_per_s" if quantity == "modulation" else "value"]
                told.remove(str(value))
    assert set(told) <= {"pulse"}


def test_a_broken_card_is_told_with_its_place(voicelist: Command, tmp_path: Path) -> None:
    broken = tmp_path / "card.yaml"
    broken.write_text(CARD.read_text(encoding="utf-8").replace("linear", "bent", 1), "utf-8")
    for arguments in (("show", broken), ("compare", CARD, broken)):
        answer = voicelist("card", *arguments)
        assert answer.code == 1
        assert "card.yaml:12:" in answer.err
        assert '"linear", "fixed"' in answer.err
        assert "┃" not in answer.out


def test_a_card_that_is_not_there_is_one_sentence(voicelist: Command, tmp_path: Path) -> None:
    answer = voicelist("card", "show", tmp_path / "nobody.yaml")
    assert answer.code == 1
    assert "no such file" in answer.err


def test_a_changed_value_is_the_only_difference(voicelist: Command, tmp_path: Path) -> None:
    changed = tmp_path / "changed.yaml"
    text = CARD.read_text(encoding="utf-8")
    text = text.replace("{value: 350, control: fixed", "{value: 355, control: linear")
    changed.write_text(text.replace("id: demo-surgeon", "id: changed"), encoding="utf-8")
    answer = voicelist("card", "compare", CARD, changed)
    assert answer.code == 0
    assert "not a medical device" in " ".join(answer.out.split())
    assert cells(answer.out) == [
        [
            "clinical 3",
            "quadrant",
            "vacuum",
            "350 mmHg fixed, ± 25",
            "0 to 355 mmHg linear, ± 25",
        ]
    ]


def test_equal_cards_do_not_differ(voicelist: Command) -> None:
    answer = voicelist("card", "compare", CARD, CARD)
    assert answer.code == 0
    assert "do not differ" in answer.out


def test_the_demo_cards_differ_in_phase_and_incision(voicelist: Command) -> None:
    answer = voicelist("card", "compare", CARD, OTHER_CARD)
    assert answer.code == 0
    rows = cells(answer.out)
    assert rows[-2] == [
        "the whole card",
        "",
        "main incision to side port",
        "90 ± 15 degrees",
        "70 ± 10 degrees",
    ]
    assert rows[-1][2] == "second instrument"
    assert rows[-1][4] == "blunt chopper"
    between = next(i for i, row in enumerate(rows) if row[0] == "clinical above 1 below 2")
    assert rows[between][1:] == ["sculpt", "the whole phase", "not on the card", "settings"]


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_of_every_kind_is_printed_and_written(
    voicelist: Command, tmp_path: Path, kind: str
) -> None:
    printed = voicelist("schema", kind)
    assert printed.code == 0
    schema = json.loads(printed.out)
    assert schema["title"] == f"voicelist {kind}"
    assert schema["$schema"].endswith("2020-12/schema")
    target = tmp_path / f"{kind}.json"
    assert voicelist("schema", kind, "-o", target).code == 0
    assert json.loads(target.read_text(encoding="utf-8")) == schema


def test_the_schema_of_a_record_is_the_file_that_ships(voicelist: Command, tmp_path: Path) -> None:
    printed = voicelist("schema", "record")
    assert (printed.code, printed.out) == (0, shipped_schema())
    assert voicelist("schema", "record", "-o", tmp_path / "record.json").code == 0
    assert (tmp_path / "record.json").read_text(encoding="utf-8") == printed.out


def test_a_schema_of_no_known_kind_is_one_sentence(voicelist: Command, tmp_path: Path) -> None:
    answer = voicelist("schema", "recipe")
    assert answer.code == 2
    assert "checklist, card, plan, lexicon, sentences" in answer.err
    lost = voicelist("schema", "card", "-o", tmp_path / "no" / "card.json")
    assert lost.code == 2
    assert "cannot be written" in lost.err


def test_comparing_with_a_checklist_is_told_with_its_place(voicelist: Command) -> None:
    answer = voicelist("card", "compare", CARD, CHECKLIST)
    assert answer.code == 1
    assert "phaco.yaml:" in answer.err
