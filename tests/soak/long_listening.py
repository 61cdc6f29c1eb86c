"""Hours of listening with a new grammar every few seconds: memory stays flat, positions stay true.

    python tests/soak/long_listening.py [--reduced] [--hours H] [--seed N]

The shipped spoken answers stand in a quiet room, some seconds apart, and are fed as fast as they
are heard, one in five once more; after each the grammar of another section of the full checklist is
listened for. Told at the end: memory (of this process and the recogniser's, their own)
after a warm-up, by how much the same speech is found elsewhere at last than at first, and how far
the sample numbers of a simulated microphone are from its clock after the same hours, with jitter,
overflows and restarts. Exit code 1 where memory grows by more than 20 MB, where a beginning moves
by more than two pieces of sound, or where the clock is off by more than 50 ms.
"""

from __future__ import annotations

import argparse
import random
import resource
import statistics
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from voicelist.asr.model import ModelPlace, find_model
from voicelist.asr.recogniser_process import RecogniserLost, RecogniserProcess
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import verifier_folder
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.capture import Captured
from voicelist.audio.endpoint import CHUNK_SAMPLES
from voicelist.audio.microphone import SampleClock
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import read_sound
from voicelist.documents.bundle import load_bundle
from voicelist.places import shipped
from voicelist.session.case import compile_case, is_harmless
from voicelist.session.order import heard_here
from voicelist.session.state import State
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import (
    DecodeAgain,
    ForcedChoice,
    FreeTranscript,
    VerifierScores,
)

MEMORY_MB = 20.0
MOVED_SAMPLES = 2 * CHUNK_SAMPLES
CLOCK_OFF_S = 0.05
# Warm-up: every grammar and most clips have been used.
WARM_UP_S = 600.0
REDUCED_S = 150.0
# Few enough to be heard several times each.
REDUCED_CLIPS = 5
ALL_CLIPS = 1_000
PIECE_SAMPLES = 1_600
AHEAD_SAMPLES = 2 * SAMPLE_RATE_HZ
AGAIN_EVERY = 5
AGAIN_WITHIN_S = 60.0
BESIDE = ("irrigation line firm", "lens power plus twenty one point five")
_NS = 1_000_000_000


@dataclass(slots=True)
class Figures:
    """What was measured. `offsets` are samples between where the speech of a clip was put and where
    it was found, each time; `memory_mb` pairs the audio's seconds with
    megabytes of this process and of the recogniser's."""

    offsets: dict[int, list[int]] = field(default_factory=dict)
    memory_mb: list[tuple[float, float, float]] = field(default_factory=list)
    put: int = 0
    found: int = 0
    lost: int = 0
    asked_again: int = 0
    replies: Counter[str] = field(default_factory=Counter)


def grammars(model: ModelPlace) -> list[HearingGrammar]:
    """What is listened for in each section of the full checklist."""
    bundle = load_bundle(shipped("grammars") / "plans" / "practice-101.yaml")
    case, known = compile_case(bundle), vocabulary(model.path)
    made = []
    for section in case.sections():
        state = State(section=section.id, current=section.items[0].id)
        roots = heard_here(case, state)
        made.append(hearing_grammar(case.grammar, case.room, known, roots, is_harmless))
    return made


def clips() -> list[Samples]:
    """The clean spoken answers."""
    folder = shipped("audio_fixtures_synthetic") / "answers"
    files = [file for file in sorted(folder.glob("*.flac")) if not file.stem.endswith("dB")]
    return [read_sound(file).samples[0] for file in files]


def own_mb(pid: int | str | None) -> float:
    """The memory of one process that comes from no file: a file's grows and shrinks with what else
    on the machine uses it."""
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
    return int(rollup.split("\nPss_Anon:")[1].split()[0]) / 1024


def first_loud(clip: Samples) -> int:
    """The sample at which the speech of a clean clip begins."""
    return int(np.flatnonzero(np.abs(clip.astype(np.int32)) > 600)[0])


def quiet_then_speech(clip: Samples, chance: random.Random, room: Samples) -> tuple[Samples, int]:
    """Some seconds of a quiet room, then the clip, then a second; and where speech begins."""
    before = chance.randrange(SAMPLE_RATE_HZ, 6 * SAMPLE_RATE_HZ)
    sound = np.concatenate([room[:before], clip, room[:SAMPLE_RATE_HZ]])
    return sound, before + first_loud(clip)


def listen(seconds: float, seed: int, clips_at_most: int) -> Figures:
    """Hear so much sound, made of so many clips; the figures."""
    model = find_model()
    listened = cycle(grammars(model))
    chance = random.Random(seed)
    room = np.random.default_rng(seed).normal(0, 8, 10 * SAMPLE_RATE_HZ).astype(np.int16)
    every = clips()[:clips_at_most]
    figures, position, measure_at = Figures(), 0, 0
    recogniser = RecogniserProcess(wide_search_model(model))
    recogniser.listen(next(listened))
    while position < seconds * SAMPLE_RATE_HZ:
        clip = chance.randrange(len(every))
        sound, begins = quiet_then_speech(every[clip], chance, room)
        heard = list(_fed(recogniser, sound, position, figures))
        figures.put += 1
        if heard:
            figures.found += 1
            offset = heard[0].start_sample - position - begins
            figures.offsets.setdefault(clip, []).append(offset)
            if figures.found % AGAIN_EVERY == 0:
                figures.asked_again += 1
                for question in (
                    DecodeAgain(chance.choice(POLICY.speeds)),
                    VerifierScores(BESIDE),
                    FreeTranscript(),
                    ForcedChoice(tuple(tuple(one.split()) for one in BESIDE)),
                ):
                    by_s = time.monotonic() + AGAIN_WITHIN_S
                    reply = recogniser.ask(heard[0], question, by_s)
                    figures.replies[type(question).__name__] += reply is not None
        position += len(sound)
        recogniser.listen(next(listened))
        if position >= measure_at:
            memory = (own_mb("self"), own_mb(recogniser.pid))
            figures.memory_mb.append((position / SAMPLE_RATE_HZ, *memory))
            measure_at = position + 60 * SAMPLE_RATE_HZ
    recogniser.close()
    return figures


