"""The phone distance: a metric, and in the order in which people mishear."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from voicelist.phonetics.phones import (
    PHONES,
    WHOLE_PHONE,
    PhoneTable,
    apart,
    apart_within,
    by_letters,
    changing,
    distance,
    parse_table,
)

phone = st.sampled_from(sorted(PHONES))
phones = st.lists(phone, max_size=7).map(tuple)
SLACK = 1e-9


@given(phones, phones, phones)
def test_distance_and_apart_are_metrics(
    one: tuple[str, ...], other: tuple[str, ...], third: tuple[str, ...]
) -> None:
    for measure in (distance, apart):
        assert measure(one, one) == 0.0
        assert (measure(one, other) == 0.0) == (one == other)
        assert measure(one, other) == pytest.approx(measure(other, one))
        assert measure(one, third) <= measure(one, other) + measure(other, third) + SLACK


def test_changing_one_phone_for_another_is_a_metric() -> None:
    for one in PHONES:
        for other in PHONES:
            assert (changing(one, other) == 0.0) == (one == other)
            assert changing(one, other) == changing(other, one) <= WHOLE_PHONE
            for third in PHONES:
                assert changing(one, third) <= changing(one, other) + changing(other, third) + SLACK


@given(phones, phones)
def test_it_lies_between_the_library_s_distances_of_free_and_of_whole_changes(
    one: tuple[str, ...], other: tuple[str, ...]
) -> None:
    """Changes cost up to one phone, so plain Levenshtein distance is the most it can be."""
    assert distance(one, other) <= Levenshtein.distance(one, other) + SLACK
    assert distance(one, other) >= Levenshtein.distance(one, other, weights=(1, 1, 0)) - SLACK


@given(phones, phones, st.sampled_from([0.0, 0.1, 0.25, 0.6, 0.9]))
def test_apart_is_between_0_and_1_and_known_within_a_limit(
    one: tuple[str, ...], other: tuple[str, ...], limit: float
) -> None:
    whole, found = apart(one, other), apart_within(one, other, limit)
    assert 0.0 <= whole <= 1.0
    if found is not None:
        assert found == pytest.approx(whole)
        assert found <= limit
    else:
        assert whole > limit - SLACK


@given(phones, st.lists(st.tuples(st.integers(0, 6), phone), max_size=2))
def test_near_sequences_are_found_within_the_limit(
    one: tuple[str, ...], changes: list[tuple[int, str]]
) -> None:
    other = list(one)
    for at, new in changes:
        other[at : at + 1] = [new]
    whole = apart(one, other)
    assert apart_within(one, other, whole + SLACK) == pytest.approx(whole)


def test_what_has_nothing_in_common_with_silence_is_wholly_apart() -> None:
    assert apart(("T", "AY", "T"), ()) == 1.0
    assert apart((), ()) == 0.0


@pytest.mark.parametrize(
    ("near", "far"),
    [
        # Miller and Nicely 1955 (from memory): in noise place is lost before voicing and nasality.
        (("P", "T"), ("P", "B")),
        (("T", "K"), ("T", "D")),
        (("M", "N"), ("M", "B")),
        (("F", "TH"), ("F", "V")),
        (("V", "DH"), ("V", "M")),
        (("D", "G"), ("D", "N")),
        # Neighbours in a chart of American vowels against its corners (common practice, no source).
        (("IH", "EH"), ("IY", "AA")),
        (("AH", "AX"), ("IY", "UW")),
        (("AE", "EH"), ("AE", "UW")),
    ],
)
def test_what_is_mixed_up_in_noise_is_nearer(near: tuple[str, str], far: tuple[str, str]) -> None:
    assert changing(*near) < changing(*far)


def test_a_vowel_is_no_consonant() -> None:
    vowels = {one for one in PHONES if one[0] in "AEIOU"}
    assert {changing(v, c) for v in vowels for c in PHONES - vowels} == {WHOLE_PHONE}


# The table


def test_a_table_has_words_and_phones_and_comments() -> None:
    table = parse_table("# made so\nfirm\tF AX R M\non\tAA N\n")
    assert table.of_word("Firm") == ("F", "AX", "R", "M")
    assert table.of_words(("on", "firm")) == ("AA", "N", "F", "AX", "R", "M")


def test_a_word_without_phones_falls_back_to_its_letters() -> None:
    table = PhoneTable({})
    assert table.of_word("snugg") == ("S", "N", "AH", "G", "G")
    assert by_letters("Box-e1") == ("B", "AA", "K", "S", "EH")
    letters = [by_letters(letter) for letter in "abcdefghijklmnopqrstuvwxyz"]
    assert all(one and PHONES.issuperset(one) for one in letters)


def test_letters_still_tell_near_words_from_others() -> None:
    words = {word: by_letters(word) for word in ("lubed", "lobed", "stuck")}
    near = apart(words["lubed"], words["lobed"])
    others = [apart(words[one], words[two]) for one, two in combinations(words, 2)]
    assert near == min(others) < 0.2
