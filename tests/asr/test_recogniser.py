"""The recogniser hears what is said: synthetic speech, and recordings of people where they are."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest
from spoken import SENTENCES, TURNED, Sentences, say, silence, texts, with_silence

from voicelist.asr.offline import decode_stream, decode_whole
from voicelist.asr.recogniser import ALTERNATIVES, Recogniser
from voicelist.asr.streaming import ChannelStream
from voicelist.audio.sound_files import read_sound
from voicelist.errors import MissingPart


def table(shared_speech: Path, name: str) -> list[tuple[Path, str]]:
    with (shared_speech / f"{name}.tsv").open() as file:
        rows = csv.DictReader(file, delimiter="\t")
        return [(shared_speech / row["file"], row["text"]) for row in rows]


@pytest.mark.parametrize("sentence", SENTENCES)
def test_a_tightly_cut_sentence_is_heard_as_said(recogniser: Recogniser, sentence: str) -> None:
    utterance = decode_whole(recogniser, say(sentence), Sentences())
    assert texts(utterance)[0] == sentence


def test_words_lie_where_they_were_said(recogniser: Recogniser) -> None:
    speech = say("irrigation line firm")
    sound = with_silence(speech, before_s=1.5)
    utterance = decode_whole(recogniser, sound, Sentences())
    spans_s = utterance.passes.first[0].spans_s
    assert spans_s[0][0] == pytest.approx(1.5, abs=0.15)
    assert spans_s[-1][1] == pytest.approx(1.5 + len(speech) / 16_000, abs=0.15)
    assert all(a[1] <= b[0] + 0.01 for a, b in itertools.pairwise(spans_s))
    assert utterance.start_sample / 16_000 == pytest.approx(1.5, abs=0.15)
    assert utterance.speech_end_s == pytest.approx(1.5 + len(speech) / 16_000, abs=0.15)
    assert utterance.decided_sample == len(sound)
    assert utterance.decode_s > 0


def test_alternatives_come_best_first_and_each_once(recogniser: Recogniser) -> None:
    noisy = say("the left eye is marked").astype(float)
    noisy += np.random.default_rng(3).normal(0, 900, len(noisy))
    utterance = decode_whole(recogniser, noisy.clip(-32768, 32767).astype(np.int16), Sentences())
    told = texts(utterance)
    scores = [alternative.score for alternative in utterance.passes.first]
    assert 1 < len(told) <= ALTERNATIVES
    assert len(set(told)) == len(told)
    assert scores == sorted(scores, reverse=True)


def test_silence_is_no_sentence(recogniser: Recogniser) -> None:
    utterance = decode_whole(recogniser, silence(2.0), Sentences())
    assert set(texts(utterance)) <= {"", "[unk]"}
    assert {one.text for one in utterance.passes.second} <= {"", "[unk]"}


def test_other_speech_does_not_come_out_as_a_sentence_of_the_grammar(
    recogniser: Recogniser,
) -> None:
    utterance = decode_whole(recogniser, say("did you watch the game on sunday"), Sentences())
    assert texts(utterance)[0] not in SENTENCES


@pytest.mark.parametrize("turned", TURNED)
def test_the_second_look_hears_what_makes_an_answer_none(
    recogniser: Recogniser, turned: str
) -> None:
    utterance = decode_whole(recogniser, say(turned), Sentences())
    assert utterance.passes.second[0].text == turned


@pytest.mark.parametrize("sentence", SENTENCES)
def test_the_second_look_hears_an_answer_as_itself(recogniser: Recogniser, sentence: str) -> None:
    utterance = decode_whole(recogniser, say(sentence), Sentences())
    assert utterance.passes.second[0].text == sentence


def test_without_a_second_list_there_is_no_second_look(recogniser: Recogniser) -> None:
    grammar = Sentences(turned=())
    utterance = decode_whole(recogniser, say("hold on please"), grammar)
    assert texts(utterance)[0] == "hold on please"
    assert utterance.passes.second == ()


def test_a_look_that_is_not_finished_leaves_nothing_behind(recogniser: Recogniser) -> None:
    recogniser.look(Sentences()).feed(with_silence(say("the right eye is marked")))
    after = decode_whole(recogniser, say("the left eye is marked"), Sentences())
    assert texts(after)[0] == after.passes.second[0].text == "the left eye is marked"


def test_what_is_heard_does_not_depend_on_what_was_heard_before(recogniser: Recogniser) -> None:
    first = decode_whole(recogniser, say("bottle height ninety"), Sentences())
    decode_whole(recogniser, say("tip and sleeve are tight"), Sentences())
    second = decode_whole(recogniser, say("bottle height ninety"), Sentences())
    assert first.passes.first == second.passes.first
    assert first.passes.second == second.passes.second


def test_known_words_are_known(recogniser: Recogniser) -> None:
    assert recogniser.vocabulary_has("irrigation")
    assert not recogniser.vocabulary_has("phacoemulsification")


def test_a_folder_without_a_model_is_named(tmp_path: Path) -> None:
    with pytest.raises(MissingPart, match=r"cannot be loaded; run `voicelist model`"):
        Recogniser(tmp_path)


def test_utterances_of_a_stream_come_one_by_one(recogniser: Recogniser) -> None:
    said = ("irrigation line firm", "hold on please", "bottle height ninety")
    sound = np.concatenate([with_silence(say(sentence)) for sentence in said])
    told = list(decode_stream(ChannelStream(0, recogniser), sound, Sentences()))
    assert [texts(utterance)[0] for utterance in told] == list(said)
    assert all(utterance.decided_sample > utterance.end_sample for utterance in told)


def test_an_answer_is_decided_some_300_ms_after_its_end(recogniser: Recogniser) -> None:
    waits_s = []
    for sentence in SENTENCES:
        speech = say(sentence)
        ear = ChannelStream(0, recogniser)
        (utterance,) = decode_stream(ear, with_silence(speech), Sentences())
        waits_s.append(utterance.decided_at_s - 0.6 - len(speech) / 16_000)
    # Of sound, not of computing: "vacuum three fifty" may grow and is waited for.
    assert sorted(waits_s)[-2] < 0.4
    assert waits_s[SENTENCES.index("vacuum three fifty")] > 0.6


def test_recorded_commands_are_heard(recogniser: Recogniser, shared_speech: Path) -> None:
    spoken = table(shared_speech, "an4")
    grammar = Sentences(tuple(sorted({text for _, text in spoken})))
    wrong = [
        (path.name, text)
        for path, text in spoken
        if texts(decode_whole(recogniser, read_sound(path).samples[0], grammar))[0] != text
    ]
    assert wrong == []
