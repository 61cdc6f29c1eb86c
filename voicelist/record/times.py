"""When each event was, on the clock that counts for its run.

A live run is timed by the running clock of the program. Sound from a file, and practice that was
heard, is timed by its samples: a call stands where the sound rested when it was made, which is the
end of the utterance decided before it. Durations never cross runs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from voicelist.record.journal import Entry

CLOCK = "clock"
SOUND = "sound"


@dataclass(frozen=True, slots=True)
class Moment:
    """When an event was. `t_s` counts from the start of its run, on the clock that `base` names."""

    seq: int
    at: str
    run: str
    t_s: float
    base: str

    def seconds_since(self, earlier: Moment) -> float | None:
        """Seconds between two events of one run, None across runs."""
        return round(self.t_s - earlier.t_s, 3) if self.run == earlier.run else None


def moments(entries: Sequence[Entry]) -> tuple[Moment, ...]:
    """A moment for each entry, in their order."""
    found: list[Moment] = []
    for _, group in groupby(entries, key=lambda entry: entry.run):
        run = tuple(group)
        base = time_base(run)
        times = _sound_times(run) if base == SOUND else (entry.mono_ms / 1000 for entry in run)
        found.extend(
            Moment(entry.seq, entry.at, entry.run, t_s, base)
            for entry, t_s in zip(run, times, strict=True)
        )
    return tuple(found)


def time_base(run: Sequence[Entry]) -> str:
    """CLOCK or SOUND for the entries of one run."""
    source = run[0].body.get("source")
    heard = any(entry.body.get("start_s") is not None for entry in run if entry.kind == "heard")
    return SOUND if heard and source in {"recording", "practice"} else CLOCK


def _sound_times(run: Sequence[Entry]) -> Iterator[float]:
    rests_at_s = 0.0
    for entry in run:
        if entry.kind == "heard":
            told = (entry.body.get("decided_s"), entry.body.get("end_s"))
            rests_at_s = max([rests_at_s, *(float(one) for one in told if one is not None)])
        yield rests_at_s
