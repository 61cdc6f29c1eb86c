"""The witness: what it hears of its own accord, and how likely it finds sentences.

The readings are published recordings of real people with their published texts. The rest of the
speech is synthetic and its limits are own measurements.
"""

from __future__ import annotations

import csv
import importlib.util
import shutil
import sys
from importlib.machinery import ModuleSpec
from pathlib import Path

import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st
from spoken import (
    PATIENCE_S,
    SENTENCES,
    Sentences,
    heard_by,
    say,
    silence,
    texts,
    with_silence,
)

from voicelist.asr import verifier
from voicelist.asr.offline import Whole, decode_stream, decode_whole
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import Ears
from voicelist.asr.streaming import ChannelEar
from voicelist.asr.utterance import Utterance
from voicelist.asr.verifier import OnCall, Tokens, ways_to_write, witness_folder, witness_words
from voicelist.audio.sound_files import read_sound

SPOKEN = "irrigation line firm"
# Bare words of the readings' texts, and one that is written in two ways.
BARE = jiwer.Compose(
    [
        jiwer.RemovePunctuation(),
        jiwer.SubstituteWords({"mister": "mr"}),
        jiwer.ReduceToListOfListOfWords(),
    ]
)


@pytest.fixture(scope="module")
def folder() -> Path:
    found = witness_folder()
    if found is None:
        assert sys.platform != "linux", "it is installed with voicelist there"
        pytest.skip("there is no package with the second speech model for this system")
    return found


@pytest.fixture(scope="module")
def on_call(folder: Path) -> OnCall:
    return OnCall()


def test_readings_of_real_people_are_heard_without_any_phrases(
    on_call: OnCall, shared_speech: Path
) -> None:
    """LJ Speech and LibriVox recordings with their texts (shared/speech/README.md)."""
    with (shared_speech / "reading.tsv").open(encoding="utf-8", newline="") as table:
        rows = csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE)
        single = [row for row in rows if row["text"] and " / " not in row["text"]]
    of_one = [row for row in single if "2mix" not in row["file"]]
    assert len(of_one) == 3
    for row in of_one:
        samples = read_sound(shared_speech / row["file"]).samples[0]
        told = on_call.hear(samples, (), True)
        assert told is not None
        errors = jiwer.process_words(row["text"].lower(), " ".join(told.words), BARE, BARE)
        assert errors.substitutions + errors.deletions + errors.insertions <= 1, told.words


@pytest.mark.parametrize("sentence", SENTENCES)
def test_what_was_said_is_likelier_than_what_is_near_to_it(on_call: OnCall, sentence: str) -> None:
    others = [one for one in SENTENCES if one != sentence]
    told = on_call.hear(with_silence(say(sentence)), (sentence, *others), False)
    assert told is not None
    assert told.likely[0] == max(told.likely)
    assert told.likely[0] > sorted(told.likely)[-2] + 3.0
    assert (told.words, told.freely) == ((), 0.0)


@pytest.mark.parametrize(
    ("said", "turned"),
    [
        ("irrigation line firm", "irrigation line isn't firm"),
        ("irrigation line isn't firm", "irrigation line firm"),
        ("the left eye is marked", "the left eye will be marked"),
        ("is the irrigation line firm", "the irrigation line firm"),
        ("vacuum three fifteen", "vacuum three fifty"),
        ("vacuum three fifty", "vacuum three fifteen"),
    ],
)
def test_a_denial_a_question_and_another_number_are_told_apart(
    on_call: OnCall, said: str, turned: str
) -> None:
    told = on_call.hear(with_silence(say(said)), (said, turned), True)
    assert told is not None
    assert told.likely[0] > told.likely[1] + 2.0
    assert told.freely >= told.likely[0]


def test_numbers_are_heard_in_words(on_call: OnCall) -> None:
    told = on_call.hear(with_silence(say("bottle height ninety five")), (), True)
    assert told is not None
    assert told.words == ("bottle", "height", "ninety", "five")


def test_the_same_sound_gives_the_same_evidence_and_signs_of_life(on_call: OnCall) -> None:
    beats: list[None] = []
    sound = with_silence(say(SPOKEN))
    told = [on_call.hear(sound, SENTENCES, True, lambda: beats.append(None)) for _ in range(2)]
    assert told[0] == told[1]
    assert len(beats) > 2 * len(SENTENCES)


def test_silence_and_nothing_are_no_trouble(on_call: OnCall) -> None:
    for seconds in (0.0, 0.01, 1.0, 40.0):
        told = on_call.hear(silence(seconds), (SPOKEN,), True)
        assert told is not None
        assert told.freely > told.likely[0] + 5.0, seconds


