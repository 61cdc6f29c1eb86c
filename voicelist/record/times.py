"""When each event was, on the clock that counts for its run.

A live run is timed by the running clock of the program. Sound from a file, and practice that was
heard, is timed by its samples: a call stands where the sound rested when it was made, which is the
end of the utterance decided before it. Durations never cross runs. A run keeps by how much the
clock on the wall was ahead of UTC as it began; older records did not, and show UTC alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from itertools import groupby
from typing import Any

from voicelist.record.journal import Entry
from voicelist.record.words import clock_words

CLOCK = "clock"
SOUND = "sound"


@dataclass(frozen=True, slots=True)
class Moment:
    """When an event was: `at` in UTC, `local` by the clock on the wall with its offset ("" where
    none was kept). `t_s` counts from the start of its run, on the clock that `base` names."""

    seq: int
    at: str
    run: str
    t_s: float
    base: str
    local: str = ""

    @property
    def shown(self) -> str:
        """As tables show it: minutes and seconds into the sound, or the time of day."""
        if self.base == SOUND:
            return clock_words(self.t_s)
        return (self.local or self.at)[11:19]

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
        offset_min = run[0].body.get("utc_offset_min")
        found.extend(
            Moment(entry.seq, entry.at, entry.run, t_s, base, local_time(entry.at, offset_min))
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


def local_offset_min() -> int:
    """What the clock on the wall is ahead of UTC by now, in minutes."""
    ahead = datetime.now().astimezone().utcoffset()
    return round(ahead.total_seconds() / 60) if ahead is not None else 0


def local_time(at: str, offset_min: Any) -> str:
    """A time of a journal by the clock on the wall, as RFC 3339 with milliseconds and offset; ""
    where no offset was kept, or none that a clock can have."""
    if not isinstance(offset_min, int) or isinstance(offset_min, bool) or abs(offset_min) >= 1440:
        return ""
    try:
        zone = timezone(timedelta(minutes=offset_min))
        return datetime.fromisoformat(at).astimezone(zone).isoformat(timespec="milliseconds")
    except (ValueError, OverflowError):
        return ""  # a damaged row has no time of day


def both_words(at: str, local: str) -> str:
    """Day and time by the clock on the wall with its offset, and in UTC beside it."""
    utc = f"{at[:10]} {at[11:19]} UTC"
    if not local:
        return utc
    day = "" if local[:10] == at[:10] else f"{at[:10]} "
    return f"{local[:10]} {local[11:19]} {local[23:]} ({day}{at[11:19]} UTC)"
