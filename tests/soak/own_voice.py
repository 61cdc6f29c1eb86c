"""Plays all that the assistant says in every shipped list into its own open microphone, at full
level, under the phrases that are open at that moment: nothing of it may be taken.

    python tests/soak/own_voice.py [--every N] [--plan NAME] [--reduced]

Whole sentences, and sentences broken off after 0.7 s, as when somebody speaks into them. It counts
what would have been taken if somebody else had said it, and what is taken where the assistant is
known to be speaking, with 0, 100 and 250 ms of delay of devices and echo. Exit code 1 if anything
is.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.team.own_voice import LATE_S, OwnVoice, acts, sentences_of
from voicelist.asr.model import find_model
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.places import shipped

BROKEN_OFF_S = 0.7
REDUCED_EVERY, REDUCED_PLAN = 25, "practice-007"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--plan", default="")
    parser.add_argument("--reduced", action="store_true")
    wanted = parser.parse_args()
    every = REDUCED_EVERY if wanted.reduced else wanted.every
    only = REDUCED_PLAN if wanted.reduced else wanted.plan
    folder = shipped("grammars") / "plans"
    plans = [only] if only else sorted(one.stem for one in folder.glob("*.yaml"))
    voice, counts, taken = OwnVoice(find_model()), Counter[str](), 0
    for plan in plans:
        for one in sentences_of(plan)[::every]:
            samples = voice.sound_of(one)
            for part in (samples, samples[: round(BROKEN_OFF_S * SAMPLE_RATE_HZ)]):
                heard, found = voice.heard(one, part)
                counts["played"] += 1
                counts["would be taken of somebody else"] += acts(found)
                for late_s, judged in zip(LATE_S, voice.judged(one, heard, found), strict=True):
                    if acts(judged):
                        taken += 1
                        print(f"TAKEN {late_s:g} s late, {plan}: {one.text!r} as {judged}")
        print(plan, dict(counts), flush=True)
    print(f"taken: {taken}")
    return 1 if taken or not counts["played"] else 0


if __name__ == "__main__":
    sys.exit(main())
