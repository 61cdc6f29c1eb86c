"""Numbers that may have been heard for one another."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelist.clinical.sound_alikes import twin

# Teens and tens of the same digit: a fact of English number words; that they are confused in rooms
# is common practice, no source.
PAIRS = [(13, 30), (14, 40), (15, 50), (16, 60), (17, 70), (18, 80), (19, 90)]


@pytest.mark.parametrize(("teen", "ten"), PAIRS)
def test_a_teen_and_its_ten_are_twins(teen: int, ten: int) -> None:
    assert twin(teen) == ten
    assert twin(ten) == teen


@pytest.mark.parametrize(("one", "other"), [(115, 150), (350, 315), (413, 430), (1016, 1060)])
def test_the_last_two_digits_decide(one: int, other: int) -> None:
    assert twin(one) == other
    assert twin(other) == one


@pytest.mark.parametrize("value", [0, 1, 10, 11, 12, 20, 21, 25, 31, 100, 110, 112, 120, 300, 500])
def test_the_other_numbers_have_none(value: int) -> None:
    assert twin(value) is None


def test_decimals_and_sign_stay() -> None:
    assert twin(13.5) == 30.5
    assert twin(-15.25) == -50.25
    assert twin(21.5) is None


@settings(deadline=None)
@given(st.integers(-999, 999).map(lambda quarters: quarters / 4))
def test_the_twin_of_a_twin_is_the_number_itself(value: float) -> None:
    other = twin(value)
    assert other is None or (twin(other) == value and other != value)


def test_of_the_numbers_below_a_hundred_fourteen_have_a_twin() -> None:
    assert sorted(n for n in range(100) if twin(n)) == sorted(n for pair in PAIRS for n in pair)
