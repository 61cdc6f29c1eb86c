"""What is listened for where no permitted sentence was understood."""

from __future__ import annotations

from tests.session.talk import shipped_case
from voicelist.grammar.ruleset import RuleSet
from voicelist.session.natural import Natural
from voicelist.understanding.plain_phrases import PlainPhrases

CASE = shipped_case("practice-101")
PHRASES = PlainPhrases(CASE.natural.rules)


def pairs_of(phrases: tuple[str, ...]) -> set[tuple[str, str]]:
    said = (one.split() for one in phrases)
    return {pair for words in said for pair in zip(["", *words], [*words, ""], strict=True)}


def holds(pairs: set[tuple[str, str]], sentence: str) -> bool:
    words = sentence.split()
    return pairs.issuperset(zip(["", *words], [*words, ""], strict=True))


def phrases_of(item: str) -> tuple[str, ...]:
    about = CASE.natural.about(item)
    assert about is not None
    return PHRASES.of(about)


def test_answers_of_an_item_stand_beside_what_denies_doubts_or_puts_them_off() -> None:
    pairs = pairs_of(phrases_of("irrigation-line"))
    for sentence in (
        *("firm", "it's firm", "yes the irrigation line is tight", "irrigation line firm"),
        *("not firm", "the irrigation line isn't firm", "is the irrigation line firm"),
        *(
            "it's loose",
            "irrigation line loose",
            "make sure the irrigation line is tight",
            "firm later",
        ),
        "i think it's firm",
    ):
        assert holds(pairs, sentence), sentence


def test_that_there_is_nothing_stands_beside_that_there_is() -> None:
    pairs = pairs_of(phrases_of("allergies"))
    for sentence in ("none", "no allergies", "nothing known", "not known"):
        assert holds(pairs, sentence), sentence


def test_values_and_settings() -> None:
    value, source = CASE.natural.value_phrase("lens-power")
    assert value is not None
    pairs = pairs_of(PHRASES.of_value(value, source))
    for sentence in ("plus twenty one point five", "it says minus three", "is it plus nineteen"):
        assert holds(pairs, sentence), sentence
    pairs = pairs_of(PHRASES.of_settings())
    for sentence in ("power thirty percent vacuum three hundred", "flow at twenty eight please"):
        assert holds(pairs, sentence), sentence


def test_they_are_worked_out_once() -> None:
    assert phrases_of("irrigation-line") is phrases_of("irrigation-line")
    assert PHRASES.of_settings() is PHRASES.of_settings()
    once, again = (CASE.natural.value_phrase("lens-power") for _ in range(2))
    assert once[0] is not None
    assert again[0] is not None
    assert PHRASES.of_value(once[0], once[1]) is PHRASES.of_value(again[0], again[1])


def test_rules_of_an_older_record_give_the_items_own_words() -> None:
    """A record holds the rules that it was made under; those before had no such rules."""
    files = tuple(one for one in CASE.natural.rules.files if "heard" not in one.file)
    natural = Natural(CASE.items, RuleSet(files))
    about = natural.about("irrigation-line")
    assert about is not None
    assert "firm" in PlainPhrases(natural.rules).of(about)
    assert PlainPhrases(natural.rules).of_settings() == ()
