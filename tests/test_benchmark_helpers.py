"""What the benchmarks reckon with: intervals, noise and bands, parts, what is kept, talk."""

from __future__ import annotations

import argparse
import json
import math
import random
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2

from tests.benchmarks.harness import conditions, measured
from tests.benchmarks.harness.kept import (
    Kept,
    KeptDecoder,
    KeptReplies,
    key_of,
    plain,
    utterance_of,
)
from tests.benchmarks.harness.parts import add_part_options, chosen, is_whole
from tests.benchmarks.harness.theatre_sentences import talk, words_of
from tests.benchmarks.harness.word_machine import WordMachine, machine_of
from voicelist.asr.utterance import DecodedUtterance
from voicelist.documents.bundle import load_bundle
from voicelist.grammar.abnf import parse_expansion
from voicelist.grammar.grammar import Grammar
from voicelist.places import shipped
from voicelist.session.case import compile_case
from voicelist.understanding.hypothesis import Hypothesis, Passes
from voicelist.understanding.questions import (
    DecodeAgain,
    ForcedChoice,
    FreeTranscript,
    Question,
    Reply,
    Transcript,
    VerifierScores,
)

RATE_HZ = conditions.RATE_HZ


def tone(hertz: float, seconds: float = 1.0, amplitude: float = 8_000.0) -> conditions.Wave:
    at = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(amplitude * np.sin(2 * np.pi * hertz * at))


