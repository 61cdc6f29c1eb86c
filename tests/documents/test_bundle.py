"""The documents of one case: found, told about, written into a record and read from it again."""

from __future__ import annotations

import copy
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from example_documents import CARD, PLAN, RULES, spoiled, write_grammars

from voicelist.documents.bundle import load_bundle
from voicelist.documents.embedded import Bundle
from voicelist.errors import DocumentError


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """The plan of a site that has everything of its own."""
    return write_grammars(tmp_path / "site")


@pytest.fixture
def nothing(tmp_path: Path) -> Path:
    folder = tmp_path / "nothing"
    folder.mkdir()
    return folder


def told(plan: Path, grammars: Path) -> list[str]:
    with pytest.raises(DocumentError) as caught:
        load_bundle(plan, grammars)
    return [str(problem) for problem in caught.value.problems]


def test_a_bundle_has_all_that_the_plan_needs(plan: Path, nothing: Path) -> None:
    bundle = load_bundle(plan, nothing)
    assert bundle.plan.case == "practice-007"
    assert (bundle.card.id, bundle.checklist.id) == ("demo-surgeon", "phaco")
    assert bundle.rules == {"numbers": RULES}
    assert bundle.lexicon.to_speech("phaco") == "fayko"
    assert bundle.sentences.text("not understood") == "Please say that again."
    assert load_bundle(str(plan), nothing) == bundle


def test_what_a_site_has_itself_goes_before_what_ships(plan: Path, tmp_path: Path) -> None:
    shipped = tmp_path / "shipped"
    shutil.copytree(plan.parent.parent, shipped)
    (shipped / "cards/demo-surgeon.yaml").write_text(CARD.replace("value: 350", "value: 1"))
    (shipped / "rules/numbers.abnf").write_text("other")
    (shipped / "rules/room.abnf").write_text("room rules")
    (plan.parent.parent / "lexicon.yaml").unlink()
    bundle = load_bundle(plan, shipped)
    settings = bundle.card.settings_for("clinical", 3, "quadrant")
    assert settings is not None
    assert settings.vacuum_mmHg is not None
    assert settings.vacuum_mmHg.value == 350
    assert bundle.rules == {"numbers": RULES, "shipped/numbers": "other", "room": "room rules"}
    assert bundle.place_of("lexicon", ()).file == str(shipped / "lexicon.yaml")
    assert bundle.place_of("rules", ("room",)).file == str(shipped / "rules/room.abnf")


def test_a_plan_anywhere_uses_what_ships(plan: Path, tmp_path: Path) -> None:
    alone = tmp_path / "desk" / "drawer" / "plan.yaml"
    alone.parent.mkdir(parents=True)
    alone.write_text(PLAN)
    assert load_bundle(alone, plan.parent.parent) == load_bundle(plan, plan.parent.parent)


