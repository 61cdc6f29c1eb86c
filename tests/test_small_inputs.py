"""Small inputs do not exhaust the machine: each attack runs in a process of its own with a limit of
memory, is refused in one sentence, and takes little."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.bounded import Ended, bounded
from tests.command import CHECKLIST, GRAMMARS
from voicelist.asr.model import ModelPlace
from voicelist.audio.sound_files import LIMITS, look_through, read_sound
from voicelist.errors import TOLD_AT_MOST, Problem, told_of
from voicelist.reading import FILE_LIMITS

HEADER = "#ABNF 1.0 UTF-8;\nlanguage en-US;\nroot $said;\n"
# Most of it is what the program takes before it reads anything.
SMALL_MB = 400
HOUR_MB = 300

PREPARED = """
import sys
from pathlib import Path
from voicelist.errors import VoicelistError
from voicelist.hear import context_for
from voicelist.understanding.phrase_lists import hearing_grammar
try:
    context = context_for(Path(sys.argv[1]), None)
    hearing_grammar(context.grammar, context.room)
except VoicelistError as error:
    print(error, file=sys.stderr)
    sys.exit(error.exit_code)
"""

PLAYED = """
import sys
from pathlib import Path
from voicelist.errors import VoicelistError
from voicelist.listening.room_sound import Recording
code = 0
for name in sys.argv[1:]:
    try:
        room, samples = Recording(Path(name), real_pace=False), 0
        while (piece := room.read()) is not None:
            samples += piece.samples.shape[1]
        print(samples)
    except VoicelistError as error:
        print(error, file=sys.stderr)
        code = error.exit_code
sys.exit(code)
"""

READ = """
import sys
from pathlib import Path
from voicelist.audio.sound_files import read_sound
from voicelist.errors import VoicelistError
try:
    read_sound(Path(sys.argv[1]))
except VoicelistError as error:
    print(error, file=sys.stderr)
    sys.exit(error.exit_code)