def level_dB(sound: Any, hertz: float) -> float:
    """The level of one frequency in the middle of a sound."""
    middle = np.asarray(sound, np.float64)[len(sound) // 4 : -len(sound) // 4]
    at = np.arange(len(middle)) / RATE_HZ
    return float(20 * np.log10(np.abs(np.mean(middle * np.exp(-2j * np.pi * hertz * at))) + 1e-9))


# Newcombe, Stat Med 1998;17:857-872, table I, method 3.
@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_of_a_proportion_is_the_published_one(
    hits: int, of: int, low: float, high: float
) -> None:
    assert measured.wilson_95(hits, of) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize("events", [0, 1, 2, 10])
def test_the_bound_of_a_rate_is_that_of_the_chi_squared_distribution(events: int) -> None:
    assert measured.rate_upper_95(events) == pytest.approx(chi2.ppf(0.95, 2 * events + 2) / 2)


def test_groups_stand_worst_first() -> None:
    outcomes = ("wrong", "again", "right")
    met = {"a": ["right", "again"], "b": ["right", "wrong"], "c": ["right", "right"]}
    groups = {name: measured.counted(one, outcomes) for name, one in met.items()}
    assert list(measured.worst_first(groups, "wrong", "again")) == ["b", "a", "c"]


def test_a_report_is_json_with_one_line_a_proportion(tmp_path: Path) -> None:
    report = {"all": {str(n): measured.proportion(n, 20) for n in range(9)}, "none": []}
    measured.write_report(tmp_path / "report.json", report)
    text = (tmp_path / "report.json").read_text(encoding="utf-8")
    assert json.loads(text) == report
    assert text.count("\n") == len(report["all"]) + 5


def test_noise_is_mixed_by_the_largest_energy_of_a_frame() -> None:
    speech, noise = tone(300), np.random.default_rng(1).normal(0, 500, 40_000)
    mixed = conditions.mixed(speech, noise, 12.0, "some-stem").astype(np.float64)
    assert np.abs(mixed).max() == 16_384
    offset = int.from_bytes(b"some-ste", "big") % (40_000 - RATE_HZ + 1)
    part = noise[offset : offset + RATE_HZ]
    # What was mixed is a sum of these two in a proportion that least squares finds again.
    (voice, room), *_ = np.linalg.lstsq(np.stack([speech, part], axis=1), mixed, rcond=None)
    said, heard = (conditions.largest_energy(one) for one in (voice * speech, room * part))
    assert 10 * np.log10(said / heard) == pytest.approx(12.0, abs=0.01)


def test_another_stem_takes_the_noise_from_another_place() -> None:
    speech, noise = tone(300), np.random.default_rng(1).normal(0, 500, 40_000)
    one, same, other = (conditions.mixed(speech, noise, 6.0, stem) for stem in "aab")
    assert np.array_equal(one, same)
    assert not np.array_equal(one, other)


@pytest.mark.parametrize("shelf_dB", [-6.0, -12.0])
def test_a_mask_takes_from_above_2_kHz_only(shelf_dB: float) -> None:
    low, corner, high = 20 * np.log10(
        conditions.shelf_gain(np.array([50.0, 2_000.0, 50_000.0]), shelf_dB)
    )
    assert (low, corner, high) == pytest.approx((0.0, shelf_dB / 2, shelf_dB), abs=0.05)
    masked = conditions.masked(tone(300) + tone(7_000), shelf_dB)
    assert level_dB(masked, 7_000) - level_dB(masked, 300) == pytest.approx(shelf_dB, abs=0.3)


def test_a_telephone_keeps_speech_between_300_and_3400_Hz() -> None:
    tones = {hertz: tone(hertz) for hertz in (60, 1_000, 2_000, 5_000)}
    through = conditions.telephone(sum(tones.values()))
    kept_dB = {hertz: level_dB(through, hertz) for hertz in tones}
    assert kept_dB[1_000] == pytest.approx(kept_dB[2_000], abs=0.2)
    assert kept_dB[60] < kept_dB[1_000] - 40
    assert kept_dB[5_000] < kept_dB[1_000] - 60
    assert len(through) == RATE_HZ


def test_a_room_answers_as_loudly_as_it_is_spoken_to_and_dies_away() -> None:
    response = conditions.room_response(3)
    assert response[0] == 1.0
    assert np.sum(response[1:] ** 2) == pytest.approx(1.0)
    early, late = response[800:2_400], response[-2_400:-800]
    fallen_dB = 10 * np.log10(np.sum(early**2) / np.sum(late**2))
    apart_s = (len(response) - 2_400 - 800) / RATE_HZ
    assert fallen_dB == pytest.approx(60 * apart_s / 0.6, abs=1.5)


def _asked(*arguments: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    add_part_options(parser)
    return parser.parse_args(arguments)


def test_parts_are_the_whole_and_share_nothing() -> None:
    parts = [chosen(range(10), _asked("--part", str(one), "--of", "3")) for one in (1, 2, 3)]
    assert sorted(number for part in parts for number in part) == list(range(10))
    assert chosen(range(10), _asked("--every", "4")) == [0, 4, 8]
    assert is_whole(_asked())
    assert not is_whole(_asked("--of", "3"))
    assert not is_whole(_asked("--every", "4"))


@pytest.mark.parametrize("part", ["0", "4"])
def test_a_part_that_is_not_there_is_refused(part: str) -> None:
    with pytest.raises(SystemExit, match="--part is 1 to 3"):
        chosen(range(10), _asked("--part", part, "--of", "3"))


def test_what_was_made_once_is_kept_for_the_next_run(tmp_path: Path) -> None:
    def never() -> Any:
        raise AssertionError("made again")

    file = tmp_path / "heard.sqlite"
    assert Kept(file).of("key", lambda: ["firm", 1.5]) == ["firm", 1.5]
    assert Kept(file).of("key", never) == ["firm", 1.5]
    assert Kept(file).of("other", lambda: []) == []


def test_a_key_differs_where_any_part_does() -> None:
    keys = {
        key_of("a", b"b", ("c", "d")),
        key_of("ab", b"", ("c", "d")),
        key_of("a", b"b", ("cd",)),
        key_of("a", b"b"),
    }
    assert len(keys) == 4


def test_an_utterance_comes_back_as_it_was_kept() -> None:
    spans_s = ((0.1, 0.4), (0.4, 0.9))
    hypothesis = Hypothesis(("line", "firm"), spans_s, -12.5, 0.2, background=(0, 1))
    passes = Passes((hypothesis,), in_noise=True)
    utterance = DecodedUtterance(0, 3, 160, 14_400, 20_000, passes, 0.2)
    assert utterance_of(json.loads(json.dumps(plain(utterance)))) == utterance


def test_a_word_machine_permits_what_the_grammar_does_one_step_a_word() -> None:
    phrase = "(a | an) [small] tea | a small (coffee | tea) [with milk]"
    grammar = Grammar({"order": parse_expansion(phrase, "test")})
    machine = machine_of(grammar.graph)
    assert len({(one, word) for one, _, word in machine.steps}) == len(machine.steps)
    permitted = set(grammar.graph.samples(seed=1, count=300))
    assert all(_runs(machine, words) for words in permitted)
    assert not _runs(machine, ("an", "small", "coffee"))
    assert not _runs(machine, ("a", "small"))


def _runs(machine: WordMachine, words: tuple[str, ...]) -> bool:
    state: int | None = 0
    for word in words:
        steps = (there for one, there, said in machine.steps if (one, said) == (state, word))
        state = next(steps, None)
    return state in machine.ends


def test_talk_follows_from_its_seed_and_never_is_an_answer() -> None:
    case = compile_case(load_bundle(shipped("grammars") / "plans" / "practice-101.yaml"))
    every = [words_of(case, item) for item in case.items.values()]
    for own in every[:2]:
        said, again = (list(islice(talk(own, every, random.Random(7)), 300)) for _ in "ab")
        assert said == again
        assert len(set(said)) > 150
        assert not [one for one in said if case.grammar.parses(one.split())]


def test_a_kept_reply_takes_what_it_took_and_comes_too_late_or_not() -> None:
    """The clock of a benchmark counts computing time, whatever the machine does meanwhile."""

    def decode(question: Question) -> tuple[Reply, float]:
        return Passes(()), 1.5

    decoder = KeptDecoder(decode, lambda _: (Transcript(("firm",)), 0.2))
    assert decoder.ask(DecodeAgain(1.0), 4.0) == Passes(())
    assert decoder.ask(FreeTranscript(), 4.0) == Transcript(("firm",))
    assert decoder.now_s() == pytest.approx(1.7)
    assert decoder.ask(DecodeAgain(0.9), 3.1) is None
    assert decoder.now_s() == 3.1


def test_a_reply_comes_back_as_it_was_kept(tmp_path: Path) -> None:
    span_s = ((0.1, 0.4),)
    replies: dict[Question, Reply] = {
        DecodeAgain(0.95): Passes((Hypothesis(("firm",), span_s, -3.0),), (), True),
        ForcedChoice((("firm",), ("farm",))): (-1.0, -math.inf),
        VerifierScores(("firm",)): (-2.5,),
        FreeTranscript(): Transcript(("farm",), -4.0),
    }
    kept = Kept(tmp_path / "heard.sqlite")
    for question, reply in replies.items():
        told, took_s = KeptReplies(kept, "sound", replies.get).ask(question)
        assert KeptReplies(kept, "sound", lambda _: None).ask(question) == (reply, took_s)
        assert told == reply
