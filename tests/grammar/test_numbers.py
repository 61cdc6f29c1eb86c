"""How numbers may be said under the shipped rules, and what each reading amounts to."""

from __future__ import annotations

from functools import cache

import pytest
from num2words import num2words
from text_to_num import alpha2digit, text2num

from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.numbers import value_of
from voicelist.grammar.ruleset import RuleSet
from voicelist.places import shipped

Value = float | int
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
NUMBER_RULES = ("integer", "decimal", "signed", "digits", "percent")


@cache
def grammar(rule: str) -> Grammar:
    rules = RuleSet.from_texts(
        (path.stem, path.read_text(encoding="utf-8"))
        for path in sorted((shipped("grammars") / "rules").glob("*.abnf"))
    )
    return Grammar({"number": parse_expansion(f"${rule}", "test")}, rules)


def values(rule: str, said: str) -> set[Value | None]:
    """Every value that the words can have; none if they are not permitted."""
    return {match.inside[0].value for match in grammar(rule).parses(said.split())}


def in_words(number: Value) -> str:
    """One hundred and twenty five, without the hyphens."""
    return str(num2words(number)).replace("-", " ")


def by_digit(number: int) -> str:
    return " ".join(DIGITS[int(digit)] for digit in str(number))


# Whole numbers


@pytest.mark.parametrize("rule", ["integer", "decimal"])
def test_every_number_in_words_is_itself_and_nothing_else(rule: str) -> None:
    assert {n: values(rule, in_words(n)) for n in range(1000)} == {n: {n} for n in range(1000)}


def test_the_and_behind_hundred_may_be_left_out() -> None:
    spoken = {n: in_words(n).replace(" and ", " ") for n in range(1000)}
    assert {n: values("integer", said) for n, said in spoken.items()} == {
        n: {n} for n in range(1000)
    }


def test_every_number_may_be_said_digit_by_digit() -> None:
    assert {n: values("integer", by_digit(n)) for n in range(1000)} == {n: {n} for n in range(1000)}


def test_oh_may_stand_for_a_nought_that_is_not_alone() -> None:
    with_nought = [n for n in range(100, 1000) if "0" in str(n)]
    spoken = {n: by_digit(n).replace("zero", "oh") for n in with_nought}
    assert {n: values("integer", said) for n, said in spoken.items()} == {
        n: {n} for n in with_nought
    }
    assert values("integer", "oh") == set()


@pytest.mark.parametrize("unit", ["one", "five", "nine"])
def test_a_single_oh_after_one_digit_is_half_of_a_hundred_and_no_number(unit: str) -> None:
    """Of "five oh oh" the recogniser often hears "five oh": 500 must not be taken for 50."""
    assert values("integer", f"{unit} oh") == set()
    assert len(values("integer", f"{unit} oh oh")) == 1
    assert len(values("integer", f"{unit} zero")) == 1


@pytest.mark.parametrize("hundreds", range(1, 10))
def test_hundreds_and_the_rest_may_be_set_side_by_side(hundreds: int) -> None:
    """ "one fifty" is 150, "three twenty" 320, "two seventeen" 217, "nine ninety nine" 999."""
    for rest in range(10, 100):
        said = f"{DIGITS[hundreds]} {in_words(rest)}"
        assert values("integer", said) == {hundreds * 100 + rest}, said


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("one fifty", 150),
        ("three twenty", 320),
        ("three twenty five", 325),
        ("one oh five", 105),
        ("one zero five", 105),
        ("one double oh", 100),
        ("three double zero", 300),
        ("three double five", 355),
        ("double zero", 0),
        ("double five", 55),
        ("triple zero", 0),
        ("triple two", 222),
        ("a hundred", 100),
        ("a hundred and five", 105),
        ("five hundred", 500),
        ("five hundred five", 505),
        ("twenty five", 25),
        ("two five", 25),
    ],
)
def test_a_reading_that_is_written_down_has_its_value(said: str, value: int) -> None:
    assert values("integer", said) == {value}


@pytest.mark.parametrize(
    "said",
    [
        "hundred",
        "zero five",
        "oh five",
        "twenty ten",
        "five twenty five five",
        "one hundred and",
        "one hundred fifty six seven",
        "thirty forty",
        "double",
        "double twelve",
        "and five",
        "one and five",
        "one thousand",
        "one two three four",
        "minus five",
        "plus five",
        "five point",
        "five point five",
    ],
)
def test_what_is_no_whole_number_is_not_one(said: str) -> None:
    assert values("integer", said) == set()


# Another reader of number words


def test_text2num_agrees_on_every_number_that_is_said_in_full() -> None:
    assert [n for n in range(1000) if text2num(in_words(n), "en") != n] == []


@pytest.mark.parametrize(
    ("said", "ours", "theirs"),
    [
        # It reads numbers as they are written in prose, and so knows no numbers set side by side,
        ("one fifty", 150, "1 50"),
        ("three twenty", 320, "3 20"),
        # no digits one by one,
        ("three five zero", 350, "3 5 0"),
        ("two one five", 215, "2 1 5"),
        # neither "oh" nor "double",
        ("one oh five", 105, "one oh 5"),
        ("three double zero", 300, "3 double zero"),
        ("double zero", 0, "double zero"),
        # and no "a" for one.
        ("a hundred", 100, "a 100"),
    ],
)
def test_text2num_does_not_know_how_settings_are_said(said: str, ours: int, theirs: str) -> None:
    assert values("integer", said) == {ours}
    with pytest.raises(ValueError, match="invalid literal"):
        text2num(said, "en")
    assert alpha2digit(said, "en") == theirs


