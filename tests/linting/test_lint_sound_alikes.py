"""What `voicelist check` says of answers that are easily heard for one another."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import bundle_in, lint, lint_bundle, only, spoil, write
from voicelist.clinical.sound_alikes import TWIN_WORDS, twin
from voicelist.linting.sound_alikes import differing

LIST = "checklists/small.yaml"
DONE = "irrigation line (firm | on and firm)"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path)


# Sound-alikes


def test_done_and_fault_of_one_item_may_not_sound_alike(folder: Path) -> None:
    spoil(folder, LIST, "irrigation line loose", "irrigation line form")
    problem = only(folder)
    assert problem.line == "irrigation line form"
    assert problem.found == (
        '"irrigation line form", which sounds much like "irrigation line firm" of '
        "irrigation-line.done (0.10 apart)"
    )
    assert "words of other sounds: more than 0.20 apart" in problem.expected


def test_it_is_an_error_and_a_less_near_sound_a_note(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle tight")
    spoil(folder, LIST, "bottle low", "bottle type")
    (problem,) = lint_bundle(bundle_in(folder), None)
    assert not problem.note
    assert "note" not in str(problem)
    spoil(folder, LIST, "bottle tight", "bottle complete")
    spoil(folder, LIST, "bottle type", "bottle incomplete")
    (problem,) = lint_bundle(bundle_in(folder), None)
    assert problem.note
    assert f"{problem.line}:{problem.column}: note: found" in str(problem)
    assert "more than 0.25 apart" in problem.expected


def test_words_of_other_sounds_are_left_alone(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle tight")
    spoil(folder, LIST, "bottle low", "bottle loose")
    assert lint(folder) == []


def test_two_items_that_may_be_open_together_may_not_sound_alike(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "irrigation lane loose")
    problem = only(folder)
    assert problem.line == "irrigation lane loose"
    assert '"irrigation line loose" of irrigation-line.fault' in problem.found


def test_two_stop_items_are_never_open_together(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "irrigation lane loose\n        stop: true")
    assert lint(folder) == []


def test_an_answer_may_not_sound_like_a_command(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "bottle low | cold on please")
    problem = only(folder)
    assert problem.line == "bottle low | cold on please"
    assert '"cold on please", which sounds much like "hold on please"' in problem.found


def test_two_commands_may_not_sound_alike(folder: Path) -> None:
    spoil(folder, "rules/commands.abnf", "| this is an emergency", "| told on please")
    problem = only(folder)
    assert problem.at == "rules/commands.abnf"
    assert "command.silence" in problem.found
    assert "hold on please" in problem.found


def test_lens_models_may_not_sound_alike(folder: Path) -> None:
    spoil(folder, "rules/clinical.abnf", "(alpha | bravo) | toric", "(alpha | alfa) | toric")
    problem = only(folder)
    assert problem.line == "lens model $lens_model"
    assert '"lens model monofocal alfa"' in problem.found
    assert '"lens model monofocal alpha"' in problem.found


def test_sides_may_not_sound_alike(folder: Path) -> None:
    spoil(folder, "rules/clinical.abnf", "right {right}", "lift {right}")
    assert '"marked eye lift"' in only(folder).found


def test_words_that_the_table_lacks_are_compared_by_their_letters(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle plarbed")
    spoil(folder, LIST, "bottle low", "bottle blarbed")
    assert '"bottle blarbed"' in only(folder).found
    spoil(folder, LIST, "bottle blarbed", "bottle zonquex")
    assert lint(folder) == []


def test_numbers_are_left_out_of_the_comparison(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle at fifteen")
    spoil(folder, LIST, "bottle low", "drip $integer")
    found = [one.found for one in lint(folder)]
    assert not any("sounds much like" in one for one in found)


@pytest.mark.parametrize(
    ("ours", "theirs", "left"),
    [
        ("line firm", "line loose", ("firm", "loose")),
        ("known some here", "known none here", ("some", "none")),
        ("pedal in reach", "pedal not in reach", ("", "not")),
        ("a a", "a", ("a", "")),
        ("same", "same", ("", "")),
    ],
)
def test_compared_is_what_differs(ours: str, theirs: str, left: tuple[str, str]) -> None:
    one, other = differing(tuple(ours.split()), tuple(theirs.split()))
    assert (" ".join(one), " ".join(other)) == left


# Beginnings


def test_an_answer_that_another_begins_with_is_an_error(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "bottle full of air")
    (problem,) = lint_bundle(bundle_in(folder), None)
    assert problem.found == '"bottle full", with which a sentence of bottle.fault begins'
    assert "cut short" in problem.expected
    assert not problem.note


def test_a_fault_that_another_begins_with_is_a_note(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle low enough")
    (problem,) = lint_bundle(bundle_in(folder), None)
    assert problem.found == '"bottle low", with which a sentence of bottle.done begins'
    assert problem.note


def test_an_answer_that_a_command_begins_with_is_an_error(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle full | stop the list")
    problem = only(folder)
    assert '"stop the list", with which a sentence of command.silence begins' in problem.found


def test_the_same_answer_may_go_on_and_so_may_the_same_words_of_no_sentence(folder: Path) -> None:
    spoil(folder, LIST, "bottle full", "bottle full [and vented]")
    spoil(folder, LIST, "bottle low", "bottle not full")
    assert lint(folder) == []


# Numbers


@pytest.mark.parametrize("number", ["(fifteen | fifty)", "$integer"])
def test_numbers_that_sound_alike_are_reported_where_nothing_reads_them_back(
    folder: Path, number: str
) -> None:
    spoil(folder, LIST, "bottle full", f"bottle at {number} degrees")
    problems = [one for one in lint(folder) if "easily heard" in one.found]
    assert len(problems) == 1
    assert problems[0].line.startswith("bottle at")
    assert "read back" in problems[0].expected


def test_numbers_without_a_sound_alike_or_outside_the_likely_range_are_left_alone(
    folder: Path,
) -> None:
    spoil(folder, LIST, "bottle full", "bottle at (fifteen | sixty) degrees")
    assert lint(folder) == []
    rule = "public $mark = {likely 40 to 90} mark $integer;\npublic $side"
    spoil(folder, "rules/clinical.abnf", "public $side", rule)
    spoil(folder, LIST, "bottle at (fifteen | sixty) degrees", "bottle at $mark")
    assert lint(folder) == []
    spoil(folder, "rules/clinical.abnf", "likely 40", "likely 10")
    found = only(folder).found
    assert found == '"bottle at mark eighteen", which is easily heard for "bottle at mark eighty"'


def test_values_that_are_read_back_may_have_sound_alikes(folder: Path) -> None:
    assert "lens power $signed" in (folder / LIST).read_text(encoding="utf-8")
    assert lint(folder) == []


def test_lens_models_are_not_read_back(folder: Path) -> None:
    spoil(folder, "rules/clinical.abnf", "toric (alpha | bravo)", "toric (thirteen | thirty)")
    found = [one.found for one in lint(folder)]
    assert any("easily heard for" in one and "toric thirt" in one for one in found)


def test_a_grade_cannot_be_out_of_its_scale(folder: Path) -> None:
    spoil(folder, LIST, "value: marked eye $side", "value: $grade")
    spoil(folder, LIST, "compare: eye", "compare: grade")
    spoil(folder, "rules/clinical.abnf", "clinical grade $grade_number", "clinical grade $decimal")
    assert lint(folder) == []


def test_the_words_of_numbers_that_sound_alike_are_those_of_the_numbers() -> None:
    from text_to_num import text2num

    for teen, ten in TWIN_WORDS.items():
        assert twin(text2num(teen, "en")) == text2num(ten, "en")


# Respellings


def test_a_word_that_the_model_lacks_comes_with_known_words_of_its_sound(folder: Path) -> None:
    spoil(folder, "lexicon.yaml", "    hear: [tor ick]\n", "    say: torrick\n")
    problem = next(one for one in lint(folder) if '"toric"' in one.found)
    assert '; it sounds like "tor it"' in problem.expected


def test_nothing_is_proposed_of_words_that_the_model_lacks_too(folder: Path) -> None:
    spoil(folder, LIST, "bottle low", "bottle phakometer")
    known = {"bottle", "low", "full"}
    found = lint_bundle(bundle_in(folder), known.__contains__)
    problem = next(one for one in found if '"phakometer"' in one.found)
    assert "sounds like" not in problem.expected
