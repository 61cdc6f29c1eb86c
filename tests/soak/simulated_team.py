"""The simulated team, many cases: every one ends in the right state and nothing passes unsaid.

    python tests/soak/simulated_team.py              # 1,000 cases, then hours of chatter
    python tests/soak/simulated_team.py --reduced    # 60 cases
    python tests/soak/simulated_team.py --cases 200 --first 5000
    python tests/soak/simulated_team.py --sound      # 30 cases, spoken and heard, kept as figures

Each case has a seed; a failure names it, so that it can be held again alone: exit code 1.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.soak.sound_figures import CASES_BY_SOUND, by_sound
from tests.team.hours import UNPROMPTED_AN_HOUR_AT_MOST, unprompted_in_an_hour
from tests.team.simulated import PLANS, Simulation

_SLOWEST_CASE_S = 60.0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--reduced", action="store_true", help="60 cases")
    parser.add_argument("--cases", type=int, default=0, help="1,000 unless by sound")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--sound", action="store_true", help="by sound (30 cases unless --cases)")
    wanted = parser.parse_args()
    if wanted.sound:
        return by_sound(wanted.cases or CASES_BY_SOUND, wanted.first)
    return typed(wanted)


def typed(wanted: argparse.Namespace) -> int:
    """Cases by typed lines, and hours of chatter."""
    count, hours = (60, 1) if wanted.reduced else (wanted.cases or 1000, 5)
    ends, turns, slowest_s = Counter[str](), Counter[str](), 0.0
    began_s = time.monotonic()
    for seed in range(wanted.first, wanted.first + count):
        case_began_s = time.monotonic()
        simulation = Simulation(seed)
        try:
            room = simulation.run()
        except AssertionError as error:
            print(f"Seed {seed}, {simulation.plan}: {error}")
            return 1
        slowest_s = max(slowest_s, time.monotonic() - case_began_s)
        ends[f"{simulation.plan} {room.state.closed}"] += 1
        turns += simulation.turns
    print(f"{count} cases in {time.monotonic() - began_s:.0f} s, the slowest {slowest_s:.1f} s")
    for end, number in sorted(ends.items()):
        print(f"{number:5}  {end}")
    print("turns: " + ", ".join(f"{name} {number}" for name, number in turns.most_common()))
    spoken = [unprompted_in_an_hour(plan, seed) for plan in PLANS for seed in range(hours)]
    print(f"Hours of chatter: {len(spoken)}; spoken unprompted, an hour at most: {max(spoken)}")
    fine = max(spoken) <= UNPROMPTED_AN_HOUR_AT_MOST and slowest_s < _SLOWEST_CASE_S
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
