"""How long the assistant speaks in a case without a slip, rendered by the product's own voice.

    python -m tests.benchmarks.studies.speech_seconds          # all plans, item by item
    python -m tests.benchmarks.studies.speech_seconds PLAN...  # some, by case code

Every sentence of the case is rendered as it would be spoken (numbers digit by digit, the pauses
between sentences of one text with it) and its seconds are added up. Exit code 1 if a plan with a
limit passes it: a full case 120 s, a turnover 55 s.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict

from tests.team.right import right_line
from tests.team.room import Room, case_of
from voicelist.session.wording import spoken
from voicelist.speaking.speaker import SpeechOutput

LIMITS_S = {"practice-101": 120.0, "practice-102": 55.0}
_LINES_AT_MOST = 400


def clean_case(plan: str) -> Room:
    """The case of a plan in which everything is answered at once and as planned."""
    room = Room(case_of(plan))
    for _ in range(_LINES_AT_MOST):
        if room.state.closed:
            return room
        room.says(right_line(room.case, room.state))
    raise SystemExit(f"{plan} did not end: it asks for {room.state.current}")


def seconds_by_item(room: Room, mouth: SpeechOutput) -> dict[str, float]:
    """Seconds of speech by the item that was asked for, "" for the end."""
    bundle = room.case.bundle
    seconds: dict[str, float] = defaultdict(float)
    for item, text in room.said:
        told = mouth.say(spoken(bundle.sentences, bundle.lexicon, text))
        if told.problem:
            raise SystemExit(told.problem)
        seconds[item] += told.seconds
    return dict(seconds)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("plans", nargs="*", default=["practice-101", "practice-102"])
    parser.add_argument("--voice", default="hibari")
    wanted = parser.parse_args()
    passed = True
    with SpeechOutput(wanted.voice, play=False, out=None) as mouth:
        for plan in wanted.plans:
            room = clean_case(plan)
            seconds = seconds_by_item(room, mouth)
            for item, one_s in seconds.items():
                print(f"{one_s:7.2f} s  {item or '(the end)'}")
            total_s, limit_s = sum(seconds.values()), LIMITS_S.get(plan)
            count = sum(1 for item in seconds if item)
            kept = limit_s is None or total_s <= limit_s
            passed = passed and kept
            limit = (
                ""
                if limit_s is None
                else f"; at most {limit_s:.0f} s: {'kept' if kept else 'PASSED'}"
            )
            print(
                f"{plan}: {state_of(room)}, {count} items, {total_s:.1f} s of speech, "
                f"{total_s / max(count, 1):.2f} s an item{limit}"
            )
    return 0 if passed else 1


def state_of(room: Room) -> str:
    return room.state.closed or "open"


if __name__ == "__main__":
    sys.exit(main())
