"""Which voices may be named, and that each makes sound that can be understood."""

from __future__ import annotations

import socket

import numpy as np
import pytest

from tests.benchmarks.harness.open_ear import word_error_rate, words_in
from voicelist.asr.model import ModelPlace
from voicelist.errors import UsageError
from voicelist.speaking.levels import standard_sound
from voicelist.speaking.voices import (
    AUTOMATIC,
    HIBARI,
    SILENT,
    SYSTEM,
    SpeakingVoice,
    list_voices,
    system_voice_ids,
    voice_named,
)

SENTENCES = (
    "Firm or loose: the irrigation line?",
    "Please check the eye again.",
    "Which eye is marked: left or right?",
    "The bottle is ninety centimetres high.",
    "Heard three hundred, the card says three fifty.",
)


@pytest.fixture(scope="module")
def hibari() -> SpeakingVoice:
    return HIBARI.make(1.0)


@pytest.fixture(scope="module")
def system_ids() -> tuple[str, ...]:
    ids = system_voice_ids()
    if not ids:
        pytest.skip("no system voice is installed here (on Debian: espeak-ng)")
    return ids


def word_errors(voice: SpeakingVoice, model: ModelPlace, sentences: tuple[str, ...]) -> float:
    heard = []
    for sentence in sentences:
        sound = standard_sound(*voice.render(sentence))
        heard.append(words_in(np.frombuffer(sound.pcm, dtype="<i2"), model.path))
    return word_error_rate(sentences, heard)


def test_without_a_name_the_first_voice_that_starts_is_taken() -> None:
    assert voice_named(None) is AUTOMATIC
    assert AUTOMATIC.make(1.0).engine == "hibari"


@pytest.mark.parametrize(
    ("name", "choice"),
    [("hibari", HIBARI), ("Hibari:heart", HIBARI), ("system", SYSTEM), ("none", SILENT)],
)
def test_voices_have_names(name: str, choice: object) -> None:
    assert voice_named(name) is choice


@pytest.mark.parametrize("name", ["hibari:emma", "hibari:nobody"])
def test_a_voice_that_would_be_downloaded_is_refused(name: str) -> None:
    with pytest.raises(UsageError, match=r"downloaded.*offline.*--voice hibari"):
        voice_named(name)


@pytest.mark.parametrize("name", ["", "alto", "alto:hibari", "none:x"])
def test_an_unknown_name_is_answered_with_the_choices(name: str) -> None:
    with pytest.raises(UsageError, match="hibari, system, system:ID or none"):
        voice_named(name)


def test_an_unknown_system_voice_is_answered_with_those_there_are(
    system_ids: tuple[str, ...],
) -> None:
    with pytest.raises(UsageError, match="no system voice xx/nowhere") as refused:
        voice_named("system:xx/nowhere")
    assert any(one in str(refused.value) for one in system_ids)


def test_a_system_voice_is_taken_by_its_identifier(system_ids: tuple[str, ...]) -> None:
    assert voice_named(f"system:{system_ids[0].upper()}").argument == system_ids[0]


def test_every_listed_voice_can_be_named(system_ids: tuple[str, ...]) -> None:
    listed = list_voices()
    assert listed[0].name == "hibari"
    assert listed[-1].name == "none"
    for listing in (*listed[:4], *listed[-2:]):
        voice_named(listing.name)


def test_hibari_says_the_same_text_the_same_way_and_uses_no_network(
    hibari: SpeakingVoice, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the network was used")

    monkeypatch.setattr(socket, "socket", refuse)
    first, rate = HIBARI.make(1.0).render("the left eye")
    again, _ = hibari.render("the left eye")
    assert rate == 24_000
    assert first.dtype == np.int16
    assert first.tobytes() == again.tobytes()


def test_a_slower_pace_takes_longer(hibari: SpeakingVoice, system_ids: tuple[str, ...]) -> None:
    text = "the irrigation line is firm"
    assert len(HIBARI.make(0.7).render(text)[0]) > 1.2 * len(hibari.render(text)[0])
    assert len(SYSTEM.make(0.7).render(text)[0]) > 1.2 * len(SYSTEM.make(1.0).render(text)[0])


def test_hibari_is_understood_without_a_grammar(
    hibari: SpeakingVoice, speech_model: ModelPlace
) -> None:
    assert word_errors(hibari, speech_model, SENTENCES) < 0.15


def test_of_a_system_voice_a_good_part_is_made_out_without_a_grammar(
    system_ids: tuple[str, ...], speech_model: ModelPlace
) -> None:
    assert word_errors(SYSTEM.make(1.0), speech_model, SENTENCES[1:3]) < 0.6


def test_the_system_voice_speaks_again_and_again(system_ids: tuple[str, ...]) -> None:
    voice = SYSTEM.make(1.0)
    lengths = {len(voice.render("tip and sleeve")[0]) for _ in range(3)}
    assert min(lengths) > 8_000
    assert max(lengths) < 1.1 * min(lengths)


@pytest.mark.parametrize(
    "text",
    ['"; touch /tmp/x; echo "', "$(id)", "<b>bold & loud</b>", ("tip and sleeve " * 34)[:500]],
)
def test_text_is_only_ever_spoken(
    system_ids: tuple[str, ...], hibari: SpeakingVoice, text: str
) -> None:
    for voice in (hibari, SYSTEM.make(1.0)):
        samples, _ = voice.render(text)
        assert np.abs(samples).max() > 300
