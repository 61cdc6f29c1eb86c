"""The verifier: what it hears of its own accord, and how likely it finds sentences.

The readings are published recordings of real people with their published texts. The rest of the
speech is synthetic and its limits are own measurements.
"""

from __future__ import annotations

import csv
import importlib.util
import math
import shutil
import sys
import time
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
from voicelist.asr.offline import decode_stream
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.streaming import ChannelStream
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import (
    Tokens,
    VerifierOnCall,
    verifier_folder,
    verifier_words,
    ways_to_write,
)
from voicelist.audio.sound_files import read_sound
from voicelist.understanding.hypothesis import Passes
from voicelist.understanding.questions import (
    DeadlinePassed,
    FreeTranscript,
    Transcript,
    VerifierScores,
)

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
    found = verifier_folder()
    if found is None:
        assert sys.platform != "linux", "it is installed with voicelist there"
        pytest.skip("there is no package with the second speech model for this system")
    return found


@pytest.fixture(scope="module")
def on_call(folder: Path) -> VerifierOnCall:
    return VerifierOnCall()


def test_readings_of_real_people_are_heard_without_any_phrases(
    on_call: VerifierOnCall, shared_speech: Path
) -> None:
    """LJ Speech and LibriVox recordings with their texts (shared/speech/README.md)."""
    with (shared_speech / "reading.tsv").open(encoding="utf-8", newline="") as table:
        rows = csv.DictReader(table, delimiter="\t", quoting=csv.QUOTE_NONE)
        single = [row for row in rows if row["text"] and " / " not in row["text"]]
    of_one = [row for row in single if "2mix" not in row["file"]]
    assert len(of_one) == 3
    for row in of_one:
        samples = read_sound(shared_speech / row["file"]).samples[0]
        told = on_call.transcript(samples)
        assert told is not None
        errors = jiwer.process_words(row["text"].lower(), " ".join(told.words), BARE, BARE)
        assert errors.substitutions + errors.deletions + errors.insertions <= 1, told.words


@pytest.mark.parametrize("sentence", SENTENCES)
def test_what_was_said_is_likelier_than_what_is_near_to_it(
    on_call: VerifierOnCall, sentence: str
) -> None:
    others = [one for one in SENTENCES if one != sentence]
    scores = on_call.scores(with_silence(say(sentence)), (sentence, *others))
    assert scores is not None
    assert scores[0] == max(scores)
    assert scores[0] > sorted(scores)[-2] + 3.0


@pytest.mark.parametrize(
    ("said", "other"),
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
    on_call: VerifierOnCall, said: str, other: str
) -> None:
    sound = with_silence(say(said))
    scores, transcript = on_call.scores(sound, (said, other)), on_call.transcript(sound)
    assert scores is not None
    assert scores[0] > scores[1] + 2.0
    assert transcript is not None
    assert transcript.log_likelihood >= scores[0]


def test_numbers_are_heard_in_words(on_call: VerifierOnCall) -> None:
    told = on_call.transcript(with_silence(say("bottle height ninety five")))
    assert told is not None
    assert told.words == ("bottle", "height", "ninety", "five")


def test_the_same_sound_gives_the_same_and_signs_of_life(on_call: VerifierOnCall) -> None:
    beats: list[None] = []
    sound = with_silence(say(SPOKEN))
    scores, transcripts = (
        [on_call.scores(sound, SENTENCES, lambda: beats.append(None)) for _ in range(2)],
        [on_call.transcript(sound, lambda: beats.append(None)) for _ in range(2)],
    )
    assert scores[0] == scores[1] is not None
    assert transcripts[0] == transcripts[1] is not None
    assert len(beats) > 2 * len(SENTENCES)


def test_each_sound_is_heard_by_itself(on_call: VerifierOnCall) -> None:
    """What is kept of one sound is not taken for another one's."""
    sounds = [with_silence(say(one)) for one in (SPOKEN, "hold on please", SPOKEN)]
    first, other, again = (on_call.transcript(sound) for sound in sounds)
    assert first == again != other


