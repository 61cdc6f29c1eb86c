"""The committed table of phones covers what ships, is small, and is what its script makes."""

from __future__ import annotations

import importlib.util
import shutil
import sys
from pathlib import Path
from types import ModuleType

import pytest

from voicelist.asr.model import ModelPlace
from voicelist.asr.vocabulary import vocabulary
from voicelist.documents.phone_table import phone_table
from voicelist.linting.sound_alikes import ALIKE, NEARLY
from voicelist.phonetics.phones import PHONES, apart

TOOL = Path(__file__).resolve().parents[2] / "tools" / "phones.py"
# The spelling alphabet of radio telephony (ITU Radio Regulations, appendix 14; from memory), whose
# words were chosen by tests of hearing, so that none is taken for another.
SPELLING = """
alpha bravo charlie delta echo foxtrot golf hotel india juliet kilo lima mike november oscar papa
quebec romeo sierra tango uniform victor whiskey yankee zulu
"""
TEENS_AND_TENS = [("thirteen", "thirty"), ("fifteen", "fifty"), ("nineteen", "ninety")]


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("phones_tool", TOOL)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def how_far(one: str, other: str) -> float:
    table = phone_table("en-US")
    return apart(table.of_word(one), table.of_word(other))


def test_every_word_of_the_shipped_documents_has_phones(tool: ModuleType) -> None:
    words = tool.document_words()
    assert {"irrigation", "phaco", "isn't", "thirteen", "opal"} <= words
    assert words - phone_table("en-US").words.keys() == set()


def test_the_table_is_small_and_of_known_phones_and_says_how_it_was_made(tool: ModuleType) -> None:
    text = tool.TABLE.read_text(encoding="utf-8")
    assert len(text.encode()) < 300_000
    assert text.startswith("#")
    assert "tools/phones.py" in text[:600]
    assert "espeak-ng" in text[:600]
    words = phone_table("en-US").words
    assert list(words) == sorted(words)
    assert all(one and PHONES.issuperset(one) for one in words.values())


def test_thousands_of_its_words_are_known_to_the_speech_model(speech_model: ModelPlace) -> None:
    assert len(phone_table("en-US").words.keys() & vocabulary(speech_model.path)) > 4000


def test_the_script_makes_the_same_phones_again(tool: ModuleType) -> None:
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    words = ["firm", "form", "irrigation", "thirty", "bottle", "charge", "measure", "choice"]
    # Of another version a vowel may differ; the words must stay what they are.
    for word, phones in zip(words, tool.espeak(words), strict=True):
        assert apart(phones, phone_table("en-US").of_word(word)) <= ALIKE, word


def test_the_common_words_are_those_that_the_model_weighs_most(
    tool: ModuleType, speech_model: ModelPlace
) -> None:
    common = list(tool.common_words(speech_model.path))
    # Among the commonest English words in any count (common practice, no source).
    assert {"the", "and", "to", "you", "it"} <= set(common[:30])
    assert common.index("time") < common.index("bottle") < common.index("quinoa")
    assert set(common) <= vocabulary(speech_model.path)


def test_a_language_without_a_table_has_letters() -> None:
    assert phone_table("de-DE").words == {}
    assert phone_table("../en").words == {}
    assert phone_table("de").of_word("zu") == ("Z", "AH")


# What the limits let through


@pytest.mark.parametrize(("teen", "ten"), TEENS_AND_TENS)
def test_teens_and_tens_sound_alike(teen: str, ten: str) -> None:
    """Common practice, no source: the pairs that are read back."""
    assert how_far(teen, ten) <= ALIKE


@pytest.mark.parametrize(
    ("one", "other"), [("firm", "form"), ("tight", "type"), ("loose", "lose"), ("left", "lift")]
)
def test_words_that_differ_in_one_near_phone_sound_alike(one: str, other: str) -> None:
    assert how_far(one, other) <= ALIKE


def test_words_chosen_to_be_told_apart_do_not_sound_alike() -> None:
    words = SPELLING.split()
    pairs = [(one, other) for one in words for other in words if one < other]
    assert len(pairs) == 300
    assert [pair for pair in pairs if how_far(*pair) <= NEARLY] == []


def test_digits_do_not_sound_alike() -> None:
    digits = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    assert [(a, b) for a in digits for b in digits if a < b and how_far(a, b) <= NEARLY] == []
