"""The YAML reader: which values there are, where they stand, and what is refused."""

from __future__ import annotations

import pytest
from example_documents import place_in

from voicelist.documents.yaml_reader import DEEPEST, read_yaml
from voicelist.errors import DocumentError, Problem


def value_of(scalar: str) -> object:
    document = read_yaml(f"key: {scalar}\n", "file.yaml")
    assert document.problems == ()
    assert isinstance(document.data, dict)
    return document.data["key"]


def problems_in(text: str) -> list[Problem]:
    try:
        return list(read_yaml(text, "file.yaml").problems)
    except DocumentError as error:
        return list(error.problems)


def only(text: str) -> tuple[tuple[int, int], str, str]:
    found = problems_in(text)
    assert len(found) == 1, found
    return (found[0].line, found[0].column), found[0].found, found[0].expected


@pytest.mark.parametrize(
    "word", ["no", "yes", "on", "off", "y", "n", "No", "ON", "True", "FALSE", "Yes"]
)
def test_only_true_and_false_are_booleans(word: str) -> None:
    assert value_of(word) == word
    assert value_of("true") is True
    assert value_of("false") is False
    assert value_of('"true"') == "true"


@pytest.mark.parametrize(
    ("written", "number"),
    [("12", 12), ("0", 0), ("-3", -3), ("+21.5", 21.5), ("0.25", 0.25), ("-0.5", -0.5), ("+4", 4)],
)
def test_decimal_numbers_are_numbers(written: str, number: float) -> None:
    assert value_of(written) == number
    assert type(value_of(written)) is type(number)
    assert value_of(f"'{written}'") == written


@pytest.mark.parametrize(
    "written",
    [
        "007",
        ".5",
        "5.",
        "1e3",
        "1_000",
        "0x1F",
        "0o17",
        "1:30",
        ".nan",
        ".inf",
        "12 13",
        "2024-01-02",
        "9" * 16,
        "1." + "3" * 16,
        "9" * 5000,
    ],
)
def test_whatever_else_looks_like_a_number_stays_text(written: str) -> None:
    assert value_of(written) == written


def test_marks_count_from_one_and_point_inside_quotes() -> None:
    text = "a: plain\nb: \"double\"\nlist:\n  - 'single'\n  - {c: deep}\n"
    places = read_yaml(text, "file.yaml").places
    assert str(places.of(("a",))) == "file.yaml:1:4"
    assert str(places.of(("b",))) == "file.yaml:2:5"
    assert str(places.of(("list", 0))) == "file.yaml:4:6"
    assert str(places.of(("list", 1, "c"))) == "file.yaml:5:9"
    assert str(places.of_key(("list", 1, "c"))) == "file.yaml:5:6"
    assert str(places.of(())) == "file.yaml:1:1"


def test_a_block_text_starts_in_the_line_below() -> None:
    text = "a:\n  b: |\n\n    first line\n    second\n  c: >-\n      folded\n"
    document = read_yaml(text, "file.yaml")
    assert document.data == {"a": {"b": "\nfirst line\nsecond\n", "c": "folded"}}
    assert str(document.places.of(("a", "b"))) == "file.yaml:4:5"
    assert str(document.places.of(("a", "c"))) == "file.yaml:7:7"


def test_a_path_that_is_not_written_has_the_place_of_what_is_around_it() -> None:
    places = read_yaml("a:\n  b: 1\n", "file.yaml").places
    assert places.of(("a", "x", 3)) == places.of(("a",))
    assert str(places.of_key(("a", "x"))) == "file.yaml:2:3"


def test_a_key_that_comes_again_is_a_problem_and_the_first_value_stays() -> None:
    text = "a: 1\nb:\n  - c: 2\n    c: [3]\na: {d: 4}\n"
    document = read_yaml(text, "file.yaml")
    assert document.data == {"a": 1, "b": [{"c": 2}]}
    assert [(one.line, one.column, one.found) for one in document.problems] == [
        (4, 5, 'the key "c" again'),
        (5, 1, 'the key "a" again'),
    ]
    assert document.problems[1].expected == "expected it once: the first is in line 1"
    assert str(document.places.of(("a",))) == "file.yaml:1:4"


def test_a_quoted_key_is_the_same_key() -> None:
    assert only('a: 1\n"a": 2\n')[0] == (2, 1)


