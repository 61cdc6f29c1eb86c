"""A list of three patients and a second eye, every case by sound from its first call to its end.

    python tests/soak/day_by_sound.py              # four cases
    python tests/soak/day_by_sound.py --reduced    # the second eye alone

Each line is spoken by synthetic voices and heard as in a session, by two channels: the set-up of
the day, the wristband of another patient, a rupture of the capsule after the incision. Each case
has to be completed, nothing may pass that nobody said, and the records replayed give the same
state. Exit code 1 if not.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.team.spoken import Stuck
from tests.team.spoken_day import DAY, SpokenCase, gone_back, play
from tests.team.spoken_room import Listening
from voicelist.asr.model import ModelPlace, find_model
from voicelist.session.state import replay


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true", help="the second eye alone")
    asked = parser.parse_args()
    amiss = [
        one for case in (DAY[3:] if asked.reduced else DAY) for one in held(case, find_model())
    ]
    for one in amiss:
        print(f"Amiss: {one}")
    return 1 if amiss else 0


def held(case: SpokenCase, model: ModelPlace) -> list[str]:
    """Plays a case, tells of it, and says what was amiss."""
    began_s = time.monotonic()
    listening = Listening(case.plan, case.first_section, model, one_channel=False)
    try:
        team = play(case, listening)
    except Stuck as stuck:
        return [f"{case.plan}: stuck at {stuck}"]
    finally:
        listening.close()
    state, count = team.room.state, team.count
    print(
        f"{case.plan}: {state.closed}; {count.answers} answers, {count.at_once} taken at once, "
        f"{count.lines} lines, {len(count.taken_otherwise)} taken otherwise, "
        f"{len(count.wrong_yes)} wrong; short lists: {', '.join(gone_back(team)) or 'none'}; "
        f"{time.monotonic() - began_s:.0f} s",
        flush=True,
    )
    found = []
    if state.closed != "completed":
        found.append(f"{case.plan} ended as {state.closed}")
    if case.rupture != bool(gone_back(team)):
        found.append(f"{case.plan} did not go through the list of the rupture")
    found += [f"{case.plan}: {one}" for one in count.wrong_yes]
    if replay(team.room.records) != state:
        found.append(f"{case.plan}: its records give another state")
    return found


if __name__ == "__main__":
    sys.exit(main())
