"""The synthetic test sound: as the manifest says, small, licensed, and made again from its plan."""

from __future__ import annotations

import importlib
import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from voicelist.documents.checklist import Item
from voicelist.listening.practice import load_script
from voicelist.session.case import Case, compile_case

FOLDER = Path(__file__).resolve().parents[1] / "audio_fixtures_synthetic"
_MODULES = (
    "answers",
    "asked",
    "clips",
    "edge_misses",
    "make",
    "meanings",
    "near_misses",
    "numbers_said",
    "phrases_said",
    "sound",
    "voices",
)
MOST_BYTES = 25_000_000


@pytest.fixture(scope="module")
def maker() -> Iterator[Any]:
    """The script that makes the sound; it and its neighbours are no package."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(FOLDER))
        yield importlib.import_module("make")
    for name in _MODULES:
        sys.modules.pop(name, None)


@pytest.fixture(scope="module")
def clips(maker: Any) -> list[Any]:
    """The rows of the manifest."""
    rows: list[Any] = sys.modules["clips"].read_manifest()
    return rows


@pytest.fixture(scope="module")
def case(maker: Any) -> Case:
    """The example case that the clips belong to."""
    return compile_case(maker.example_bundle())


def test_every_row_has_its_file_and_every_file_its_row(clips: list[Any]) -> None:
    files = sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.flac"))
    assert files == sorted(clip.file for clip in clips)
    assert len({clip.file for clip in clips}) == len(clips)


def test_every_file_is_16_khz_mono_flac(clips: list[Any]) -> None:
    forms = Counter(
        (info.samplerate, info.channels, info.format, info.subtype)
        for info in (soundfile.info(str(FOLDER / clip.file)) for clip in clips)
    )
    assert set(forms) == {(16_000, 1, "FLAC", "PCM_16")}


def test_the_folder_stays_small() -> None:
    assert sum(path.stat().st_size for path in FOLDER.rglob("*.flac")) < MOST_BYTES


def test_the_manifest_is_what_the_plan_makes_of_checklist_script_and_seed(
    maker: Any, clips: list[Any]
) -> None:
    assert maker.planned(maker.example_bundle()) == clips


def test_near_misses_come_out_alike_each_time(maker: Any) -> None:
    bundle = maker.example_bundle()
    made = maker.no_answers(bundle)
    assert made == maker.no_answers(bundle)
    assert len({(one.asked, one.text) for one in made}) == len(made) >= 400


def _asked(case: Case) -> list[tuple[str, Item]]:
    """The items of the plan that the sound is made for, whose lens is not toric."""
    assert not case.bundle.plan.is_toric
    return [(name, item) for name, item in case.items.items() if item.when != "toric lens"]


def test_every_stop_item_has_every_family_of_near_misses(case: Case, clips: list[Any]) -> None:
    families = {
        *("negation", "question", "later", "reported", "other-thing", "hedged", "half"),
        *("edge-word", "broken-off", "own-message"),
    }
    for item_id, item in _asked(case):
        if item.stop:
            own = {
                clip.family
                for clip in clips
                if clip.folder == "near-misses" and clip.asked == item_id
            }
            assert families <= own, item_id


def test_a_typed_answer_means_what_the_manifest_says(case: Case, clips: list[Any]) -> None:
    read = _reader(case)
    for clip in clips:
        if clip.folder in ("answers", "demo"):
            assert read(clip) == ([] if clip.expected == "none" else [clip.expected]), clip.file


def test_a_typed_near_miss_never_passes(case: Case, clips: list[Any]) -> None:
    read = _reader(case)
    for clip in clips:
        if clip.folder == "near-misses":
            assert read(clip) == ([] if clip.expected == "none" else [clip.expected]), clip.file
            assert clip.expected != clip.wrong_yes
            assert clip.wrong_yes


def test_every_permitted_answer_of_the_checklist_is_spoken(case: Case, clips: list[Any]) -> None:
    sentences_of = sys.modules["phrases_said"].sentences_of
    spoken = {(clip.asked, clip.text) for clip in clips if clip.folder == "answers"}
    for item_id, item in case.items.items():
        for phrase in (item.done, item.fault):
            for text in sentences_of(phrase) if phrase else ():
                assert (item_id, text) in spoken


def test_five_voices_of_three_engines_speak_clean_and_in_noise(clips: list[Any]) -> None:
    for folder, least in (("answers", 300), ("near-misses", 400)):
        chosen = [clip for clip in clips if clip.folder == folder]
        noisy = sum(clip.noise == "theatre" for clip in chosen)
        assert len(chosen) >= least
        assert len({clip.voice for clip in chosen}) >= 5
        assert len({clip.engine for clip in chosen}) >= 3
        assert abs(noisy - len(chosen) / 2) <= 1


def test_every_call_of_the_checklist_is_among_the_near_misses(case: Case, clips: list[Any]) -> None:
    own = {(clip.asked, clip.text) for clip in clips if clip.family == "own-message"}
    for item_id, item in _asked(case):
        call = " ".join(re.sub(r"[^a-z ]", " ", item.call.lower()).split())
        assert (item_id, call) in own


def test_spoken_anew_the_same_is_said_by_other_voices_and_clean_becomes_noisy(
    maker: Any, clips: list[Any]
) -> None:
    kept = [clip for clip in clips if clip.folder == "near-misses"]
    anew = [
        clip
        for clip in maker.spoken_anew(maker.example_bundle(), 1)
        if clip.folder == "near-misses"
    ]
    assert [clip.text for clip in anew] == [clip.text for clip in kept]
    for one, other in zip(anew, kept, strict=True):
        assert one.voice != other.voice
        assert one.noise != other.noise


def test_engines_and_voices_name_their_licences(clips: list[Any]) -> None:
    assert {(clip.engine, clip.engine_licence) for clip in clips} == {
        ("hibari", "Apache-2.0"),
        ("piper", "GPL-3.0-or-later"),
        ("espeak-ng", "GPL-3.0-or-later"),
        ("flite", "BSD-like (CMU)"),
    }
    assert all(clip.voice_licence for clip in clips)


def test_every_line_of_the_script_has_its_clip(clips: list[Any]) -> None:
    lines = load_script(FOLDER / "demo").lines
    rows = [clip for clip in clips if clip.folder == "demo"]
    assert [(f"demo/{line.file.name}", line.cue, line.text) for line in lines] == [
        (row.file, row.asked, row.text) for row in rows
    ]


def test_the_people_of_the_demo_are_told_apart(clips: list[Any]) -> None:
    """Nurses, surgeon and stranger speak by different engines."""
    lines = load_script(FOLDER / "demo").lines
    engine_of = {clip.file: clip.engine for clip in clips}
    voices = {(line.speaker, engine_of[f"demo/{line.file.name}"]) for line in lines}
    people = {speaker for speaker, _ in voices}
    assert people == {"nurse", "relief nurse", "surgeon", "stranger"}
    assert len({engine for _, engine in voices}) == len(voices) == len(people)


def test_noise_stands_at_the_stated_ratio(maker: Any) -> None:
    sound = sys.modules["sound"]
    seconds = np.arange(16_000) / 16_000
    speech = np.sin(2 * np.pi * 220 * seconds)
    clean, noisy = (sound.clip_of(speech, snr_dB, seed=7) for snr_dB in (None, 15.0))
    noise = noisy - clean
    level_dB = 20 * np.log10(sound.active_rms(clean))
    ratio_dB = level_dB - 20 * np.log10(np.sqrt(np.mean(noise**2)))
    assert level_dB == pytest.approx(-26.0, abs=0.5)
    assert ratio_dB == pytest.approx(15.0, abs=0.2)


def test_noise_follows_from_its_seed(maker: Any) -> None:
    theatre_noise = sys.modules["sound"].theatre_noise
    assert np.array_equal(theatre_noise(8_000, 3), theatre_noise(8_000, 3))
    assert not np.array_equal(theatre_noise(8_000, 3), theatre_noise(8_000, 4))


def test_clips_are_made_again_as_they_are(maker: Any, tmp_path: Path) -> None:
    if maker.main(["answers", "--only", "answers/counts.done.01-*", "--into", str(tmp_path)]):
        pytest.skip("a speech program of these clips is not installed")
    made = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*.flac"))
    assert len(made) == 2
    for file in made:
        again, _ = soundfile.read(str(tmp_path / file))
        kept, _ = soundfile.read(str(FOLDER / file))
        # Another version of a program may differ a little; another text or voice differs a lot.
        assert len(again) == pytest.approx(len(kept), rel=0.05)
        assert np.std(again) == pytest.approx(np.std(kept), rel=0.1)


def test_without_an_engine_the_files_of_the_others_are_made(
    maker: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    missing = sys.modules["voices"].EngineMissingError

    def say(voice: Any, text: str) -> Any:
        if voice.name == "slt":
            raise missing("The speech program flite is not here: install it.")
        return np.sin(np.arange(16_000) / 10)

    monkeypatch.setattr(maker, "say", say)
    pattern = "answers/irrigation-line.done.02-*"
    code = maker.main(["answers", "--only", pattern, "--into", str(tmp_path)])
    sentence = "The speech program flite is not here: install it. Not made: 1 of 2 files.\n"
    assert (code, capsys.readouterr().err) == (3, sentence)
    names = [path.name for path in tmp_path.rglob("*.flac")]
    assert names == ["irrigation-line.done.02-rms-15dB.flac"]


def test_a_missing_program_is_named_with_its_remedy(maker: Any) -> None:
    voices = sys.modules["voices"]
    flite = voices.VOICES["slt"]
    absent = replace(flite, engine=replace(flite.engine, name="no-such-program"))
    sentence = "The speech program no-such-program is not here: install the system package flite."
    with pytest.raises(voices.EngineMissingError, match=re.escape(sentence)):
        voices.say(absent, "mark visible")


def _reader(case: Case) -> Any:
    """Reads a clip's text, typed, at its place: the meanings that are permitted there."""
    asked, meanings = sys.modules["asked"], sys.modules["meanings"]

    def read(clip: Any) -> list[str]:
        matches = asked.context_for(case, clip.asked).permitted(tuple(clip.text.split()))
        return sorted({meanings.meaning_of(match) for match in matches})

    return read