@pytest.mark.parametrize("nothing", ["", " ~", " null", " # a comment only"])
def test_an_empty_value_is_a_problem(nothing: str) -> None:
    place, found, expected = only(f"a: 1\nb:{nothing}\n")
    assert place[0] == 2
    assert found.startswith("nothing")
    assert expected.startswith("expected a value")


def test_anchors_aliases_and_tags_are_refused_together() -> None:
    text = "a: &here 1\nb: *here\nc: !!str 3\nd: !mine {e: 4}\n&k f: 5\n"
    found = problems_in(text)
    assert [(one.line, one.column) for one in found] == [(1, 4), (2, 4), (3, 4), (4, 4), (5, 1)]
    assert [one.found for one in found] == [
        "an anchor (&here)",
        "an alias (*here)",
        "a tag (!!str)",
        "a tag (!mine)",
        "an anchor (&k)",
    ]
    assert all(one.expected.startswith("expected ") for one in found)


def test_an_alias_or_a_tag_as_a_key_is_refused() -> None:
    found = problems_in("a: 1\n*b : 2\n!!str c: 3\n? &d [e]\n: 4\n")
    assert [(one.line, one.column, one.found) for one in found] == [
        (2, 1, "an alias (*b)"),
        (3, 1, "a tag (!!str)"),
        (4, 3, "an anchor (&d)"),
        (4, 3, "a list or keys used as a key"),
    ]


def test_aliases_cannot_multiply_a_document() -> None:
    lines = ["a0: &a0 [x, x]"] + [f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]" for n in range(1, 40)]
    assert len(problems_in("\n".join(lines))) == 1 + 39 * 3


@pytest.mark.parametrize("key", ["[a, b]", "{a: b}"])
def test_a_key_is_a_word(key: str) -> None:
    place, found, _ = only(f"x: 1\n? {key}\n: 2\n")
    assert place == (2, 3)
    assert found == "a list or keys used as a key"


def test_a_second_document_is_refused() -> None:
    place, found, _ = only("a: 1\n---\nb: 2\n")
    assert (place, found) == ((2, 1), "a second document")


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n"])
def test_an_empty_file_is_a_problem(text: str) -> None:
    assert only(text)[:2] == ((1, 1), "an empty file")


def test_a_tab_is_named_as_a_tab() -> None:
    place, found, expected = only("a:\n\tb: 1\n")
    assert (place, found) == ((2, 1), "a tab")
    assert "spaces" in expected


def test_a_colon_in_plain_text_gets_the_remedy() -> None:
    text = "call: Firm or loose: the line?\n"
    place, found, expected = only(text)
    assert place == place_in(text, ": the")
    assert found == "a colon where none may stand"
    assert "in quotes" in expected


@pytest.mark.parametrize(
    ("text", "place", "found"),
    [
        ("done: [the] line firm\n", (1, 13), "text after a value has ended"),
        ("done: `x`\n", (1, 7), "the character ` at the start of a text"),
        ('a: "never closed\n', (2, 1), "the end of the file inside quotes"),
        ("a: [1, 2\n", (2, 1), "the end of the file inside a bracket"),
        ("a: [1 2}\n", (1, 8), "something that does not belong inside a bracket"),
        ("a:\n    b: 1\n  c: 2\n", (3, 3), "a line whose indentation fits nothing above it"),
        ("a: 1\nb\n", (3, 1), "a line without a colon"),
    ],
)
def test_broken_yaml_has_a_place_and_a_sentence(
    text: str, place: tuple[int, int], found: str
) -> None:
    assert only(text)[:2] == (place, found)


def test_what_was_wrong_before_broken_yaml_is_told_as_well() -> None:
    found = problems_in("a: 1\na: 2\nb: [\n")
    assert [one.line for one in found] == [2, 4]


@pytest.mark.parametrize("text", ['a: "\\UFFFFFFFF"\n', f"%YAML 1.{'9' * 5000}\n---\na: 1\n"])
def test_numbers_that_the_parser_trips_over_are_problems(text: str) -> None:
    assert "does not exist" in only(text)[1]


def test_a_control_character_is_a_problem_at_its_place() -> None:
    place, found, _ = only("a: 1\nb: x\x00y\n")
    assert place == (2, 5)
    assert "U+0000" in found


@pytest.mark.parametrize("opening", ["[", "{a: ", "- "])
def test_a_document_nested_too_deeply_is_a_problem(opening: str) -> None:
    found = problems_in(opening * 5000)
    assert found[-1].found == f"more than {DEEPEST} levels"