"""


def words(count: int) -> list[str]:
    letters = "abcdefghij"
    return ["w" + "".join(letters[int(one)] for one in str(number)) for number in range(count)]


PHRASES = {
    "nested repeats": "(((((yes <0-9>) <0-9>) <0-9>) <0-9>) <0-9>) no",
    "60,000 words": " ".join(words(60_000)),
    "60,000 alternatives": " | ".join(words(60_000)),
    "3,000 alternatives with repeats": f"({' | '.join(words(3_000))}) <1-4>",
    "3,000 optional words": " ".join(f"[{word}]" for word in words(3_000)) + " end",
}


@pytest.mark.parametrize("phrase", PHRASES.values(), ids=PHRASES)
def test_a_grammar_that_multiplies_is_refused(tmp_path: Path, phrase: str) -> None:
    grammar = tmp_path / "said.abnf"
    grammar.write_text(f"{HEADER}public $said = {phrase};\n", encoding="utf-8")
    ended = bounded(grammar, code=PREPARED)
    ended.refused_in_one_sentence("said.abnf:4:", "too large together", "expected fewer")
    assert ended.peak_mb < SMALL_MB


def checklist_with(folder: Path, phrase: str) -> Path:
    text = CHECKLIST.read_text(encoding="utf-8")
    before = "done: irrigation line (firm | on and firm)"
    assert before in text
    (folder / "checklists").mkdir()
    path = folder / "checklists" / "phaco.yaml"
    path.write_text(text.replace(before, f"{before[:-1]} | {phrase})"), encoding="utf-8")
    return path


@pytest.mark.parametrize("phrase", [PHRASES["60,000 words"], PHRASES["nested repeats"]])
def test_check_refuses_a_checklist_that_multiplies(tmp_path: Path, phrase: str) -> None:
    ended = bounded("check", checklist_with(tmp_path, phrase))
    assert ended.code == 1
    assert "too large together" in ended.out
    assert not ended.err or "model" in ended.err
    assert ended.peak_mb < SMALL_MB


def test_words_of_the_room_that_multiply_are_refused(tmp_path: Path) -> None:
    checklist = checklist_with(tmp_path, "on")
    (tmp_path / "rules").mkdir()
    room = (GRAMMARS / "rules" / "room.abnf").read_text(encoding="utf-8")
    assert "if [the]" in room
    (tmp_path / "rules" / "room.abnf").write_text(
        room.replace("if [the]", "if [the] | (yes <0-9>) <0-9> no"), encoding="utf-8"
    )
    ended = bounded(checklist, code=PREPARED)
    ended.refused_in_one_sentence("room:24:8", "too large together")
    assert ended.peak_mb < SMALL_MB


def test_a_grammar_of_50_mb_is_not_read(tmp_path: Path) -> None:
    grammar = tmp_path / "said.abnf"
    line = "// a comment of some length\n"
    grammar.write_text(f"{HEADER}public $said = yes no;\n" + line * (50_000_000 // len(line)))
    ended = bounded(grammar, code=PREPARED)
    ended.refused_in_one_sentence("said.abnf:1:1", "at most 2 MB")
    assert ended.peak_mb < SMALL_MB


def test_a_count_of_6000_digits_is_refused(tmp_path: Path) -> None:
    grammar = tmp_path / "said.abnf"
    grammar.write_text(f"{HEADER}public $said = yes <0-{'9' * 6000}> no;\n")
    ended = bounded(grammar, code=PREPARED)
    ended.refused_in_one_sentence("said.abnf:4:20", "bounded repeat")
    assert len(ended.err) < 500


@pytest.mark.parametrize(
    "text",
    ["{" * 5_000 + "a: 1" + "}" * 5_000, "? " * 5_000 + "a\n", "a: " + "[" * 5_000],
    ids=["keys of keys", "explicit keys", "lists"],
)
def test_yaml_nested_5000_deep_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "deep.yaml"
    path.write_text(text)
    ended = bounded("check", path)
    assert ended.code == 1
    assert "more than 40 levels" in ended.out
    assert len(ended.out.splitlines()) <= 43
    assert ended.peak_mb < SMALL_MB


def test_yaml_of_180000_keys_is_refused(tmp_path: Path) -> None:
    (tmp_path / "checklists").mkdir()
    path = tmp_path / "checklists" / "many.yaml"
    path.write_text("format: 1\n" + "".join(f"a{number}:\n" for number in range(180_000)))
    ended = bounded("check", path)
    assert ended.code == 1
    assert len(ended.out.splitlines()) == TOLD_AT_MOST + 2
    assert " more of the kind." in ended.out
    assert ended.peak_mb < SMALL_MB


def test_of_many_problems_fifty_are_printed_and_the_rest_is_counted(tmp_path: Path) -> None:
    path = tmp_path / "said.abnf"
    path.write_text(f"{HEADER}public $said = {'$none ' * 60_000};\n")
    ended = bounded("check", path)
    assert ended.code == 1
    lines = ended.out.splitlines()
    assert sum("found $none" in line for line in lines) == TOLD_AT_MOST
    assert "... and 59,950 more of the kind." in lines
    assert lines[-1].startswith("60000 problem(s).")
    assert ended.peak_mb < SMALL_MB


def test_notes_make_room_for_what_is_more_than_a_note() -> None:
    notes = tuple(Problem("f", line, 1, "a", "b", note=True) for line in range(60))
    grave = tuple(Problem("f", line, 1, "c", "d") for line in range(60, 70))
    told = told_of((*notes, *grave))
    assert told[40:50] == [str(one) for one in grave]
    assert told[50:] == ["... and 20 more of the kind."]


def pipe(tmp_path: Path, name: str) -> Path:
    os.mkfifo(tmp_path / name)
    return tmp_path / name


def test_a_named_pipe_is_no_document_no_sound_no_journal_no_table(tmp_path: Path) -> None:
    bounded("check", pipe(tmp_path, "p.abnf"))
    for ended in (
        bounded(tmp_path / "p.abnf", code=PREPARED),
        bounded("record", "verify", pipe(tmp_path, "p.jsonl")),
        bounded("hear", CHECKLIST, "x.wav", "--expect", pipe(tmp_path, "p.tsv")),
        bounded("record", "verify", "/dev/zero"),
    ):
        ended.refused_in_one_sentence("ordinary file")
        assert ended.peak_mb < SMALL_MB
    sounds = [pipe(tmp_path, "p.wav"), Path("/dev/zero")]
    assert refused_each(sounds, "ordinary file").peak_mb < SMALL_MB


def test_a_journal_too_large_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "journal.jsonl"
    with path.open("wb") as file:
        file.truncate(20 * FILE_LIMITS.journal)
    ended = bounded("record", "verify", path)
    ended.refused_in_one_sentence("at most 64 MB")
    assert ended.peak_mb < SMALL_MB


@pytest.mark.parametrize("line", [b"\n" * 30_000_000, b"[" * 30_000_000 + b"\n"])
def test_a_journal_of_nothing_does_not_verify(tmp_path: Path, line: bytes) -> None:
    path = tmp_path / "journal.jsonl"
    path.write_bytes(line)
    ended = bounded("record", "verify", path)
    assert ended.code == 1
    assert "Line 1 cannot be read" in ended.out
    assert ended.peak_mb < SMALL_MB


def test_a_table_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "said.tsv"
    path.write_text("file\ttext\n" + "a\n" * 900_000)
    ended = bounded("hear", CHECKLIST, "x.wav", "--expect", path)
    ended.refused_in_one_sentence("more than 20,000 lines")
    assert ended.peak_mb < SMALL_MB


def silence(path: Path, hours: float, rate: int = 16_000) -> Path:
    with soundfile.SoundFile(str(path), "w", rate, 1, subtype="PCM_16") as file:
        minute = np.zeros(60 * rate, np.int16)
        for _ in range(round(60 * hours)):
            file.write(minute)
    return path


def test_hours_of_silence_in_a_small_file_are_refused(tmp_path: Path) -> None:
    path = silence(tmp_path / "long.flac", 13, 8_000)
    assert path.stat().st_size < 3_000_000
    for code in (PLAYED, READ):
        ended = bounded(path, code=code)
        ended.refused_in_one_sentence("longer than 12 hours", "cut it")
        assert ended.peak_mb < SMALL_MB


def test_an_hour_of_sound_is_heard_a_block_at_a_time(tmp_path: Path) -> None:
    path = silence(tmp_path / "hour.flac", 1, 44_100)
    ended = bounded(path, code=PLAYED)
    assert ended.code == 0, ended.text
    assert int(ended.out) == 3600 * 16_000
    assert ended.peak_mb < HOUR_MB
    bounded(path, code=READ).refused_in_one_sentence("60 minutes", "--stream")


def test_utterances_are_found_in_an_hour_of_sound(tmp_path: Path, speech_model: ModelPlace) -> None:
    path = silence(tmp_path / "hour.flac", 1)
    ended = bounded("hear", CHECKLIST, path, "--stream", "--json")
    assert (ended.code, ended.out) == (0, "")
    assert ended.peak_mb < HOUR_MB


def refused_each(files: Sequence[Path], *told: str) -> Ended:
    """Each of these files, by one process, in a sentence of its own that holds this."""
    ended = bounded(*files, code=PLAYED)
    assert ended.code in (1, 2), ended
    sentences = ended.err.strip().splitlines()
    assert len(sentences) == len(files), ended.err
    for file, sentence in zip(files, sentences, strict=True):
        assert file.name in sentence
        for words in told:
            assert words in sentence
    return ended


def test_samples_that_are_no_numbers_are_refused(tmp_path: Path) -> None:
    files = [tmp_path / f"{name}.wav" for name in ("nan", "inf", "minus-inf")]
    for file, value in zip(files, (np.nan, np.inf, -np.inf), strict=True):
        wave = np.zeros(64_000, np.float32)
        wave[40_000] = value
        soundfile.write(file, wave, 16_000, subtype="FLOAT")
    refused_each(files, "no numbers, from second 2 on")


def test_numbers_beyond_full_scale_stay_numbers(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "loud.wav", np.full(48_000, 3e38), 48_000, subtype="FLOAT")
    heard = read_sound(tmp_path / "loud.wav").samples
    assert heard[0, 8_000] == np.iinfo(np.int16).max


def test_rates_that_nobody_records_with_are_refused(tmp_path: Path) -> None:
    files = [tmp_path / f"{rate}.wav" for rate in (1, 7_999, 192_001, 500_000)]
    for file in files:
        soundfile.write(file, np.zeros(20_000, np.int16), int(file.stem))
    assert refused_each(files, "8 to 192 kHz").peak_mb < SMALL_MB


def test_sound_without_a_header_is_refused(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("s.raw", "s.RAW", "s.gsm", "s.vox", "s.al")]
    for file in files:
        file.write_bytes(bytes(range(250)) * 128)
    refused_each(files, "WAV or FLAC")


@pytest.mark.parametrize("rate", [8_000, 11_025, 44_100, 192_000])
def test_blocks_are_the_whole_sound(tmp_path: Path, rate: int) -> None:
    """Heard in blocks it is what it is in one piece, to a step of the resampler's rounding."""
    import soxr

    wave = np.random.default_rng(3).normal(0.0, 0.1, 5 * rate).astype(np.float32)
    soundfile.write(tmp_path / "noise.wav", wave, rate, subtype="FLOAT")
    heard = np.concatenate(list(look_through(tmp_path / "noise.wav", LIMITS).blocks()), axis=1)
    whole = soxr.resample(wave, rate, 16_000) * 32_767.0
    assert heard.shape == (1, len(whole))
    assert np.abs(heard[0] - whole).max() <= 2.0


