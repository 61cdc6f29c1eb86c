"""The lexicon: words for the recogniser and words for the voice."""

from __future__ import annotations

import pytest
from example_documents import LEXICON, only_problem, place_in, problems, spoiled
from hypothesis import given
from hypothesis import strategies as st

from voicelist.documents.loading import parse_document
from voicelist.documents.models import Lexicon


def lexicon(text: str = LEXICON) -> Lexicon:
    return parse_document(Lexicon, text, "file.yaml").document


def of_words(*pairs: tuple[str, str]) -> Lexicon:
    words = [{"written": written, "say": say} for written, say in pairs]
    return Lexicon.model_validate({"format": 1, "language": "en-US", "words": words})


def test_a_lexicon_is_read() -> None:
    phaco, tip, iol = lexicon().words
    assert (phaco.written, phaco.hear, phaco.say) == ("phaco", ("fake oh", "fay co"), "fayko")
    assert (tip.hear, tip.say) == ((), "fayko tipp")
    assert (iol.hear, iol.say) == (("i o l",), None)


@pytest.mark.parametrize(
    ("text", "spoken"),
    [
        ("the phaco probe", "the fayko probe"),
        ("Phaco, PHACO: phaco?", "fayko, fayko: fayko?"),
        ("phacoemulsification and megaphaco", "phacoemulsification and megaphaco"),
        ("the phaco tip is tight", "the fayko tipp is tight"),
        ("the phaco tips", "the fayko tips"),
        ("the IOL", "the IOL"),
        ("", ""),
    ],
)
def test_written_words_are_replaced_whole_and_in_any_case(text: str, spoken: str) -> None:
    assert lexicon().to_speech(text) == spoken


def test_what_was_put_in_is_not_replaced_again() -> None:
    assert of_words(("a", "b"), ("b", "a")).to_speech("a b a") == "b a b"


def test_signs_in_a_written_word_are_just_signs() -> None:
    words = of_words(("I/A", "eye and aye"), ("p.s.", "postscript"), ("(x|y)", "z"))
    assert words.to_speech("I/A, pxs. p.s. (x|y)") == r"eye and aye, pxs. postscript z"


def test_a_backslash_in_what_is_said_is_just_a_backslash() -> None:
    assert of_words(("a", r"\1 \g<0>")).to_speech("a") == r"\1 \g<0>"


@given(st.text(), st.text(min_size=1).filter(lambda word: " ".join(word.split()).isprintable()))
def test_any_text_can_be_made_ready_for_the_voice(text: str, written: str) -> None:
    if not written.split():
        return
    assert isinstance(of_words((written, "said")).to_speech(text), str)


def test_letters_with_odd_capitals_find_their_word() -> None:
    assert of_words(("iris", "eye riss")).to_speech("\u0130ris") in {"\u0130ris", "eye riss"}


def test_a_lexicon_without_words_changes_nothing() -> None:
    empty = Lexicon.model_validate({"format": 1, "language": "en-US", "words": []})
    assert empty.to_speech("phaco") == "phaco"


@pytest.mark.parametrize("heard", ["Fake oh", "fake  oh", "7 oh", "fake_oh", "$fake", "", "[unk]"])
def test_what_is_heard_is_in_the_models_words(heard: str) -> None:
    text = spoiled(LEXICON, "fake oh", f'"{heard}"')
    place, _, expected = only_problem(Lexicon, text)
    line, column = place_in(text, f'"{heard}"')
    assert place == (line, column + 1)
    assert expected == "expected lower-case words of letters, as the speech model spells them"


def test_a_word_that_changes_nothing_is_told() -> None:
    text = spoiled(LEXICON, '    hear: ["i o l"]\n', "    hear: []\n")
    place, found, expected = only_problem(Lexicon, text)
    assert (place, found) == ((9, 5), "a word that changes nothing")
    assert expected == 'expected "hear" or "say" or both'


def test_a_written_word_stands_once_in_any_case() -> None:
    text = spoiled(LEXICON, "written: IOL", "written: Phaco")
    place, found, expected = only_problem(Lexicon, text)
    assert place == (9, 14)
    assert found == 'the written "Phaco" a second time'
    assert expected.endswith("(the first is in line 4)")


def test_keys_of_a_word_are_checked() -> None:
    found = problems(Lexicon, spoiled(LEXICON, "say: fayko\n", "speak: fayko\n"))
    assert [(one.line, one.found) for one in found] == [(6, 'the unknown key "speak"')]
