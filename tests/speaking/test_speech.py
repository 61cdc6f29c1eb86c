"""What may be spoken, and where it is cut."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.speaking.speech import TEXT_AT_MOST, Sound, Speech, silence


@pytest.mark.parametrize("text", ["", "   ", "...", "?!", "\n", "- -"])
def test_text_without_anything_to_pronounce_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="nothing to speak"):
        Speech.of(text)


def test_text_is_refused_beyond_its_limit_and_taken_up_to_it() -> None:
    assert Speech.of("a" * TEXT_AT_MOST).text == "a" * 500
    with pytest.raises(ValueError, match="501 characters"):
        Speech.of("a" * (TEXT_AT_MOST + 1))


@pytest.mark.parametrize("text", ["bell\a", "escape \x1b[2J", "zero\0byte"])
def test_control_characters_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="control characters"):
        Speech.of(text)


def test_line_breaks_become_blanks() -> None:
    assert Speech.of(" the left\n  eye ").text == "the left eye"


@pytest.mark.parametrize(
    ("text", "sentences"),
    [
        ("Firm or loose: the irrigation line?", ("Firm or loose: the irrigation line?",)),
        ("Heard 21.5. The plan says more.", ("Heard 21.5.", "The plan says more.")),
        ("One! Two? Three; four", ("One!", "Two?", "Three;", "four")),
        ("Wait . . . now.", ("Wait . . .", "now.")),
        ("... wait.", ("... wait.",)),
    ],
)
def test_text_is_cut_at_the_ends_of_sentences(text: str, sentences: tuple[str, ...]) -> None:
    assert Speech.of(text).sentences() == sentences


@given(st.text("ab1 .?!;,", min_size=1, max_size=60).filter(lambda t: any(map(str.isalnum, t))))
def test_cutting_loses_nothing_and_leaves_nothing_unspeakable(text: str) -> None:
    speech = Speech.of(text)
    assert " ".join(speech.sentences()) == speech.text
    for sentence in speech.sentences():
        assert Speech.of(sentence).text == sentence


def test_the_beginning_of_a_sound_has_the_length_asked_for() -> None:
    sound = Sound(b"\1\0" * 16_000)
    assert sound.seconds == 1.0
    assert sound.first(0.25).seconds == 0.25
    assert sound.first(5.0) == sound
    assert silence(0.5).pcm == bytes(16_000)
