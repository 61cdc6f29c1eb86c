"""Phones from spelling, against the table that the program eSpeak NG made."""

from __future__ import annotations

import pytest

from voicelist.documents.phone_table import phone_table
from voicelist.phonetics.phones import PHONES, apart, by_letters
from voicelist.phonetics.spelling import by_spelling

TABLE = phone_table("en-US").words
WORDS = [word for number, word in enumerate(sorted(TABLE)) if not number % 20 and word.isalpha()]


def test_it_is_nearer_to_what_a_program_says_than_letters_alone() -> None:
    ours = [apart(by_spelling(word), TABLE[word]) for word in WORDS]
    letters = [apart(by_letters(word), TABLE[word]) for word in WORDS]
    assert sum(ours) < 0.75 * sum(letters)


def test_it_is_made_of_phones() -> None:
    assert all(PHONES.issuperset(by_spelling(word)) for word in (*WORDS, "o'clock", "x"))


@pytest.mark.parametrize(
    ("word", "phones"),  # ARPAbet as in common pronouncing dictionaries, from memory
    [("hose", "HH OW Z"), ("check", "CH EH K"), ("light", "L AY T"), ("home", "HH OW M")],
)
def test_common_spellings(word: str, phones: str) -> None:
    assert by_spelling(word) == tuple(phones.split())
