"""Sentences that lack or blur words without a meaning of their own, brought to permitted ones."""

from __future__ import annotations

import pytest

from tests.understanding.small_room import heard
from voicelist.understanding.interpretation import Understood


@pytest.mark.parametrize(
    ("spoken", "meant"),
    [
        ("identity consent confirmed", "identity and consent confirmed"),
        ("identity the consent confirmed", "identity and consent confirmed"),
        ("identity good consent confirmed", "identity and consent confirmed"),
    ],
)
def test_small_words_that_are_missing_or_blurred_are_repaired(spoken: str, meant: str) -> None:
    result = heard(spoken)
    assert isinstance(result, Understood)
    assert " ".join(result.words) == meant


@pytest.mark.parametrize(
    "spoken",
    [
        "identity not consent confirmed",
        "identity later consent confirmed",
        "identity and confirmed",
        "identity and and consent confirmed",
        "the identity and consent confirmed",
        "identity and consent confirmed please",
        "irrigation line and the firm",
        "pressure good pulses two",
    ],
)
def test_what_carries_meaning_or_stands_at_an_edge_is_never_repaired(spoken: str) -> None:
    assert not isinstance(heard(spoken), Understood)


@pytest.mark.parametrize(
    ("spoken", "meant"),
    [
        ("almond for eighty people sitting down", "almond oil for eighty people sitting down"),
        ("some soy for eighty people sitting down", "some soy oil for eighty people sitting down"),
    ],
)
def test_an_expression_that_can_only_end_one_way_is_completed(spoken: str, meant: str) -> None:
    result = heard(f"lay out the tray with {spoken}")
    assert isinstance(result, Understood)
    assert " ".join(result.words) == f"lay out the tray with {meant}"


@pytest.mark.parametrize(
    "spoken",
    [
        "lay out the tray with almond oil for eighty people sitting",
        "lay out tray with salt for eighty people down",
        "lay out the tray with oil for eighty people sitting down",
        "lay out the tray with salt for one twenty people sitting down",
        "lay out the tray with salt for people sitting down",
        "pressure one twenty",
        "lens model mono",
        "identity and consent",
    ],
)
def test_sentences_their_numbers_and_short_answers_are_never_completed(spoken: str) -> None:
    assert not isinstance(heard(spoken), Understood)
