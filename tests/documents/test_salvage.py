"""What is left of a document without what is wrong in it: for looking at the rest."""

from __future__ import annotations

import pytest
from example_documents import CARD, CHECKLIST, place_in, spoiled

from voicelist.documents.loading import read_document
from voicelist.documents.models import Card, Checklist


def left(text: str) -> tuple[Checklist, bool, list[str]]:
    read = read_document(Checklist, text, "file.yaml")
    assert read.loaded is not None
    return read.loaded.document, read.whole, [one.found for one in read.problems]


def test_a_good_document_is_whole() -> None:
    document, whole, problems = left(CHECKLIST)
    assert (whole, problems) == (True, [])
    assert len(list(document.all_items())) == 3


@pytest.mark.parametrize(
    ("old", "new", "items", "whole"),
    [
        ("stop: true", "stopp: true", 3, True),
        ("stop: true", "stop: 7", 3, True),
        ("why: A loose line lets the eye go soft.", "wy: A loose line.", 3, True),
        (
            "call: Please read the lens power",
            "call: one two three four five six seven eight",
            3,
            True,
        ),
        ("answered by: [circulating-nurse]", "answered by: [porter]", 2, False),
        ("id: lens-power", "id: irrigation-line", 2, False),
        ("id: quadrant-profile", "name: the profile", 2, False),
    ],
)
def test_no_more_is_left_out_than_has_to_be(old: str, new: str, items: int, whole: bool) -> None:
    document, is_whole, problems = left(spoiled(CHECKLIST, old, new))
    assert problems
    assert (len(list(document.all_items())), is_whole) == (items, whole)


def test_what_is_left_knows_where_it_is_written() -> None:
    text = spoiled(CHECKLIST, "answered by: [circulating-nurse]", "answered by: [porter]")
    read = read_document(Checklist, text, "file.yaml")
    assert read.loaded is not None
    assert read.loaded.document.sections[0].items[0].id == "lens-power"
    place = read.loaded.place_of(("sections", 0, "items", 0, "value"))
    line, column = place_in(text, "lens power $lens")
    assert (place.line, place.column) == (line, column)


@pytest.mark.parametrize("text", ["", "a: [", "- 1\n", "format: 2\nsections: []\n", "format: 1\n"])
def test_of_some_documents_nothing_is_left(text: str) -> None:
    read = read_document(Checklist, text, "file.yaml")
    assert read.loaded is None
    assert read.problems


def test_a_card_without_one_broken_setting_is_a_card() -> None:
    read = read_document(Card, spoiled(CARD, "control: fixed", "control: bent"), "file.yaml")
    assert read.loaded is not None
    settings = read.loaded.document.settings_for("clinical", 1, "sculpt")
    assert settings is not None
    assert (settings.vacuum_mmHg, settings.power_percent is None) == (None, False)
