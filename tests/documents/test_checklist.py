"""Checklists: what an item may say, and where it is told that it may not."""

from __future__ import annotations

import pytest
from example_documents import CHECKLIST, only_problem, place_in, problems, spoiled

from voicelist.documents.loading import parse_document
from voicelist.documents.models import Checklist

CALL = '"Firm or loose: the irrigation line?"'
WHY = "A loose line lets the eye go soft."


def checklist(text: str = CHECKLIST) -> Checklist:
    return parse_document(Checklist, text, "file.yaml").document


def test_a_checklist_is_read_with_its_defaults() -> None:
    lines, settings = checklist().sections
    assert (lines.when, lines.order) == ("first case of the day", "fixed")
    assert (settings.when, settings.order) == ("every case", "any")
    firm, power = lines.items
    assert firm.name == "irrigation line"
    assert firm.answered_by == ("circulating-nurse",)
    assert (firm.stop, firm.not_applicable, firm.read_from) == (True, False, None)
    assert firm.done == "irrigation line (firm | on and firm)"
    assert firm.fault == "irrigation line (loose | leaking)"
    assert not firm.asks_for_value
    assert (power.name, power.stop, power.not_applicable) == ("the lens", False, True)
    assert (power.compare, power.read_from, power.asks_for_value) == ("lens-power", "the box", True)
    assert settings.items[0].phase == "quadrant"


def test_all_items_come_with_their_sections_in_order() -> None:
    found = [(section.id, item.id) for section, item in checklist().all_items()]
    assert found == [
        ("lines", "irrigation-line"),
        ("lines", "lens-power"),
        ("settings", "quadrant-profile"),
    ]


def test_a_phrase_stays_as_written_and_spoken_text_becomes_one_line() -> None:
    text = spoiled(CHECKLIST, CALL, ">\n          Firm or loose:\n          the line?\n")
    text = spoiled(text, "(loose | leaking)", "(loose  |  leaking)")
    item = checklist(text).sections[0].items[0]
    assert item.call == "Firm or loose: the line?"
    assert item.fault == "irrigation line (loose  |  leaking)"


def test_documents_are_frozen() -> None:
    document = checklist()
    with pytest.raises(ValueError, match="frozen"):
        document.title = "another"  # type: ignore[misc]  # what the test is about
    assert document == checklist()


@pytest.mark.parametrize(
    ("old", "new", "needle", "found", "expected"),
    [
        ("stop: true", "stop: no", "no\n", 'the text "no"', "expected true or false"),
        ("stop: true", "stop: 1", "1\n        why", "the number 1", "expected true or false"),
        (
            "[circulating-nurse]",
            "[circulating-nurs]",
            "circulating-nurs]",
            'the text "circulating-nurs"',
            'did you mean "circulating-nurse"? expected one of "circulating-nurse", "scrub-nurse"',
        ),
        ("[circulating-nurse]", "[]", "[]", "an empty list", "expected a list of at least one"),
        ("[circulating-nurse]", "surgeon", "surgeon", 'the text "surgeon"', "expected a list"),
        (
            "id: irrigation-line",
            "id: Irrigation line",
            "Irrigation line",
            'the text "Irrigation line"',
            "expected lower-case letters, digits and dashes",
        ),
        ("order: fixed", "order: fix", "fix\n", 'the text "fix"', 'did you mean "fixed"? '),
        ("first case of the day", "sometimes", "sometimes", 'the text "some', "expected one of"),
        ("language: en-US", "language: english", "english", "the text", "expected a language tag"),
        ("title: A checklist for tests", "title: 12", "12", "the number 12", "expected the title"),
        (WHY, "12", "12\n", "the number 12", "expected the reason for the check, at most 15 words"),
        ("done: irrigation line (firm | on and firm)", "done: [a | b]", "[a |", "a list", "in quo"),
        ("compare: lens-power", "compare: lenspower", "lenspower", "the text", "did you mean"),
        ("phase: quadrant", "phase: quadrants", "quadrants", "the text", 'did you mean "quadrant"'),
        ('"lens power $lens"', '""', '"\n        compare', "an empty text", "expected some words"),
        ('"lens power $lens"', '"lens\\u200Bx"', "lens\\u", "the text", "expected printable text"),
    ],
)
def test_a_wrong_value_is_told_where_it_stands(
    old: str, new: str, needle: str, found: str, expected: str
) -> None:
    text = spoiled(CHECKLIST, old, new)
    place, was, wanted = only_problem(Checklist, text)
    assert place == place_in(text, needle)
    assert was.startswith(found)
    assert expected in wanted


def test_a_call_has_at_most_seven_words() -> None:
    seven = "one two three four five six seven"
    assert problems(Checklist, spoiled(CHECKLIST, CALL, seven)) == ()
    text = spoiled(CHECKLIST, CALL, seven + " eight")
    place, found, expected = only_problem(Checklist, text)
    assert place == (13, 15)
    assert found.startswith("8 words")
    assert expected == "expected at most 7 words"


def test_a_why_has_at_most_fifteen_words() -> None:
    assert problems(Checklist, spoiled(CHECKLIST, WHY, "word " * 15)) == ()
    place, found, expected = only_problem(Checklist, spoiled(CHECKLIST, WHY, "word " * 16))
    assert place == (17, 14)
    assert found.startswith("16 words")
    assert expected == "expected at most 15 words"


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("id", "irrigation-line"),
        ("answered by", "[circulating-nurse]"),
        ("call", CALL),
        ("why", WHY),
    ],
)
def test_an_item_needs_its_keys(key: str, value: str) -> None:
    text = spoiled(CHECKLIST, f"{key}: {value}\n", "read from: the line\n")
    place, found, expected = only_problem(Checklist, text)
    assert place == (11, 9)
    assert found == f'no key "{key}"'
    assert expected.startswith(f"expected {key}: ")