def test_a_relative_path_is_found_as_well(
    plan: Path, nothing: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(plan.parent)
    bundle = load_bundle(plan.name, nothing)
    assert bundle.place_of("plan", ("card",)).file == plan.name


def test_places_are_those_of_the_files(plan: Path, nothing: Path) -> None:
    bundle = load_bundle(plan, nothing)
    site = plan.parent.parent
    fault = bundle.place_of("checklist", ("sections", 0, "items", 0, "fault"))
    assert str(fault) == f"{site / 'checklists/phaco.yaml'}:15:17"
    assert str(bundle.place_of("card", ("grades", 1))) == f"{site / 'cards/demo-surgeon.yaml'}:12:5"
    assert str(bundle.place_of("rules", ("numbers",))) == f"{site / 'rules/numbers.abnf'}:1:1"
    assert str(bundle.place_of("rules", ("gone",))) == "the embedded rules gone:1:1"


def test_a_missing_card_is_told_at_the_plans_line(plan: Path, nothing: Path) -> None:
    plan.write_text(spoiled(PLAN, "card: demo-surgeon", "card: demo-surgon"))
    (nothing / "cards").mkdir()
    (nothing / "cards/other.yaml").write_text("")
    (line,) = told(plan, nothing)
    looked = f"{plan.parent.parent / 'cards'}, {nothing / 'cards'}"
    assert line == (
        f'{plan}:6:7: found the card "demo-surgon", which is not in {looked}; '
        'did you mean "demo-surgeon"? expected the id of a card: demo-surgeon, other'
    )


def test_a_missing_checklist_is_told_even_if_it_is_the_usual_one(plan: Path, nothing: Path) -> None:
    (plan.parent.parent / "checklists/phaco.yaml").unlink()
    (line,) = told(plan, nothing)
    assert line.startswith(f'{plan}:1:1: found the checklist "phaco", which is not in')
    assert line.endswith("expected the id of a checklist: there is none yet")


def test_missing_lexicon_and_sentences_are_told_together(plan: Path, nothing: Path) -> None:
    (plan.parent.parent / "lexicon.yaml").unlink()
    (plan.parent.parent / "sentences.en.yaml").unlink()
    lines = told(plan, nothing)
    assert [line.split("found ")[1].split(" in ")[0] for line in lines] == [
        "no lexicon.yaml",
        "no sentences.en.yaml",
    ]


def test_the_problems_of_all_documents_are_told_together(plan: Path, nothing: Path) -> None:
    site = plan.parent.parent
    for name in ("cards/demo-surgeon.yaml", "checklists/phaco.yaml", "lexicon.yaml"):
        (site / name).write_text("format: 2\n")
    (site / "rules/numbers.abnf").write_bytes(b"\xff")
    files = [line.split(":")[0] for line in told(plan, nothing)]
    assert files == [
        str(site / name)
        for name in (
            "cards/demo-surgeon.yaml",
            "checklists/phaco.yaml",
            "lexicon.yaml",
            "rules/numbers.abnf",
        )
    ]


def test_an_id_is_the_name_of_its_file(plan: Path, nothing: Path) -> None:
    card = plan.parent.parent / "cards/demo-surgeon.yaml"
    card.write_text(spoiled(CARD, "id: demo-surgeon", "id: another"))
    assert told(plan, nothing) == [
        f'{card}:3:5: found the id "another" in demo-surgeon.yaml; '
        "expected the file's name, demo-surgeon"
    ]


def test_a_case_is_held_in_one_language(plan: Path, nothing: Path) -> None:
    plan.write_text(spoiled(PLAN, "en-US", "en-GB"))
    assert load_bundle(plan, nothing).plan.language == "en-GB"
    plan.write_text(spoiled(PLAN, "en-US", "de-DE"))
    assert told(plan, nothing) == [
        f"{plan}:2:11: found the language de-DE; expected en, the language of the checklist"
    ]


def test_a_bundle_comes_back_from_a_record_exactly(plan: Path, nothing: Path) -> None:
    bundle = load_bundle(plan, nothing)
    written = rfc8785.dumps(bundle.to_json())
    again = Bundle.from_json(json.loads(written))
    assert again == bundle
    assert again.to_json() == bundle.to_json()
    assert rfc8785.dumps(again.to_json()) == written
    assert again.checklist.sections[0].items[0].name == "irrigation line"
    assert again.rules == {"numbers": RULES}


def test_equal_bundles_are_written_down_equally(plan: Path, nothing: Path) -> None:
    one = load_bundle(plan, nothing)
    text = json.dumps(one.to_json())
    plan.write_text("# a comment\n" + PLAN.replace("+21.5", "21.50"))
    assert json.dumps(load_bundle(plan, nothing).to_json()) == text


def test_reading_a_record_needs_no_file(plan: Path, nothing: Path) -> None:
    data = load_bundle(plan, nothing).to_json()
    shutil.rmtree(plan.parent.parent)
    bundle = Bundle.from_json(data)
    assert bundle.plan.case == "practice-007"
    place = bundle.place_of("checklist", ("sections", 0, "items", 0, "done"))
    assert str(place) == "the embedded checklist:1:1"


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        (("format",), 2, "found format 2; expected format 1: use the version that wrote"),
        (("rules",), ["x"], "found unreadable rules"),
        (("rules", "numbers"), 1, "found unreadable rules"),
        (("more",), 1, 'found the unknown key "more"'),
        (("card",), None, "the embedded card:1:1: found in the whole: nothing"),
        (("plan", "eye"), "both", 'the embedded plan:1:1: found in eye: the text "both"'),
        (("checklist", "sections", 0, "items", 1, "call"), 3, "found in sections[0].items[1].call"),
    ],
)
def test_a_broken_record_is_refused_and_left_as_it_is(
    plan: Path, nothing: Path, path: tuple[Any, ...], value: object, message: str
) -> None:
    data = load_bundle(plan, nothing).to_json()
    inner: Any = data
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    before = copy.deepcopy(data)
    with pytest.raises(DocumentError) as caught:
        Bundle.from_json(data)
    assert message in str(caught.value)
    assert data == before
