"""The catalogue of sentences: templates, what fills them, and what is missing."""

from __future__ import annotations

import pytest
from example_documents import SENTENCES, only_problem, place_in, problems, spoiled

from voicelist.documents.loading import Loaded, parse_document
from voicelist.documents.models import Sentences
from voicelist.errors import DocumentError

COMPLETE = {"read-back": {"heard"}, "not understood": set[str](), "braces": {"value"}}


def loaded(text: str = SENTENCES) -> Loaded[Sentences]:
    return parse_document(Sentences, text, "file.yaml")


def test_a_sentence_is_filled() -> None:
    catalogue = loaded().document
    assert catalogue.text("read-back", heard="three fifty") == "I heard three fifty. Right?"
    assert catalogue.text("not understood") == "Please say that again."
    assert catalogue.text("braces", value=21.5) == "{literally} 21.5"


def test_a_value_is_put_in_as_it_is() -> None:
    text = loaded().document.text("read-back", heard="{heard} {0} {{")
    assert text == "I heard {heard} {0} {{. Right?"


def test_a_surplus_value_is_left_unused() -> None:
    assert loaded().document.text("not understood", key="x") == "Please say that again."


def test_an_unknown_key_is_an_error_with_the_nearest_one() -> None:
    with pytest.raises(DocumentError, match=r'no sentence "readback".*did you mean "read-back"'):
        loaded().document.text("readback", heard="x")


def test_a_placeholder_without_a_value_is_an_error() -> None:
    with pytest.raises(DocumentError, match=r'no value for \{heard\} in the sentence "read-back"'):
        loaded().document.text("read-back", herd="x")


@pytest.mark.parametrize(
    "template",
    [
        "{heard.text}",
        "{heard[0]}",
        "{0}",
        "{}",
        "{heard!r}",
        "{heard:>9}",
        "{Heard}",
        "{a b}",
        "{heard",
        "heard}",
        "{{heard}",
        "{h{e}ard}",
    ],
)
def test_a_template_has_plain_placeholders_only(template: str) -> None:
    text = spoiled(SENTENCES, "I heard {heard}. Right?", f"'{template}'")
    place, found, expected = only_problem(Sentences, text)
    assert place == (4, 15)
    assert found.startswith("a broken template: ")
    assert expected.startswith("expected {plain_names}")


@pytest.mark.parametrize("key", ["Read Back", "read  back", "-x", "$x"])
def test_a_broken_key_is_told_at_the_key(key: str) -> None:
    text = spoiled(SENTENCES, "read-back", key)
    place, found, _ = only_problem(Sentences, text)
    assert place == place_in(text, key)
    assert found == f'the text "{key}"'


def test_a_sentence_is_text() -> None:
    found = problems(Sentences, spoiled(SENTENCES, "Please say that again.", "[a]"))
    assert [(one.line, one.column, one.found) for one in found] == [(5, 19, "a list")]


def test_a_complete_catalogue_has_no_problems() -> None:
    document = loaded()
    assert document.document.problems_with(COMPLETE, document.places) == ()


def test_what_the_catalogue_lacks_is_told_at_its_place() -> None:
    document = loaded()
    required = {"read-back": {"heard", "item"}, "gone": {"b", "a"}, "braces": set[str]()}
    found = document.document.problems_with(required, document.places)
    assert [str(one) for one in found] == [
        'file.yaml:4:14: found a sentence without {item}; expected it in "read-back"',
        'file.yaml:4:3: found no sentence "gone"; expected gone: a sentence with {a}, {b}',
        "file.yaml:6:12: found the placeholder {value}; "
        'expected only placeholders that "braces" is given',
    ]


def test_without_places_the_catalogue_itself_is_named() -> None:
    (problem,) = loaded().document.problems_with({"gone": ()})
    assert (problem.file, problem.line, problem.column) == ("sentences", 1, 1)