def test_an_unknown_key_is_told_at_the_key_with_the_nearest_one() -> None:
    text = spoiled(CHECKLIST, "answered by", "answered_by")
    found = problems(Checklist, text)
    assert [(one.line, one.column) for one in found] == [(11, 9), (12, 9)]
    assert found[0].found == 'no key "answered by"'
    assert found[1].found == 'the unknown key "answered_by"'
    assert found[1].expected.startswith('did you mean "answered by"? expected one of "id", "name"')


def test_an_empty_value_is_told_once() -> None:
    text = spoiled(CHECKLIST, f"why: {WHY}", "why:")
    place, found, _ = only_problem(Checklist, text)
    assert place[0] == 17
    assert found == "nothing"


SHAPE = 'expected either "done" (and perhaps "fault") or "value" with "compare"'


@pytest.mark.parametrize(
    ("old", "new", "place", "found", "expected"),
    [
        ("stop: true", "value: x", (16, 9), '"value" beside "done"', SHAPE),
        ("stop: true", "compare: eye", (16, 9), '"compare" beside "done"', SHAPE),
        ("done: irrigation", "read from: irrigation", (15, 9), '"fault" without "done"', SHAPE),
        ('value: "lens power $lens"', "stop: true", (23, 9), '"compare" without "value"', SHAPE),
        ("compare: lens-power", "stop: true", (22, 9), '"value" without "compare"', SHAPE),
        (
            "phase: quadrant",
            "stop: true",
            (34, 18),
            '"compare: profile" without "phase"',
            'expected phase: one of "sculpt", "chop"',
        ),
        (
            "compare: lens-power",
            "compare: eye\n        phase: chop",
            (24, 9),
            '"phase" in a comparison without phases',
            'expected "phase" with "compare: profile" only',
        ),
    ],
)
def test_an_item_has_exactly_one_of_two_shapes(
    old: str, new: str, place: tuple[int, int], found: str, expected: str
) -> None:
    where, was, wanted = only_problem(Checklist, spoiled(CHECKLIST, old, new))
    assert (where, was) == (place, found)
    assert wanted.startswith(expected)


def test_an_item_that_nothing_answers_is_told_at_the_item() -> None:
    text = spoiled(CHECKLIST, "        done: irrigation line (firm | on and firm)\n", "")
    text = spoiled(text, "        fault: 'irrigation line (loose | leaking)'\n", "")
    assert only_problem(Checklist, text) == ((11, 9), "an item that nothing answers", SHAPE)


def test_a_stop_item_may_list_not_applicable() -> None:
    text = spoiled(CHECKLIST, "stop: true", "stop: true\n        not applicable: true")
    item = checklist(text).sections[0].items[0]
    assert (item.stop, item.not_applicable) == (True, True)


@pytest.mark.parametrize(
    ("old", "new", "place", "found", "first"),
    [
        ("id: quadrant-profile", "id: lens-power", (30, 13), 'the id "lens-power" a second', 18),
        ("id: settings", "id: lines", (27, 9), 'the id "lines" a second time', 6),
        ("name: the lens", "name: Irrigation  LINE", (19, 15), 'the name "Irrigation  LINE"', 11),
    ],
)
def test_ids_and_names_are_unique_across_the_checklist(
    old: str, new: str, place: tuple[int, int], found: str, first: int
) -> None:
    where, was, expected = only_problem(Checklist, spoiled(CHECKLIST, old, new))
    assert where == place
    assert was.startswith(found)
    assert expected.endswith(f"(the first is in line {first})")


def test_a_section_may_share_its_id_with_an_item() -> None:
    assert problems(Checklist, spoiled(CHECKLIST, "id: lines", "id: lens-power")) == ()


def test_everything_that_is_wrong_is_told_at_once_in_the_order_of_the_file() -> None:
    text = CHECKLIST
    for old, new in [
        ("title:", "titel:"),
        ("order: fixed", "order: fixed\n    order: any"),
        ("stop: true", "stop: yes"),
        ("compare: lens-power", "compare: &x colour"),
        ("id: quadrant-profile", "id: lens-power"),
        ("phase: quadrant", "phase: ~"),
    ]:
        text = spoiled(text, old, new)
    found = [(one.line, one.found) for one in problems(Checklist, text)]
    assert found == [
        (1, 'no key "title"'),
        (4, 'the unknown key "titel"'),
        (10, 'the key "order" again'),
        (17, 'the text "yes"'),
        (24, "an anchor (&x)"),
        (24, 'the text "colour"'),
        (31, 'the id "lens-power" a second time'),
        (36, "nothing (~)"),
    ]


@pytest.mark.parametrize(
    ("text", "found"),
    [("- a\n", "a list"), ("word\n", 'the text "word"'), ("12\n", "the number 12")],
)
def test_a_document_is_made_of_keys_and_values(text: str, found: str) -> None:
    expected = "expected keys with values, such as format: 1"
    assert only_problem(Checklist, text) == ((1, 1), found, expected)


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("sections:", "sections: {a: b}\nx:", "keys with values"),
        ("items:", "items: [1, ~, text, [2]]\n    x:", "the number 1"),
    ],
)
def test_lists_hold_what_they_should(old: str, new: str, found: str) -> None:
    assert found in [one.found for one in problems(Checklist, spoiled(CHECKLIST, old, new))]