FUZZED = """
from hypothesis import given, settings, strategies as st
from voicelist.documents.yaml_reader import read_yaml
from voicelist.errors import DocumentError
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar

NODE = st.recursive(
    st.sampled_from(["yes", "no", "firm", "$NULL", "{tag}", '"two words"', "/2/ a"]),
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=4).map(lambda x: "(" + " | ".join(x) + ")"),
        st.lists(inner, min_size=1, max_size=4).map(" ".join),
        inner.map(lambda x: f"[{x}]"),
        st.tuples(inner, st.integers(0, 40)).map(lambda x: f"({x[0]}) <0-{x[1]}>"),
    ),
    max_leaves=12,
)
SIGNS = st.text(alphabet='ab1"<>-/{}[]()|$;*=!&?:,. \\n', max_size=200)

@settings(max_examples=60, derandomize=True, deadline=None, database=None)
@given(st.one_of(NODE, SIGNS))
def phrases(text):
    try:
        Grammar({"r": parse_expansion(text, "f")}).phrase_list()
    except DocumentError as error:
        assert error.problems[0].line >= 1

YAML = st.recursive(
    st.sampled_from(["a", "1", "true", "'x'", "*b", "&b a", "!!x a", ""]),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4).map(lambda x: "[" + ", ".join(x) + "]"),
        st.tuples(inner, inner).map(lambda x: "{" + x[0] + ": " + x[1] + "}"),
        st.tuples(inner, st.integers(1, 300)).map(lambda x: "[" * x[1] + x[0] + "]" * x[1]),
        st.tuples(inner, st.integers(1, 300)).map(lambda x: "? " * x[1] + x[0]),
    ),
    max_leaves=12,
)

@settings(max_examples=150, derandomize=True, deadline=None, database=None)
@given(st.one_of(YAML, SIGNS))
def documents(text):
    try:
        read_yaml(text, "f")
    except DocumentError as error:
        assert error.problems[0].line >= 1

phrases()
documents()
"""


def test_random_phrases_and_documents_take_little_and_end_in_sentences() -> None:
    ended: Ended = bounded(code=FUZZED)
    assert ended.code == 0, ended.text
    assert ended.peak_mb < SMALL_MB


def test_a_line_of_a_journal_is_bounded(tmp_path: Path) -> None:
    path = tmp_path / "journal.jsonl"
    path.write_text(json.dumps([0] * 4_000_000, separators=(",", ":")) + "\n")
    ended = bounded("record", "verify", path)
    assert ended.code == 1
    assert "too long for an event" in ended.out
    assert ended.peak_mb < SMALL_MB
