"""One million random events against the machine, with what must hold after each.

    python tests/soak/machine_events.py [--reduced] [--events N] [--seed N]

Events are permitted sentences of any item and command, the right answer, words near it, talk,
silence, lost equipment and new starts, by any role, in cases of every shipped plan. After each:
an answer only by words that were understood, nothing after the end, a way on. At the end of each
case: no `completed` with an open stop item, every stop item called before it was answered, and the
records replayed give the same state. Exit code 1, with the seed of the case, if one does not hold.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.team.chatter import chatter
from tests.team.invariants import check_end, check_step, something_waits
from tests.team.right import right_line
from tests.team.room import Room, case_of
from tests.team.simulated import PLANS
from voicelist.documents.names import ROLES
from voicelist.session.events import Begin, Equipment, Silence, Stop

_EVENTS_A_CASE_AT_MOST = 400
_REDUCED = 10_000
_MORE = ("not", "isn't", "later", "is", "um", "almost")


def one_event(room: Room, chance: random.Random) -> str:
    """Something happens; its kind."""
    kind = chance.choices(
        ("right", "permitted", "near", "talk", "silence", "equipment", "begin", "stop"),
        (46, 24, 10, 10, 6, 2, 1.9, 0.1),
    )[0]
    role = chance.choice(ROLES) if chance.random() < 0.3 else ""
    match kind:
        case "right":
            room.says(right_line(room.case, room.state), role=role)
        case "permitted":
            name = chance.choice(room.case.grammar.names)
            room.says(chance.choice(room.case.grammar.examples(name)), role=role)
        case "near":
            words = right_line(room.case, room.state).split()
            at = chance.randint(0, len(words))
            room.says(" ".join((*words[:at], chance.choice(_MORE), *words[at:])), role=role)
        case "talk":
            room.says(chatter(chance), role=role)
        case "silence":
            room.take(Silence(chance.choice((8.0, 20.0, 60.0, 600.0))))
        case "equipment":
            room.take(Equipment("hearing", "was lost", "cannot-hear"))
        case "begin":
            room.take(Begin())
        case _:
            room.take(Stop("interrupted"))
    return kind


def one_case(seed: int, kinds: Counter[str], ends: Counter[str]) -> int:
    """A case of random events; how many there were. Raises AssertionError."""
    chance = random.Random(seed)
    room = Room(case_of(chance.choice(PLANS)))
    events = 0
    while events < _EVENTS_A_CASE_AT_MOST and not room.state.closed:
        before, count = room.state, len(room.records)
        kinds[one_event(room, chance)] += 1
        events += 1
        check_step(room.case, before, room.records[count:], room.state)
        assert something_waits(room.state), "a dead end"
    check_end(room.case, room.records, room.state)
    ends[room.state.closed or "open"] += 1
    return events


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--reduced", action="store_true", help=f"{_REDUCED} events")
    parser.add_argument("--events", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=0, help="of the first case")
    wanted = parser.parse_args()
    target = _REDUCED if wanted.reduced else wanted.events
    kinds, ends, done, seed = Counter[str](), Counter[str](), 0, wanted.seed
    began_s = time.monotonic()
    while done < target:
        try:
            done += one_case(seed, kinds, ends)
        except AssertionError as error:
            print(f"The case of seed {seed}: {error}")
            return 1
        seed += 1
    took_s = time.monotonic() - began_s
    print(f"{done} events in {seed - wanted.seed} cases, {took_s:.0f} s; {dict(kinds)}")
    print(f"The cases ended: {dict(ends)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