def _fed(
    recogniser: RecogniserProcess, sound: Samples, position: int, figures: Figures
) -> Iterator[DecodedUtterance]:
    """Feed the sound and wait until it was taken in; the utterances in it."""
    for at in range(0, len(sound), PIECE_SAMPLES):
        recogniser.feed(0, sound[at : at + PIECE_SAMPLES], position + at)
        last = at + PIECE_SAMPLES >= len(sound)
        while recogniser.behind_samples > (0 if last else AHEAD_SAMPLES):
            recogniser.wait(0.05)
        while (told := recogniser.poll()) is not None:
            figures.lost += isinstance(told, RecogniserLost)
            if isinstance(told, DecodedUtterance):
                yield told


def clock_off_s(seconds: float, seed: int) -> tuple[float, int]:
    """The greatest distance between the sample numbers and the clock of a simulated microphone,
    and how often it was interrupted: blocks of 20 ms, stamped up to 3 ms late, an overflow about
    every ten minutes and a restart about every hour."""
    chance, clock = random.Random(seed), SampleClock()
    block = np.zeros((1, SAMPLE_RATE_HZ // 50), np.int16)
    worst_s, interrupted, device_sample, began_s, at_s = 0.0, 0, 0, 100.0, 100.0
    for _ in range(round(seconds * 50)):
        fate = chance.random()
        overflowed = fate < 1 / 30_000
        if overflowed or fate > 1 - 1 / 180_000:
            interrupted += 1
            at_s += chance.uniform(0.1, 3.0)
        if fate > 1 - 1 / 180_000:
            clock.restart()
            device_sample = 0
        stamp_ns = round((at_s + chance.uniform(0.0, 0.003)) * _NS)
        first = clock.place(Captured(device_sample, block, stamp_ns, overflowed, 0))
        worst_s = max(worst_s, abs(first / SAMPLE_RATE_HZ - (at_s - began_s)))
        device_sample += block.shape[1]
        at_s += 0.02
    return worst_s, interrupted


def wrong_with(figures: Figures, clock_s: float, warm_up_s: float) -> list[str]:
    """What does not hold."""
    wrong = []
    warm = warm_memory_mb(figures, warm_up_s)
    if max(warm) - warm[0] > MEMORY_MB:
        wrong.append(f"memory grew by {max(warm) - warm[0]:.0f} MB")
    if abs(moved(figures)) > MOVED_SAMPLES:
        wrong.append(f"the beginnings moved by {moved(figures)} samples")
    if clock_s > CLOCK_OFF_S:
        wrong.append(f"the clock is off by {1000 * clock_s:.0f} ms")
    if figures.lost:
        wrong.append(f"hearing was lost {figures.lost} times")
    asked: tuple[type, ...] = (DecodeAgain, ForcedChoice)
    if verifier_folder() is not None:
        asked = (*asked, VerifierScores, FreeTranscript)
    for question in asked:
        lacking = figures.asked_again - figures.replies[question.__name__]
        if lacking:
            wrong.append(f"{question.__name__} stayed without a reply {lacking} times")
    if figures.found < 0.95 * figures.put:
        wrong.append(f"only {figures.found} of {figures.put} answers were heard")
    return wrong


def warm_memory_mb(figures: Figures, warm_up_s: float) -> list[float]:
    """Memory of both processes together, once they are warm."""
    return [ours + theirs for at_s, ours, theirs in figures.memory_mb if at_s >= warm_up_s]


def moved(figures: Figures) -> int:
    """By how much the same speech is found elsewhere the last time than the first time, in
    samples: the median over the clips."""
    return round(statistics.median(every[-1] - every[0] for every in figures.offsets.values()))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--reduced", action="store_true", help="two and a half minutes, for CI")
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    seconds = REDUCED_S if asked.reduced else asked.hours * 3600
    warm_up_s = seconds / 3 if asked.reduced else min(WARM_UP_S, seconds / 3)
    began_s = time.monotonic()
    figures = listen(seconds, asked.seed, REDUCED_CLIPS if asked.reduced else ALL_CLIPS)
    took_s = time.monotonic() - began_s
    clock_s, interrupted = clock_off_s(seconds, asked.seed)
    warm = warm_memory_mb(figures, warm_up_s)
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    cpu_s = sum(one.ru_utime + one.ru_stime for one in used)
    print(
        f"{seconds / 3600:.2f} h heard in {took_s / 60:.1f} min, "
        f"{cpu_s / 60:.1f} min of computing, {figures.put} grammars"
    )
    print(f"memory MB: {warm[0]:.1f} warm, {min(warm):.1f} to {max(warm):.1f}, {warm[-1]:.1f} last")
    each = figures.memory_mb[:: max(1, len(figures.memory_mb) // 12)]
    print("here and there: " + ", ".join(f"{ours:.0f}+{theirs:.0f}" for _, ours, theirs in each))
    print(f"answers heard: {figures.found} of {figures.put}; moved by {moved(figures)} samples")
    print(f"asked further {figures.asked_again} times; replies: {dict(figures.replies)}")
    print(f"clock off by at most {1000 * clock_s:.1f} ms, {interrupted} interruptions")
    wrong = wrong_with(figures, clock_s, warm_up_s)
    print("; ".join(wrong) or "good")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
