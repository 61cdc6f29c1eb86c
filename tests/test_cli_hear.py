"""`hear`, `assess`, `check`: what they print, and bad input met with one sentence each."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.command import CARD, CHECKLIST, Command, voicelist
from voicelist.asr.model import ModelPlace
from voicelist.hear import context_for
from voicelist.places import shipped
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import NotUnderstood, Understood, understand

__all__ = ["voicelist"]

CLIPS = shipped("audio_fixtures_synthetic") / "demo"
FIRM = CLIPS / "02-irrigation-line.flac"
SETTINGS = CLIPS / "24-quadrant-profile.flac"


def test_hear_prints_one_json_object_a_file(voicelist: Command, speech_model: ModelPlace) -> None:
    answer = voicelist("hear", CHECKLIST, FIRM, SETTINGS, "--json")
    assert answer.code == 0, answer.text
    first, second = map(json.loads, answer.out.splitlines())
    assert set(first) == {
        "file",
        "status",
        "rule",
        "words",
        "slots",
        "values",
        "confidence",
        "speech_end_s",
        "decided_at_s",
        "decode_s",
    }
    assert (first["status"], first["rule"]) == ("understood", "irrigation-line.done")
    assert first["words"] == "irrigation line firm"
    assert second["values"] == {"integer": [40, 500, 28, 30]}
    assert second["slots"]["vacuum"] == "vacuum five hundred"


def test_files_heard_at_the_same_time_come_out_in_order_and_as_each_alone(
    voicelist: Command, speech_model: ModelPlace
) -> None:
    """Some in noise, so that a few are heard again and put to the witness."""
    files = sorted((shipped("audio_fixtures_synthetic") / "answers").glob("*-15dB.flac"))[::37]
    assert len(files) == 6
    together = voicelist("hear", CHECKLIST, *files, "--json")
    each = [voicelist("hear", CHECKLIST, one, "--json") for one in files]
    assert without_times(together.out) == [line for one in each for line in without_times(one.out)]


def without_times(out: str) -> list[dict[str, object]]:
    """What each line says, save how long that took."""
    lines = map(json.loads, out.splitlines())
    return [{name: one[name] for name in one if name != "decode_s"} for one in lines]


def test_hear_limited_to_an_item_understands_only_its_answers(
    voicelist: Command, speech_model: ModelPlace
) -> None:
    answer = voicelist("hear", CHECKLIST, FIRM, "--item", "tip", "--json")
    assert json.loads(answer.out)["status"] != "understood"
    assert voicelist("hear", CHECKLIST, FIRM, "--item", "nothing").code == 2


def test_hear_reads_abnf_and_finds_utterances_in_a_stream(
    voicelist: Command, speech_model: ModelPlace, tmp_path: Path
) -> None:
    grammar = tmp_path / "two.abnf"
    grammar.write_text(
        "#ABNF 1.0 UTF-8;\nlanguage en-US;\nroot $line;\n"
        "public $line = $which line $state;\n"
        "$which = irrigation | aspiration;\n$state = firm | loose;\n",
        encoding="utf-8",
    )
    parts = [
        soundfile.read(CLIPS / name, dtype="int16")[0]
        for name in ("02-irrigation-line.flac", "04-aspiration-line.flac")
    ]
    silence = np.zeros(16_000, np.int16)
    both = tmp_path / "both.wav"
    soundfile.write(both, np.concatenate([silence, parts[0], silence, parts[1], silence]), 16_000)
    answer = voicelist("hear", grammar, both, "--stream", "--json")
    heard = [json.loads(line) for line in answer.out.splitlines()]
    assert [one["slots"].get("which") for one in heard] == ["irrigation", "aspiration"]
    assert [one["slots"].get("state") for one in heard] == ["firm", "loose"]
    assert all(one["decided_at_s"] > one["speech_end_s"] for one in heard)


def test_what_a_root_says_is_told_apart_by_its_words(tmp_path: Path) -> None:
    grammar = tmp_path / "state.abnf"
    grammar.write_text(
        "#ABNF 1.0 UTF-8;\nlanguage en-US;\nroot $state;\n$state = line firm | line loose;\n",
        encoding="utf-8",
    )
    context = context_for(grammar, None)
    heard = [Hypothesis(("line", "firm")), Hypothesis(("line", "loose"), score=-0.1)]
    assert isinstance(understand(heard, (), context), NotUnderstood)
    assert isinstance(understand(heard[:1], (), context), Understood)


@pytest.fixture
def said(tmp_path: Path) -> Path:
    """A table of two recordings, the second not of what was said, and of one that is not there."""
    table = tmp_path / "said.tsv"
    table.write_text(
        f"file\ttext\tspeaker\n{FIRM.name}\tIrrigation line on and firm\ta\n"
        f"{SETTINGS.name}\tvacuum three hundred\tb\nother.flac\tvacuum three hundred\ta\n",
        encoding="utf-8",
    )
    return table


def test_hear_gives_hit_rates_by_phrase_the_worst_first(
    voicelist: Command, speech_model: ModelPlace, said: Path
) -> None:
    answer = voicelist("hear", CHECKLIST, FIRM, SETTINGS, "--expect", said, "--by-phrase")
    rows = [line.split() for line in answer.out.splitlines() if line.startswith(" ")]
    assert rows[1:] == [
        ["0", "%", "0", "0", "1", "vacuum", "three", "hundred", "(all)"],
        ["100", "%", "1", "0", "0", "irrigation", "line", "on", "and", "firm", "(all)"],
    ]
    assert answer.err == "1 in the table but not heard: other.flac.\n"


def test_hit_rates_for_programs_are_one_more_object(
    voicelist: Command, speech_model: ModelPlace, said: Path, tmp_path: Path
) -> None:
    again = tmp_path / "other.flac"
    again.write_bytes(SETTINGS.read_bytes())
    answer = voicelist(
        "hear", CHECKLIST, SETTINGS, again, "--expect", said, "--by-phrase", "--json"
    )
    *_, last = map(json.loads, answer.out.splitlines())
    counts = [(one["speaker"], one["wrong"], one["rate_percent"]) for one in last["by_phrase"]]
    assert counts == [("all", 2, 0.0), ("a", 1, 0.0), ("b", 1, 0.0)]


def test_a_table_with_a_name_twice_is_refused(voicelist: Command, said: Path) -> None:
    said.write_text("file\ttext\na/x.flac\tone\nb/x.flac\ttwo\n", encoding="utf-8")
    refused = voicelist("hear", CHECKLIST, FIRM, "--expect", said, "--by-phrase")
    assert refused.code == 2
    assert "x.flac twice" in refused.err


@pytest.mark.parametrize("rate", [8_000, 44_100])
def test_other_sample_rates_are_brought_to_ours(
    voicelist: Command, speech_model: ModelPlace, tmp_path: Path, rate: int
) -> None:
    import soxr

    samples, _ = soundfile.read(FIRM, dtype="float32")
    path = tmp_path / "said.wav"
    soundfile.write(path, soxr.resample(samples, 16_000, rate), rate)
    answer = voicelist("hear", CHECKLIST, path, "--item", "irrigation-line", "--json")
    assert json.loads(answer.out)["rule"] == "irrigation-line.done"


def test_a_two_channel_file_asks_which_channel(
    voicelist: Command, speech_model: ModelPlace, tmp_path: Path
) -> None:
    samples, rate = soundfile.read(FIRM, dtype="int16")
    path = tmp_path / "stereo.wav"
    soundfile.write(path, np.column_stack([np.zeros_like(samples), samples]), rate)
    refused = voicelist("hear", CHECKLIST, path)
    assert refused.code == 1
    assert "--channel" in refused.err
    answer = voicelist("hear", CHECKLIST, path, "--channel", "2", "--json")
    assert json.loads(answer.out)["status"] == "understood"


def bad_sound(folder: Path, kind: str) -> Path:
    path = folder / f"{kind}.wav"
    if kind == "empty":
        path.write_bytes(b"")
    elif kind == "not-audio":
        path.write_text("this is no sound", encoding="utf-8")
    elif kind == "truncated":
        whole = folder / "whole.flac"
        whole.write_bytes(FIRM.read_bytes())
        path = folder / "truncated.flac"
        path.write_bytes(whole.read_bytes()[: FIRM.stat().st_size // 2])
    return path


@pytest.mark.parametrize("kind", ["missing", "empty", "not-audio", "truncated"])
def test_a_file_that_is_no_whole_sound_is_one_sentence_and_the_others_are_heard(
    voicelist: Command, speech_model: ModelPlace, tmp_path: Path, kind: str
) -> None:
    bad = bad_sound(tmp_path, kind)
    answer = voicelist("hear", CHECKLIST, bad, FIRM, "--json")
    assert answer.code == 1
    assert bad.name in answer.err
    assert len(answer.err.strip().splitlines()) == 1
    assert json.loads(answer.out)["status"] == "understood"


def test_assess_reads_back_what_does_not_fit(voicelist: Command) -> None:
    answer = voicelist(
        "assess", "vacuum", "five", "hundred", "--card", CARD, "--grade", "clinical 3", "--json"
    )
    told = json.loads(answer.out)
    assert told["understood"] == {"vacuum_mmHg": {"value": 500, "control": ""}}
    assert told["findings"] == [
        {
            "rule": "card-value",
            "severity": "ask",
            "quantity": "vacuum_mmHg",
            "heard": 500,
            "expected": 350.0,
            "unit": "mmHg",
            "sentence": "Vacuum is 500; the card says 350.",
        }
    ]


@pytest.mark.parametrize("grade", ["3", "clinical", "clinical 7", "colour 3"])
def test_assess_needs_a_scale_with_its_grade(voicelist: Command, grade: str) -> None:
    answer = voicelist("assess", "vacuum", "350", "--card", CARD, "--grade", grade)
    assert answer.code == 2
    assert "clinical 0 to 4" in answer.err


def test_check_places_every_problem(voicelist: Command, tmp_path: Path) -> None:
    folder = tmp_path / "checklists"
    folder.mkdir()
    path = folder / "phaco.yaml"
    text = CHECKLIST.read_text(encoding="utf-8")
    spoiled = text.replace("done: sleeve straight", "done: bottle full").replace(
        "stop: true", "stopp: true", 1
    )
    path.write_text(spoiled, encoding="utf-8")
    answer = voicelist("check", path)
    assert answer.code == 1
    line = 1 + spoiled.splitlines().index("        stopp: true")
    assert f"phaco.yaml:{line}:" in answer.out
    assert "stop" in answer.out


def test_check_of_broken_yaml_is_one_placed_sentence(voicelist: Command, tmp_path: Path) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text("format: 1\ncase: [one\n", encoding="utf-8")
    answer = voicelist("check", path)
    assert answer.code == 1
    assert "plan.yaml:" in answer.out


def test_without_a_model_hearing_says_how_to_get_one(
    voicelist: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOICELIST_MODEL", str(tmp_path))
    answer = voicelist("hear", CHECKLIST, FIRM)
    assert answer.code == 3
    assert "voicelist model" in answer.err


def test_every_command_has_help(voicelist: Command) -> None:
    names = ("demo", "run", "resume", "hear", "assess", "check", "model", "devices", "record")
    for name in names:
        answer = voicelist(name, "--help")
        assert answer.code == 0
        assert f"voicelist {name}" in answer.out
    assert voicelist("--version").out.startswith("voicelist ")


def test_an_unknown_command_is_a_usage_error(voicelist: Command) -> None:
    assert voicelist("sing").code == 2