def test_what_nobody_waits_for_is_given_up_and_the_next_question_is_answered(
    folder: Path,
) -> None:
    def too_late() -> None:
        raise DeadlinePassed

    fresh, sound = VerifierOnCall(), with_silence(say(SPOKEN))
    with pytest.raises(DeadlinePassed):
        fresh.scores(sound, (SPOKEN,), too_late)
    assert fresh.scores(sound, (SPOKEN,)) is not None


def test_silence_and_nothing_are_no_trouble(on_call: VerifierOnCall) -> None:
    for seconds in (0.0, 0.01, 1.0, 40.0):
        scores = on_call.scores(silence(seconds), (SPOKEN,))
        transcript = on_call.transcript(silence(seconds))
        assert scores is not None
        assert transcript is not None
        assert transcript.log_likelihood > scores[0] + 5.0, seconds


def test_where_it_is_not_installed_it_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verifier, "_PACKAGE", "no_such_package")
    assert verifier_folder() is None
    assert "pip install" in verifier_words()
    absent = VerifierOnCall()
    for _ in range(2):
        assert absent.scores(with_silence(say(SPOKEN)), (SPOKEN,)) is None
        assert absent.transcript(with_silence(say(SPOKEN))) is None


def test_where_it_fails_hearing_goes_on_without_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = VerifierOnCall()
    sound = with_silence(say(SPOKEN))
    assert failing.scores(sound, (SPOKEN,)) is not None
    with monkeypatch.context() as patched:
        patched.setattr(Tokens, "of", lambda *_: [10**9])
        assert failing.scores(sound, (SPOKEN,)) is None
    assert failing.scores(sound, (SPOKEN,)) is None


@pytest.fixture
def copy(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The files in another package of that name."""
    place = tmp_path / "assets" / "tiny-en"
    shutil.copytree(folder, place)
    spec = ModuleSpec("other", None, origin=str(tmp_path / "__init__.py"))
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: spec)
    assert verifier_folder() == place
    return place


def test_files_that_were_not_measured_are_not_used(copy: Path) -> None:
    assert VerifierOnCall().scores(with_silence(say(SPOKEN)), (SPOKEN,)) is not None
    changed = bytearray((copy / "tokenizer.bin").read_bytes())
    changed[-1] ^= 1
    (copy / "tokenizer.bin").write_bytes(changed)
    assert VerifierOnCall().scores(with_silence(say(SPOKEN)), (SPOKEN,)) is None


def test_where_a_file_is_missing_or_cut_off_there_is_no_verifier(copy: Path) -> None:
    assert verifier_words().endswith("tiny-en")
    with (copy / "encoder_model.ort").open("r+b") as file:
        file.truncate(1_000)
    assert verifier_folder() is None
    (copy / "encoder_model.ort").unlink()
    assert verifier_folder() is None


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


def test_of_a_stream_it_hears_what_was_heard(
    recogniser: Recogniser, on_call: VerifierOnCall
) -> None:
    stream = ChannelStream(0, recogniser, on_call)
    (utterance,) = decode_stream(stream, with_silence(say(SPOKEN)), Sentences())
    decoder = stream.decoder(utterance.start_sample)
    assert decoder is not None
    scores = decoder.ask(VerifierScores(SENTENCES), math.inf)
    assert isinstance(scores, tuple)
    assert scores.index(max(scores)) == SENTENCES.index(SPOKEN)
    transcript = decoder.ask(FreeTranscript(), math.inf)
    assert isinstance(transcript, Transcript)
    assert " ".join(transcript.words) == SPOKEN


def test_the_other_process_asks_it(process: RecogniserProcess, folder: Path) -> None:
    process.listen(Sentences())
    once = heard_by(process, with_silence(say(SPOKEN)))
    assert texts(once)[0] == SPOKEN
    by_s = time.monotonic() + PATIENCE_S
    scores = process.ask(once, VerifierScores(SENTENCES[:2]), by_s)
    assert isinstance(scores, tuple)
    assert len(scores) == 2
    transcript = process.ask(once, FreeTranscript(), by_s)
    assert isinstance(transcript, Transcript)
    assert " ".join(transcript.words) == SPOKEN
    forgotten = DecodedUtterance(0, 1, 1, 2, 3, Passes(()))
    assert process.ask(forgotten, FreeTranscript(), by_s) is None
