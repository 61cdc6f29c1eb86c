"""Strike the recogniser's process in the middle of an utterance; hearing has to come back at once.

    python tests/soak/struck_child.py [--reduced] [--rounds N]

Sound is fed at real pace. In each round the process is killed (SIGKILL), made to crash (SIGSEGV) or
stopped (SIGSTOP) while somebody speaks. Measured from the blow: until the loss is told, and until
hearing is told to be back. Then the next sentence has to be heard, and the one that was cut off
must not. Exit code 1 where that fails, or where a full run takes longer than wanted.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from voicelist.asr.model import find_model
from voicelist.asr.recogniser_process import RecogniserBack, RecogniserLost, RecogniserProcess, Told
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import read_sound
from voicelist.places import shipped

BLOWS = (signal.SIGKILL, signal.SIGSEGV, signal.SIGSTOP)
# Wanted: the project's own limits for what a team would put up with.
NOTICED_WITHIN_S = 0.5
BACK_WITHIN_S = 1.5
PIECE_SAMPLES = 512
LOUD = 600
FIRST, SECOND = "irrigation line firm", "aspiration line loose"
DEMO = shipped("audio_fixtures_synthetic") / "demo"


@dataclass(frozen=True)
class Sentences:
    """What is listened for: whole sentences, without a second look."""

    sentences: tuple[str, ...] = (FIRST, SECOND)

    def phrase_list(self) -> tuple[str, ...]:
        return (*self.sentences, "the", "a", "not", "is", "[unk]")

    def second_phrase_list(self) -> tuple[str, ...]:
        return ()

    def can_grow(self, words: tuple[str, ...]) -> bool:
        return False


@dataclass(slots=True)
class Round:
    """One blow: seconds until it was noticed and until hearing was back; what was heard."""

    noticed_s: float = float("inf")
    back_s: float = float("inf")
    heard: list[str] = field(default_factory=list)


def spoken(name: str) -> Samples:
    """A second of a quiet room, a sentence, and two more seconds."""
    (file,) = DEMO.glob(name)
    clip = read_sound(file).samples[0]
    loud = np.flatnonzero(np.abs(clip.astype(np.int32)) > LOUD)
    noise = np.random.default_rng(7).normal(0, 8, SAMPLE_RATE_HZ).astype(np.int16)
    return np.concatenate([noise, clip[loud[0] : loud[-1] + 1], noise, noise])


def at_real_pace(
    sound: Samples, recogniser: RecogniserProcess, first_sample: int
) -> Iterator[Told | None]:
    """Feed sound as a microphone does; what is told meanwhile, None after each piece."""
    began_s = time.monotonic()
    for at in range(0, len(sound) - PIECE_SAMPLES, PIECE_SAMPLES):
        recogniser.feed(0, sound[at : at + PIECE_SAMPLES], first_sample + at)
        due_s = began_s + (at + PIECE_SAMPLES) / SAMPLE_RATE_HZ
        while (left_s := due_s - time.monotonic()) > 0:
            if (told := recogniser.poll(left_s)) is not None:
                yield told
        yield None


def one_round(model: Path, blow: signal.Signals, moment_s: float) -> Round:
    """Strike `moment_s` after the beginning of the first sentence."""
    result = Round()
    recogniser = RecogniserProcess(model)
    recogniser.listen(Sentences())
    while recogniser.load_s is None:
        recogniser.wait(0.1)
    first, second = spoken("02-*.flac"), spoken("04-*.flac")
    struck_s = 0.0
    strike_from = SAMPLE_RATE_HZ + round(moment_s * SAMPLE_RATE_HZ)
    position = 0
    for sound in (first, second):
        fed = position
        for told in at_real_pace(sound, recogniser, position):
            now_s = time.monotonic()
            match told:
                case RecogniserLost():
                    result.noticed_s = now_s - struck_s
                case RecogniserBack():
                    result.back_s = now_s - struck_s
                case DecodedUtterance():
                    result.heard += [one.text for one in told.passes.first[:1]]
                case None:
                    fed += PIECE_SAMPLES
                    if not struck_s and fed >= strike_from and recogniser.pid is not None:
                        struck_s = time.monotonic()
                        os.kill(recogniser.pid, blow)
        position += len(sound)
    recogniser.close()
    return result


def wrong_with(rounds: list[Round], *, timed: bool) -> list[str]:
    """What does not hold."""
    wrong = [
        f"heard '{', '.join(one.heard)}'"
        for one in rounds
        if FIRST in one.heard or one.heard[-1:] != [SECOND]
    ]
    if timed:
        wrong += [
            f"noticed after {one.noticed_s:.2f} s"
            for one in rounds
            if one.noticed_s > NOTICED_WITHIN_S
        ]
        wrong += [f"back after {one.back_s:.2f} s" for one in rounds if one.back_s > BACK_WITHIN_S]
    return wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--reduced", action="store_true", help="one round of each, for CI")
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    model = wide_search_model(find_model())
    failed = False
    for blow in BLOWS:
        count = 1 if asked.reduced else asked.rounds
        rounds = [one_round(model, blow, chance.uniform(0.2, 1.0)) for _ in range(count)]
        for name in ("noticed_s", "back_s"):
            every = sorted(getattr(one, name) for one in rounds)
            print(
                f"{blow.name:8} {name:10} "
                f"median {every[len(every) // 2]:.3f}  worst {every[-1]:.3f}"
            )
        wrong = wrong_with(rounds, timed=not asked.reduced)
        failed = failed or bool(wrong)
        print(f"{blow.name:8} {len(rounds)} rounds: {'; '.join(wrong) or 'good'}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