def test_where_it_is_not_installed_it_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verifier, "_PACKAGE", "no_such_package")
    assert witness_folder() is None
    assert "pip install" in witness_words()
    absent = OnCall()
    for _ in range(2):
        assert absent.hear(with_silence(say(SPOKEN)), (SPOKEN,), True) is None


def test_where_it_fails_hearing_goes_on_without_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = OnCall()
    sound = with_silence(say(SPOKEN))
    assert failing.hear(sound, (SPOKEN,), False) is not None
    with monkeypatch.context() as patched:
        patched.setattr(Tokens, "of", lambda *_: [10**9])
        assert failing.hear(sound, (SPOKEN,), False) is None
    assert failing.hear(sound, (SPOKEN,), False) is None


@pytest.fixture
def copy(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The files in another package of that name."""
    place = tmp_path / "assets" / "tiny-en"
    shutil.copytree(folder, place)
    spec = ModuleSpec("other", None, origin=str(tmp_path / "__init__.py"))
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: spec)
    assert witness_folder() == place
    return place


def test_files_that_were_not_measured_are_not_used(copy: Path) -> None:
    assert OnCall().hear(with_silence(say(SPOKEN)), (SPOKEN,), False) is not None
    changed = bytearray((copy / "tokenizer.bin").read_bytes())
    changed[-1] ^= 1
    (copy / "tokenizer.bin").write_bytes(changed)
    assert OnCall().hear(with_silence(say(SPOKEN)), (SPOKEN,), False) is None


def test_where_a_file_is_missing_or_cut_off_there_is_no_witness(copy: Path) -> None:
    assert witness_words().endswith("tiny-en")
    with (copy / "encoder_model.ort").open("r+b") as file:
        file.truncate(1_000)
    assert witness_folder() is None
    (copy / "encoder_model.ort").unlink()
    assert witness_folder() is None


@pytest.fixture(scope="module")
def tokens(folder: Path) -> Tokens:
    return Tokens((folder / "tokenizer.bin").read_bytes())


@given(st.lists(st.text("abcdefghijklmnopqrstuvwxyz'", min_size=1), min_size=1).map(" ".join))
def test_a_text_is_its_pieces(tokens: Tokens, text: str) -> None:
    pieces = tokens.of(text)
    assert tokens.text(pieces) == text
    assert not tokens.unwritten[pieces].any()


def test_figures_and_signs_are_not_written(tokens: Tokens) -> None:
    for text in ("350", "50%", "é"):
        assert tokens.unwritten[tokens.of(text)].any(), text


def test_a_sentence_is_put_in_the_ways_in_which_it_may_be_written() -> None:
    assert ways_to_write("bottle height ninety five") == [
        "Bottle height ninety five",
        "Bottle height ninety-five",
    ]
    assert ways_to_write("model one twenty") == ["Model one twenty"]


def test_no_piece_of_a_word_holds_what_ends_a_sentence(tokens: Tokens) -> None:
    """So that a sentence and the same as a question differ in one piece, and can be put at once."""
    ended = [tokens.full_stop], [tokens.question_mark]
    assert [tokens.text(one) for one in ended] == [".", "?"]
    for text in SENTENCES:
        assert (tokens.of(f"{text}."), tokens.of(f"{text}?")) == tuple(
            tokens.of(text) + one for one in ended
        )


def test_of_a_file_and_of_a_stream_it_hears_what_was_heard(
    recogniser: Recogniser, on_call: OnCall
) -> None:
    samples = with_silence(say(SPOKEN))
    whole = decode_whole(recogniser, samples, Sentences())
    ear = ChannelEar(0, recogniser, on_call)
    (streamed,) = decode_stream(ear, samples, Sentences())
    for told in (
        Whole(recogniser, samples, Sentences(), on_call).evidence(whole, SENTENCES, True),
        ear.evidence(streamed, SENTENCES, True),
    ):
        assert told is not None
        assert " ".join(told.words) == SPOKEN
        assert told.likely.index(max(told.likely)) == SENTENCES.index(SPOKEN)
    assert ear.evidence(Utterance(0, 0, 1, 2, 3, (), (), 0.0), SENTENCES, True) is None


def test_the_other_process_asks_it(ears: Ears, folder: Path) -> None:
    ears.listen(Sentences())
    once = heard_by(ears, with_silence(say(SPOKEN)))
    assert texts(once)[0] == SPOKEN
    assert ears.evidence(once, SENTENCES, True, 0.0) is None
    told = ears.evidence(once, SENTENCES[:2], True, PATIENCE_S)
    assert told is not None
    assert " ".join(told.words) == SPOKEN
    assert len(told.likely) == 2
    forgotten = Utterance(0, 1, 1, 2, 3, (), (), 0.0)
    assert ears.evidence(forgotten, SENTENCES, True, PATIENCE_S) is None
