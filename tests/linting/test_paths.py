"""`voicelist check PATH...`: files and folders, each kind as it needs it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import COMMANDS, LEXICON, knows, of_these, spoil, told, write
from voicelist.errors import Problem
from voicelist.linting.check import lint_paths
from voicelist.linting.vocabulary import Knows

LIST = "checklists/small.yaml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path / "grammars")


def lint_these(paths: list[Path | str], known: Knows | None) -> tuple[Problem, ...]:
    return of_these(lint_paths(paths, known))


def said(folder: Path, *names: str) -> list[tuple[str, str]]:
    """File and finding of each problem of the documents of those names."""
    problems = lint_these([folder / name for name in names], knows)
    return [(one.at, one.found) for one in told(folder, problems)]


@pytest.mark.parametrize(
    "name",
    [
        LIST,
        "plans/small-1.yaml",
        "cards/small.yaml",
        "lexicon.yaml",
        "sentences.en.yaml",
        "rules/commands.abnf",
        "rules/clinical.abnf",
        "",
    ],
)
def test_good_documents_of_every_kind_have_no_problems(folder: Path, name: str) -> None:
    assert lint_these([folder / name], knows) == ()
    assert lint_these([str(folder / name)], None) == ()


def test_a_checklist_alone_is_linted_with_what_lies_beside_it(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "bottle (low | full | snugg)")
    spoil(folder, "sentences.en.yaml", 'deferred: "Noted here."', 'deferred: "Bottle low, noted."')
    spoil(folder, "lexicon.yaml", "tor ick", "tor snugg")
    assert said(folder, LIST) == [
        (LIST, 'the sentence "bottle full", which bottle.done also permits'),
        (LIST, 'the word "snugg", which the speech model does not know'),
        ("lexicon.yaml", 'the word "snugg", which the speech model does not know'),
        (
            "sentences.en.yaml",
            'the words "bottle low" in "Bottle low, noted.", which bottle.fault permits',
        ),
    ]


def test_a_checklist_alone_is_linted_with_what_ships_where_nothing_lies_beside_it(
    tmp_path: Path,
) -> None:
    text = (write(tmp_path / "whole") / LIST).read_text(encoding="utf-8")
    alone = tmp_path / "alone" / LIST
    alone.parent.mkdir(parents=True)
    alone.write_text(text.replace("bottle low", "bottle $nowhere"), encoding="utf-8")
    problems = lint_these([alone], None)
    assert [one.found for one in problems if one.file == str(alone)] == ["$nowhere"]


def test_a_checklist_alone_needs_no_plan(folder: Path) -> None:
    (folder / "plans/small-1.yaml").unlink()
    (folder / "cards/small.yaml").unlink()
    assert said(folder, LIST) == []


def test_a_plan_is_linted_with_all_that_it_needs(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "bottle (low | full)")
    spoil(folder, "cards/small.yaml", "power_percent: {value: 0", "power_percent: {value: 20")
    spoil(folder, "plans/small-1.yaml", "monofocal alpha", "monofocal gamma")
    assert [at for at, _ in said(folder, "plans/small-1.yaml")] == [
        "cards/small.yaml",
        LIST,
        "plans/small-1.yaml",
    ]


def test_a_plan_without_its_card_says_so(folder: Path) -> None:
    (folder / "cards/small.yaml").unlink()
    ((at, found),) = said(folder, "plans/small-1.yaml")
    assert at == "plans/small-1.yaml"
    assert '"small"' in found


def test_the_other_kinds_are_linted_by_themselves(folder: Path) -> None:
    spoil(folder, "cards/small.yaml", "power_percent: {value: 0", "power_percent: {value: 20")
    spoil(folder, "lexicon.yaml", "mono focal", "mono snugg")
    spoil(folder, "sentences.en.yaml", 'deferred: "Noted here."', 'deferred: "Wrong."')
    assert said(folder, "cards/small.yaml") == [("cards/small.yaml", "20 % in cortex")]
    assert said(folder, "sentences.en.yaml") == [
        ("sentences.en.yaml", 'the word "wrong" in "Wrong."')
    ]
    assert [at for at, _ in said(folder, "lexicon.yaml")] == ["lexicon.yaml"]


def test_a_broken_document_is_reported_as_it_is_read(folder: Path) -> None:
    spoil(folder, "cards/small.yaml", "grades:", "grade:")
    found = [found for _, found in said(folder, "cards/small.yaml")]
    assert 'the unknown key "grade"' in found


# Rules


def test_a_rules_file_is_linted_with_the_others_of_its_folder(folder: Path) -> None:
    spoil(
        folder,
        "rules/clinical.abnf",
        "public $unsigned_power = $decimal;",
        "public $unsigned_power = $decimals;",
    )
    assert said(folder, "rules/clinical.abnf") == [("rules/clinical.abnf", "$decimals")]


def test_a_rules_file_does_not_see_private_rules_of_others(folder: Path) -> None:
    spoil(
        folder,
        "rules/clinical.abnf",
        "public $unsigned_power = $decimal;",
        "public $unsigned_power = $below_hundred;",
    )
    assert said(folder, "rules/clinical.abnf") == [("rules/clinical.abnf", "$below_hundred")]


def test_a_public_name_may_not_be_used_twice_in_a_folder(folder: Path) -> None:
    (folder / "rules/ours.abnf").write_text("#ABNF 1.0;\npublic $side = port;\n", encoding="utf-8")
    assert said(folder, "rules/ours.abnf") == [("rules/clinical.abnf", "public $side")]


def test_a_grammar_by_itself_stands_by_itself(folder: Path) -> None:
    """Such a file is what `voicelist hear` is given."""
    own = folder / "order.abnf"
    own.write_text(
        "#ABNF 1.0;\nroot $order;\npublic $order = a $size coffee $integer;\n"
        "$size = small | snugg;\n$loop = again $loop;\n",
        encoding="utf-8",
    )
    assert said(folder, "order.abnf") == [
        ("order.abnf", "$integer"),
        ("order.abnf", 'the word "snugg", which the speech model does not know'),
        ("order.abnf", "a rule inside itself ($loop -> $loop)"),
    ]


def test_a_broken_rules_file_is_reported_where_it_breaks(folder: Path) -> None:
    spoil(folder, "rules/commands.abnf", "public $hold_on =", "public $hold_on")
    (problem,) = lint_these([folder / "rules/commands.abnf"], knows)
    line = COMMANDS[: COMMANDS.index("public $hold_on")].count("\n") + 1
    assert (problem.line, problem.column) == (line, len("public $hold_on ") + 1)


# Folders


def test_every_document_below_a_folder_is_linted_once(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "bottle (low | full)")
    spoil(folder, "lexicon.yaml", "mono focal", "mono snugg")
    spoil(folder, "cards/small.yaml", "power_percent: {value: 0", "power_percent: {value: 20")
    second = (
        (folder / "plans/small-1.yaml").read_text(encoding="utf-8").replace("small-1", "small-2")
    )
    (folder / "plans/small-2.yaml").write_text(second, encoding="utf-8")
    whole = said(folder, "")
    assert [at for at, _ in whole] == ["cards/small.yaml", LIST, "lexicon.yaml"]
    assert said(folder, "", LIST, "plans/small-1.yaml", "cards") == whole


def test_problems_are_sorted_by_file_and_place(folder: Path) -> None:
    spoil(folder, LIST, "The side is read from the mark.", "Danger.")
    spoil(folder, LIST, "Inflow must exceed outflow.", "Alarm.")
    spoil(folder, "cards/small.yaml", "power_percent: {value: 0", "power_percent: {value: 20")
    problems = lint_these([folder / LIST, folder / "cards"], knows)
    places = [(one.file, one.line, one.column) for one in problems]
    assert len(places) == 3
    assert places == sorted(places)


def test_hidden_folders_and_other_files_are_left_alone(folder: Path) -> None:
    for name in (".git/config.yaml", "notes.txt", "cards/.draft.yaml"):
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text("nothing: of ours\n", encoding="utf-8")
    assert said(folder, "") == []


def test_a_document_of_no_known_kind_is_reported(folder: Path) -> None:
    (folder / "notes.yaml").write_text("nothing: of ours\n", encoding="utf-8")
    assert said(folder, "") == [("notes.yaml", "no known kind of document")]


def test_a_folder_without_documents_says_so(tmp_path: Path) -> None:
    (problem,) = lint_these([tmp_path], None)
    assert problem.file == str(tmp_path)
    assert problem.found == "no documents"


@pytest.mark.parametrize("name", ["cards/none.yaml", "none.yaml", "rules/none.abnf", "none"])
def test_a_file_that_is_not_there_is_a_problem(folder: Path, name: str) -> None:
    (problem,) = lint_these([folder / name], None)
    assert problem.file == str(folder / name)
    assert problem.found == "no such file"


# Names of files


def test_files_below_the_working_folder_are_named_from_there(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoil(folder, LIST, "bottle low", "bottle (low | full)")
    monkeypatch.chdir(folder.parent)
    for path in ("grammars", folder, "grammars/plans/small-1.yaml", folder / LIST):
        assert [one.file for one in lint_these([path], knows)] == [f"grammars/{LIST}"]
    monkeypatch.chdir(folder / "cards")
    assert [one.file for one in lint_these([folder / LIST], knows)] == [str(folder / LIST)]


def test_the_lexicons_beside_a_rules_file_and_shipped_respell_its_words(folder: Path) -> None:
    (folder / "rules/ours.abnf").write_text(
        "#ABNF 1.0;\nlanguage en-US;\npublic $ours = snugg toric;\n", encoding="utf-8"
    )
    lexicon = folder / "lexicon.yaml"
    lexicon.write_text("format: 1\nlanguage: en-US\nwords: []\n", encoding="utf-8")
    assert said(folder, "rules/ours.abnf") == [
        ("rules/ours.abnf", 'the word "snugg", which the speech model does not know')
    ]
    lexicon.write_text(LEXICON.replace("written: toric", "written: snugg"), encoding="utf-8")
    assert said(folder, "rules/ours.abnf") == []


# Structure and content


def test_structure_and_content_are_told_in_one_run(folder: Path) -> None:
    spoil(folder, LIST, "stop: true", "stopp: true")
    spoil(folder, LIST, "bottle low", "bottle (low | snugg)")
    spoil(
        folder, LIST, "Full or low: the bottle?", "Full or low or neither: what about the bottle?"
    )
    spoil(folder, "cards/small.yaml", "power_percent: {value: 0", "power_percent: {value: 20")
    spoil(folder, "cards/small.yaml", "vacuum_mmHg: {value: 350", "vacuum: {value: 350")
    assert said(folder, "plans/small-1.yaml") == [
        ("cards/small.yaml", "20 % in cortex"),
        ("cards/small.yaml", 'the unknown key "vacuum"'),
        (LIST, 'the unknown key "stopp"'),
        (LIST, '9 words ("Full or low or neither: what about the bottle?")'),
        (LIST, 'the word "snugg", which the speech model does not know'),
    ]


def test_what_refers_to_an_item_that_is_left_out_is_not_told_of(folder: Path) -> None:
    spoil(folder, LIST, "        depends on: [equipment]\n", "")
    assert len(said(folder, LIST)) == 1  # nothing that a change of equipment opens
    spoil(folder, LIST, "answered by: [circulating-nurse]", "answered by: nobody")
    spoil(folder, LIST, "Inflow must exceed outflow.", "Alarm.")
    found = [found for _, found in said(folder, LIST)]
    assert found == ['the text "nobody"', 'the word "alarm" in "Alarm."']


def test_each_document_is_told_of_before_it_is_looked_at(folder: Path) -> None:
    told: list[tuple[str, int, int]] = []
    paths = [folder / "cards", folder / "rules/clinical.abnf"]
    lint_paths(paths, None, lambda *one: told.append(one))
    assert told == [
        (str(folder / "cards/small.yaml"), 1, 2),
        (str(folder / "rules/clinical.abnf"), 2, 2),
    ]
