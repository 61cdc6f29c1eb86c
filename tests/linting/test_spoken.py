"""What `voicelist check` says about calls, reasons, names and the catalogue."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.linting.lint_documents import SENTENCES, bundle_in, lint, only, spoil, write
from voicelist.documents.loading import load_sentences
from voicelist.places import shipped
from voicelist.session.catalogue import REQUIRED

LIST = "checklists/small.yaml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write(tmp_path)


# The assistant must not hear itself


@pytest.mark.parametrize(
    ("file", "old", "new", "words", "name"),
    [
        (LIST, "Full or low: the bottle?", "Is the bottle full?", "bottle full", "bottle.done"),
        (
            LIST,
            "Inflow must exceed outflow.",
            "Please hold on please.",
            "hold on please",
            "command",
        ),
        (LIST, "name: the lines", "name: bottle low", "bottle low", "bottle.fault"),
        # commas and capitals are not heard
        (LIST, "Full or low: the bottle?", "The bottle: full, or low?", "bottle full", "bottle"),
        (
            "sentences.en.yaml",
            'deferred: "Noted here."',
            'deferred: "Yes, that is correct."',
            "yes that is correct",
            "command.correct",
        ),
        # what is put into a sentence counts, numbers digit by digit
        (
            "sentences.en.yaml",
            'plan-differs: "Noted here, then {value}."',
            'plan-differs: "I heard lens power {value}."',
            "lens power plus two",
            "lens-power.value",
        ),
        (
            "sentences.en.yaml",
            'taken-back: "Noted here, then {name}."',
            'taken-back: "{name} full again"',
            "bottle full",
            "bottle.done",
        ),
        (
            "sentences.en.yaml",
            'did-you-mean: "Noted here, then {offer}."',
            'did-you-mean: "Was the bottle {offer}?"',
            "bottle full",
            "bottle.done",
        ),
        (
            "sentences.en.yaml",
            'report-denial: "Noted here, then {words}."',
            'report-denial: "{words}. Report it, please."',
            "report it please",
            "command.report_it",
        ),
    ],
)
def test_what_is_spoken_holds_no_permitted_sentence(
    folder: Path, file: str, old: str, new: str, words: str, name: str
) -> None:
    spoil(folder, file, old, new)
    problems = [one for one in lint(folder) if "the words" in one.found]
    assert problems
    assert problems[0].at == file
    assert f'the words "{words}" in' in problems[0].found
    assert f"which {name}" in problems[0].found
    assert "answer itself" in problems[0].expected


def test_an_item_asked_again_by_example_is_no_answer(folder: Path) -> None:
    old = 'example-choice: "Noted here, then {thing}, then {choice}."'
    spoil(folder, "sentences.en.yaml", old, 'example-choice: "Say {thing} full, or {choice}."')
    told = [one for one in lint(folder) if "bottle full" in one.found]
    assert [one.at for one in told] == [LIST]
    assert "bottle.done" in told[0].found


def test_an_item_asked_again_is_short(folder: Path) -> None:
    spoil(folder, LIST, "Full or low: the bottle?", "Full or low: the one infusion bottle?")
    old = 'example-choice: "Noted here, then {thing}, then {choice}."'
    new = 'example-choice: "Noted: {thing}, then in here as asked {choice}."'
    spoil(folder, "sentences.en.yaml", old, new)
    found = [one.found for one in lint(folder)]
    assert any(one.startswith("13 words in") for one in found), found


def test_a_denial_is_read_back_as_it_is_taken_up(folder: Path) -> None:
    """Between thing and state stands the negation, so the answer itself is not said."""
    spoil(
        folder,
        "sentences.en.yaml",
        'report-denial: "Noted here, then {words}."',
        'report-denial: "{words}: report it?"',
    )
    assert lint(folder) == []


# Nothing is given away


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Left or right: the marked eye?", "Is the left one the marked eye?"),
        ("Left or right: the marked eye?", "Is the right one the marked eye?"),
        ("The side is read from the mark.", "The left eye is planned."),
        ("read from: the mark", "read from: the mark above the left brow"),
    ],
)
def test_one_side_alone_gives_the_eye_away(folder: Path, old: str, new: str) -> None:
    spoil(folder, LIST, old, new)
    problem = only(folder)
    assert "without the other side" in problem.found
    assert new.removeprefix("read from: ") in problem.line


@pytest.mark.parametrize(
    "call",
    [
        "Is the boxed lens 21.5?",
        "Twenty one point five: the boxed lens?",
        "The boxed lens: two one point five?",
        "Twenty one and a half: boxed lens?",
    ],
)
def test_no_reading_of_the_planned_power_is_said_before_the_answer(folder: Path, call: str) -> None:
    spoil(folder, LIST, "Sign and power: the boxed lens?", call)
    problem = only(folder)
    assert problem.found == f'the expected lens power in "{call}"'
    assert "before the answer" in problem.expected


def test_another_number_gives_nothing_away(folder: Path) -> None:
    spoil(folder, LIST, "Sign and power: the boxed lens?", "Sign and power, box 2: the lens?")
    assert lint(folder) == []


def test_the_planned_model_is_not_said_before_the_answer(folder: Path) -> None:
    spoil(folder, LIST, "Which model: the boxed lens?", "Is it the monofocal alpha?")
    assert only(folder).found == 'the expected lens model in "Is it the monofocal alpha?"'


def test_an_item_that_asks_for_another_value_may_say_the_number(folder: Path) -> None:
    spoil(folder, LIST, "Which model: the boxed lens?", "Which model in box 21.5?")
    assert lint(folder) == []


# Calm words


@pytest.mark.parametrize(
    ("file", "old", "word"),
    [
        (LIST, "Inflow must exceed outflow.", "danger"),
        (LIST, "Full or low: the bottle?", "wrong"),
        (LIST, "name: time out", "alarms"),
        ("sentences.en.yaml", "Noted here, then {value}.", "faulty"),
    ],
)
def test_words_that_alarm_are_not_spoken(folder: Path, file: str, old: str, word: str) -> None:
    label = "name: " if old.startswith("name: ") else ""
    placeholder = " {value}" if "{value}" in old else ""
    spoil(folder, file, old, f"{label}Now {word.capitalize()}{placeholder} here")
    problem = only(folder)
    assert problem.at == file
    assert problem.found.startswith(f'the word "{word}" in "Now')
    assert "calm words" in problem.expected


def test_what_the_team_says_may_be_as_it_is(folder: Path) -> None:
    spoil(folder, LIST, "fault: bottle low", "fault: bottle (low | wrong)")
    assert lint(folder) == []


# The catalogue


@pytest.mark.parametrize("key", ["deferred", "plan-differs", "role.surgeon", "quantity.vacuum"])
def test_a_sentence_that_is_lacking_is_the_shipped_one(folder: Path, key: str) -> None:
    line = next(
        line for line in SENTENCES.splitlines(keepends=True) if line.startswith(f"  {key}:")
    )
    spoil(folder, "sentences.en.yaml", line, "")
    assert lint(folder) == []
    shipped_ones = load_sentences(shipped("grammars") / "sentences.en.yaml").document
    assert bundle_in(folder).sentences.sentences[key] == shipped_ones.sentences[key]


def test_a_sentence_has_just_the_placeholders_that_it_is_given(folder: Path) -> None:
    spoil(folder, "sentences.en.yaml", "then {section}, then {name}, then", "at {place} {name}")
    problems = lint(folder)
    assert [one.found for one in problems] == [
        "a sentence without {section}",
        "the placeholder {place}",
    ]


def test_read_backs_have_at_most_twelve_words(folder: Path) -> None:
    old, new = "Noted here, then {value}.", "I " + "heard " * 10 + "{value}."
    spoil(folder, "sentences.en.yaml", f'plan-differs: "{old}"', f'plan-differs: "{new}"')
    problem = only(folder)
    assert problem.found.startswith("13 words in")
    assert "12 words" in problem.expected


def test_the_base_of_these_tests_has_every_sentence() -> None:
    assert all(f"\n  {key}: " in SENTENCES for key in REQUIRED)