def test_text2num_agrees_on_decimals_said_digit_by_digit() -> None:
    for hundredths in range(0, 4001, 25):
        said = decimal_readings(hundredths)[0]
        # Without the threshold it leaves small numbers as words.
        theirs = float(alpha2digit(said, "en", threshold=0))
        assert values("decimal", said) == {theirs}, said


@pytest.mark.parametrize(
    ("said", "ours", "theirs"),
    [
        ("twenty one point twenty five", 21.25, "21 point 25"),
        ("twenty one point oh five", 21.05, "21 point oh 5"),
        ("two one point five", 21.5, "2 1.5"),
        ("point five", 0.5, "point 5"),
        ("twenty one and a half", 21.5, "21 and a half"),
    ],
)
def test_text2num_does_not_know_how_powers_are_said(said: str, ours: float, theirs: str) -> None:
    assert values("decimal", said) == {ours}
    assert alpha2digit(said, "en") == theirs


# Decimals and signs


def decimal_readings(hundredths: int) -> list[str]:
    """Three ways to say a number of quarters: as it is written, without needless noughts; digit by
    digit with three decimals; the decimals as one number, or a nought for none."""
    whole, rest = divmod(hundredths, 100)
    decimals = f"{rest:02d}"
    full = in_words(whole)
    short = " ".join(DIGITS[int(digit)] for digit in decimals.rstrip("0"))
    long = " ".join(DIGITS[int(digit)] for digit in f"{decimals}0")
    return [
        f"{full} point {short}" if rest else full,
        f"{by_digit(whole)} point {long}",
        f"{full} point {in_words(rest)}",
    ]


POWERS = range(-1000, 4001, 25)


def test_every_power_from_minus_ten_to_plus_forty_is_understood_in_three_readings() -> None:
    for hundredths in POWERS:
        signs = ("minus", "negative") if hundredths < 0 else ("plus", "positive")
        readings = decimal_readings(abs(hundredths))
        assert len(set(readings)) == 3
        for said in (f"{sign} {reading}" for sign in signs for reading in readings):
            assert values("signed", said) == {hundredths / 100}, said


def test_a_power_without_its_sign_is_no_signed_number() -> None:
    for hundredths in POWERS:
        for reading in decimal_readings(abs(hundredths)):
            assert values("signed", reading) == set(), reading
            assert values("decimal", reading) == {abs(hundredths) / 100}, reading


def test_a_decimal_has_no_sign() -> None:
    for sign in ("plus", "positive", "minus", "negative"):
        assert values("decimal", f"{sign} five") == set()


@pytest.mark.parametrize(
    ("said", "part"), [("a quarter", 0.25), ("a half", 0.5), ("three quarters", 0.75)]
)
def test_parts_of_one_may_be_said(said: str, part: float) -> None:
    for whole in range(1000):
        assert values("decimal", f"{in_words(whole)} and {said}") == {whole + part}


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("point five", 0.5),
        ("point two five", 0.25),
        ("point zero five", 0.05),
        ("zero point five", 0.5),
        ("twenty point oh five", 20.05),
        ("twenty point five", 20.5),
        ("twenty point twenty", 20.2),
        ("twenty one point fifty", 21.5),
        ("one twenty one point one two five", 121.125),
        ("nineteen point zero", 19),
    ],
)
def test_a_decimal_reading_has_its_value(said: str, value: float) -> None:
    assert values("decimal", said) == {value}


def test_plus_and_minus_set_numbers_apart() -> None:
    assert values("signed", "minus one point five") == {-1.5}
    assert values("signed", "plus one point five") == {1.5}
    assert values("signed", "minus zero") == {0}


# Percent and digits


def test_a_percentage_needs_its_word() -> None:
    assert values("percent", "forty percent") == {40}
    assert values("percent", "four zero percent") == {40}
    assert values("percent", "forty") == set()


def test_digits_are_one_by_one_and_at_most_eight() -> None:
    assert values("digits", "one oh zero two") == {1002}
    assert values("digits", "oh oh seven") == {7}
    assert values("digits", "nine " * 8) == {99_999_999}
    assert values("digits", "nine " * 9) == set()
    assert values("digits", "twelve") == set()


# All of them


@pytest.mark.parametrize("rule", NUMBER_RULES)
def test_no_sentence_has_two_values(rule: str) -> None:
    several = {}
    for sentence in grammar(rule).graph.samples(seed=1000, count=3000):
        found = {match.inside[0].value for match in grammar(rule).parses(sentence)}
        if len(found) != 1 or None in found:
            several[sentence] = found
    assert several == {}


@pytest.mark.parametrize("rule", NUMBER_RULES)
def test_what_is_written_of_a_number_is_what_was_said(rule: str) -> None:
    for sentence in grammar(rule).graph.samples(seed=2000, count=200):
        (match,) = grammar(rule).parses(sentence)
        assert match.words == sentence
        assert match.inside[0].inside == ()


# The tags by themselves


def test_tags_without_a_number_have_no_value() -> None:
    assert value_of([]) is None
    assert value_of(["number"]) is None
    assert value_of(["number", "minus"]) is None


def test_a_tag_that_is_no_number_is_a_defect_of_the_rules() -> None:
    with pytest.raises(ValueError, match="dozen"):
        value_of(["number", "dozen"])


def test_a_unit_is_added_to_tens_only() -> None:
    assert value_of(["number", "20", "5"]) == 25
    assert value_of(["number", "25", "5"]) == 255
    assert value_of(["number", "10", "5"]) == 105


def test_whole_values_are_whole_and_the_others_exact() -> None:
    assert value_of(["number", "20", "1"]) == 21
    assert type(value_of(["number", "20", "1"])) is int
    assert value_of(["number", "plus", "20", "1", "point", "2", "5"]) == 21.25
    assert value_of(["number", "0", "point", "1"]) == 0.1
