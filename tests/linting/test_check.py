"""What `voicelist check` says about a case: where, what, and what to do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.linting.lint_documents import (
    CHECKLIST,
    bundle_in,
    knows,
    lint,
    lint_bundle,
    only,
    spoil,
    write,
)
from voicelist.documents.embedded import Bundle
from voicelist.linting.vocabulary import nearly, split_in_two

LIST = "checklists/small.yaml"
DONE = "irrigation line (firm | on and firm)"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path)


def test_good_documents_have_no_problems(folder: Path) -> None:
    assert lint_bundle(bundle_in(folder), knows) == ()
    assert lint_bundle(bundle_in(folder), None) == ()


# Phrases that do not compile


def test_broken_phrases_and_unknown_rules_are_reported_all_at_once(folder: Path) -> None:
    spoil(folder, LIST, DONE, "irrigation line (firm")
    spoil(folder, LIST, "bottle low", "bottle $low or $lower")
    spoil(folder, LIST, "marked eye $side", "marked eye $GARBAGE")
    problems = lint(folder)
    assert [(one.found, one.line) for one in problems] == [
        ("the end of the text", ""),
        ("$low", "$low or $lower"),
        ("$lower", "$lower"),
        ("$GARBAGE", "$GARBAGE"),
    ]
    assert "')' to close the group" in problems[0].expected
    assert "$slower" in problems[1].expected, "the nearest names"


def test_the_rest_is_still_linted_beside_a_broken_phrase(folder: Path) -> None:
    spoil(folder, LIST, DONE, "irrigation line (firm")
    spoil(folder, LIST, "Inflow must exceed outflow.", "Danger without inflow.")
    assert [one.found for one in lint(folder)] == [
        "the end of the text",
        'the word "danger" in "Danger without inflow."',
    ]


def test_a_broken_rules_file_is_reported_with_its_path(folder: Path) -> None:
    spoil(folder, "rules/clinical.abnf", "public $side = left", "public $side left")
    (problem,) = lint(folder)
    assert (problem.at, problem.line[:4]) == ("rules/clinical.abnf", "left")
    assert "'=' after $side" in problem.expected


def test_rules_that_the_session_knows_by_name_have_to_be_there(folder: Path) -> None:
    bundle = bundle_in(folder)
    lacking = bundle.rules["commands"].replace("public $hold_on =", "public $wait =")
    told = lint_bundle(replace(bundle, rules={**bundle.rules, "commands": lacking}), knows)
    assert [one.found for one in told] == ["no public rule $hold_on beside this checklist"]
    assert "public $hold_on" in told[0].expected


def test_a_rule_that_a_site_leaves_out_is_the_one_that_ships(folder: Path) -> None:
    spoil(folder, "rules/commands.abnf", "public $hold_on =", "public $also_ours =")
    assert lint(folder) == []


def test_a_recursive_rule_is_reported_where_it_closes(folder: Path) -> None:
    spoil(folder, "rules/clinical.abnf", "left {left}", "left {left} [$side]")
    problems = lint(folder)
    assert ("rules/clinical.abnf", "$side]") in {(one.at, one.line[:6]) for one in problems}
    assert any("a rule inside itself ($side -> $side)" in one.found for one in problems)


# Sentences with two meanings


def test_a_sentence_of_two_items_is_reported_at_the_later_one(folder: Path) -> None:
    spoil(folder, LIST, "fault: bottle low", "fault: (bottle low | irrigation line loose)")
    problem = only(folder)
    assert problem.line.startswith("(bottle low")
    assert problem.found == (
        'the sentence "irrigation line loose", which irrigation-line.fault also permits'
    )
    assert "only bottle.fault has" in problem.expected
    assert f"line {CHECKLIST[: CHECKLIST.index('fault:')].count(chr(10)) + 1}" in problem.expected


def test_done_and_fault_of_one_item_may_not_share_a_sentence(folder: Path) -> None:
    spoil(folder, LIST, "fault: bottle low", "fault: bottle (low | full)")
    problem = only(folder)
    assert problem.line == "bottle (low | full)"
    assert '"bottle full", which bottle.done also permits' in problem.found


def test_an_answer_that_is_a_command_is_reported_at_the_item(folder: Path) -> None:
    spoil(folder, LIST, "fault: bottle low", "fault: bottle low | hold on please")
    problem = only(folder)
    assert problem.line == "bottle low | hold on please"
    assert '"hold on please", which command.hold_on also permits' in problem.found
    assert "commands.abnf" in problem.expected


def test_answers_to_a_read_back_belong_to_no_item_either(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full", "done: bottle full | that is correct")
    assert "command.correct" in only(folder).found


def test_two_commands_may_not_share_a_sentence(folder: Path) -> None:
    spoil(
        folder, "rules/commands.abnf", "go_on_with_case = ", "go_on_with_case = report it please | "
    )
    problem = only(folder)
    assert problem.at == "rules/commands.abnf"
    assert '"report it please"' in problem.found


# Too few words


def test_a_stop_item_needs_two_words(folder: Path) -> None:
    spoil(folder, LIST, "fault: irrigation line loose", "fault: irrigation line loose | leaking")
    problem = only(folder)
    assert problem.line == "irrigation line loose | leaking"
    assert problem.found == '"leaking", 1 word'
    assert "stop item" in problem.expected


def test_one_word_may_answer_another_item_in_a_fixed_order_only(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full", "done: topped")
    assert lint(folder) == []
    spoil(folder, LIST, "order: fixed", "order: any")
    problem = only(folder)
    assert problem.found == '"topped", 1 word'
    assert "any order" in problem.expected


def test_a_respelled_word_is_one_word(folder: Path) -> None:
    entry = "  - written: phakometer\n    hear: [fake oh meter]\n"
    spoil(folder, "lexicon.yaml", "  - written: toric", entry + "  - written: toric")
    spoil(folder, LIST, "fault: irrigation line loose", "fault: phakometer")
    assert only(folder).found == '"phakometer", 1 word'


def test_silence_is_no_answer(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full", "done: '[bottle full]'")
    problem = only(folder)
    assert "silence" in problem.found
    assert problem.line.startswith("[bottle full]")


def test_a_phrase_that_nobody_can_say_is_none(folder: Path) -> None:
    spoil(folder, LIST, "done: bottle full", "done: bottle $VOID")
    assert "nobody can say" in only(folder).found


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("hold on please |", "hold on |", '"hold on", 2 words in command.hold_on'),
        ("undo the last answer |", "undo |", '"undo", 1 word in command.undo'),
        ("where are we [now]", "where [are we now]", '"where", 1 word in command.where_are_we'),
    ],
)
def test_what_may_be_said_at_any_time_needs_three_words(
    folder: Path, old: str, new: str, found: str
) -> None:
    spoil(folder, "rules/commands.abnf", old, new)
    problem = only(folder)
    assert problem.found == found
    assert "at least 3 words" in problem.expected
    assert problem.at == "rules/commands.abnf"


def test_what_acts_needs_two_words(folder: Path) -> None:
    spoil(folder, "rules/commands.abnf", "| that is correct", "| correct")
    problem = only(folder)
    assert problem.found == '"correct", 1 word in command.correct'
    assert problem.line.startswith("$correct")
    assert "at least 2 words" in problem.expected
    spoil(folder, "rules/commands.abnf", "| correct", "| quite correct")
    assert lint(folder) == []


# Phrases without their value


@pytest.mark.parametrize(
    ("old", "new", "sentence", "expected"),
    [
        ("marked eye $side", "eye marked [$side]", "eye marked", "$side"),
        ("marked eye $side", "marked eye (left | right)", "marked eye left", "$side"),
        ("lens model $lens_model", "lens model (alpha | bravo)", "lens model alpha", "$lens_model"),
        ("lens power $signed", "lens power twenty", "lens power twenty", "$signed"),
    ],
)
def test_a_value_phrase_has_its_value_in_every_sentence(
    folder: Path, old: str, new: str, sentence: str, expected: str
) -> None:
    spoil(folder, LIST, old, new)
    problem = only(folder)
    assert f'"{sentence}", which holds no value' in problem.found
    assert expected in problem.expected


def test_a_side_needs_its_tag(folder: Path) -> None:
    spoil(folder, "rules/clinical.abnf", "left {left}", "left")
    assert '"marked eye left"' in only(folder).found
    spoil(folder, "rules/clinical.abnf", "$side = left", "$side = left {port}")
    assert '"marked eye left"' in only(folder).found


def test_a_lens_power_may_be_said_without_its_sign_because_that_is_asked_for(folder: Path) -> None:
    spoil(folder, LIST, "lens power $signed", "lens power ($signed | $decimal)")
    assert lint(folder) == []


@pytest.mark.parametrize(
    ("compare", "phrase", "sentence"),
    [
        ("grade", "nucleus grade $integer", "nucleus grade"),
        ("axis", "the axis at $digits", "the axis at"),
        ("profile", "my usual settings", "my usual settings"),
    ],
)
def test_grade_axis_and_profile_have_their_rules_too(
    folder: Path, compare: str, phrase: str, sentence: str
) -> None:
    extra = "\n        phase: quadrant" if compare == "profile" else ""
    spoil(folder, LIST, "value: marked eye $side", f"value: {phrase}{extra}")
    spoil(folder, LIST, "compare: eye", f"compare: {compare}")
    if compare == "axis":
        spoil(folder, "plans/small-1.yaml", "power_D: +21.5", "power_D: +21.5, axis_deg: 90")
    problem = only(folder)
    assert problem.found.startswith(f'the sentence "{sentence}')
    assert f'no value for "{compare}"' in problem.found


# Words that the speech model lacks


def test_unknown_words_are_reported_where_they_are_written_with_what_is_near(folder: Path) -> None:
    spoil(folder, LIST, DONE, "irrigation line (snugg | on and firm)")
    spoil(folder, "rules/clinical.abnf", "left {left}", "aspirator {left}")
    problems = lint(folder)
    assert [(one.at, one.line.split()[0]) for one in problems] == [
        (LIST, "snugg"),
        ("rules/clinical.abnf", "aspirator"),
    ]
    assert problems[0].found == 'the word "snugg", which the speech model does not know'
    assert 'near it are "sn ugg" and "snu gg"' in problems[0].expected


def test_without_a_speech_model_nothing_is_said_about_words(folder: Path) -> None:
    spoil(folder, LIST, DONE, "irrigation line (snugg | on and firm)")
    assert lint_bundle(bundle_in(folder), None) == ()


def test_a_respelled_word_need_not_be_known_but_its_spelling(folder: Path) -> None:
    spoil(folder, "lexicon.yaml", "hear: [mono focal]", "hear: [mono focal, snugg focal]")
    problem = only(folder)
    assert (problem.at, problem.line) == ("lexicon.yaml", "snugg focal]")
    assert '"snugg"' in problem.found


def test_a_lexicon_entry_that_only_says_how_to_speak_helps_nobody_to_hear(folder: Path) -> None:
    spoil(folder, "lexicon.yaml", "    hear: [tor ick]\n", "    say: torrick\n")
    problems = lint(folder)
    assert {one.found for one in problems} == {
        'the word "toric", which the speech model does not know'
    }
    assert [one.at for one in problems] == ["rules/clinical.abnf"]


def test_words_are_heard_one_by_one(folder: Path) -> None:
    spoil(folder, "lexicon.yaml", "written: toric", "written: boxed toric")
    problems = [one for one in lint(folder) if one.at == "lexicon.yaml"]
    assert len(problems) == 1
    assert problems[0].line == "boxed toric"
    assert "an entry for each word" in problems[0].expected


def test_near_words_are_two_known_ones_or_one_letter_away() -> None:
    known = {"mono", "focal", "mon", "centimeters", "a", "tight"}
    assert split_in_two("monofocal", known.__contains__) == ["mono focal"]
    assert split_in_two("afocal", known.__contains__) == []
    assert nearly("centimetres", known.__contains__) == ["centimeters"]
    assert nearly("thight", known.__contains__) == ["tight"]
    assert nearly("focal", known.__contains__) == []


# The plan and its card


def test_a_lens_model_that_nobody_can_say_is_reported_in_the_plan(folder: Path) -> None:
    spoil(folder, "plans/small-1.yaml", "monofocal alpha", "monofocal gamma")
    problem = only(folder)
    assert (problem.at, problem.line[:15]) == ("plans/small-1.yaml", "monofocal gamma")
    assert "$lens_model" in problem.expected


def test_an_axis_that_is_compared_has_to_be_planned(folder: Path) -> None:
    spoil(folder, LIST, "marked eye $side", "axis at $integer")
    spoil(folder, LIST, "compare: eye", "compare: axis")
    problem = only(folder)
    assert problem.at == "plans/small-1.yaml"
    assert "axis_deg" in problem.expected
    spoil(folder, LIST, "compare: axis", "compare: axis\n        when: toric lens")
    assert lint(folder) == []


def test_an_axis_that_is_planned_has_to_be_compared(folder: Path) -> None:
    spoil(folder, "plans/small-1.yaml", "power_D: +21.5", "power_D: +21.5, axis_deg: 90")
    problem = only(folder)
    assert (problem.at, problem.expected) == (
        "plans/small-1.yaml",
        'expected an item with "compare: axis"',
    )


def profile(folder: Path) -> None:
    spoil(folder, LIST, "marked eye $side", "$vacuum")
    spoil(folder, LIST, "compare: eye", "compare: profile\n        phase: quadrant")


def test_a_setting_that_nobody_can_say_is_reported_in_the_card(folder: Path) -> None:
    profile(folder)
    assert lint(folder) == []
    flow = "flow_cc_per_min: {value: 32, control: fixed, tolerance: 3}"
    spoil(folder, "cards/small.yaml", "      quadrant:\n", f"      quadrant:\n        {flow}\n")
    problem = only(folder)
    assert (problem.at, problem.line) == ("cards/small.yaml", "32, control: fixed, tolerance: 3}")
    assert "flow_cc_per_min" in problem.found


def test_a_card_without_the_planned_grade_is_reported_in_the_plan(folder: Path) -> None:
    profile(folder)
    spoil(folder, "cards/small.yaml", "to: 4", "to: 2")
    problem = only(folder)
    assert problem.at == "plans/small-1.yaml"
    assert problem.found == "clinical grade 3"
    assert "quadrant" in problem.expected


def test_a_card_that_contradicts_itself_is_reported_where_it_does(folder: Path) -> None:
    spoil(folder, "cards/small.yaml", "power_percent: {value: 0", "power_percent: {value: 20")
    problem = only(folder)
    assert (problem.at, problem.line[:3]) == ("cards/small.yaml", "20,")
    assert problem.found == "20 % in cortex"


# A bundle out of a record


def test_a_recorded_bundle_is_linted_without_its_files(folder: Path) -> None:
    spoil(folder, LIST, "fault: bottle low", "fault: bottle (low | full)")
    recorded = Bundle.from_json(bundle_in(folder).to_json())
    (problem,) = lint_bundle(recorded, knows)
    assert problem.file == "the embedded checklist"
    assert "bottle.done" in problem.found


def test_linting_changes_nothing(folder: Path) -> None:
    bundle = bundle_in(folder)
    before = replace(bundle)
    assert lint_bundle(bundle, knows) == lint_bundle(bundle, knows)
    assert bundle == before
