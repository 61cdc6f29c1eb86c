"""The starts of the program on a case, and what adds up over all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voicelist.record.journal import Entry
from voicelist.record.times import Moment
from voicelist.session import records as rec
from voicelist.session.record_base import Record


@dataclass(frozen=True, slots=True)
class RunView:
    """One start of the program. `seconds` is from its first event to its last, `time_base` clock
    or sound (see `times`); `_local` times are those of the clock on the wall. `sound_kept`: the
    sound of utterances was kept beside the store, encrypted; it may have been deleted since."""

    run: str
    source: str
    software: str
    model: Mapping[str, Any] | None
    roles: tuple[str, ...]
    started_at: str
    ended_at: str
    seconds: float
    time_base: str
    started_local: str = ""
    ended_local: str = ""
    sound_kept: bool = False

    @property
    def offset(self) -> str:
        """What the clock on the wall was ahead of UTC by, as +01:00; "" where it was not kept."""
        return self.started_local[23:]


@dataclass(frozen=True, slots=True)
class Totals:
    """`speech_s` is how long the assistant spoke; `ignored` counts talk that was not for us.
    Utterances that another one at the same time stood for are not counted."""

    speech_s: float
    utterances: int
    not_understood: int
    ignored: int
    asked_again: int
    prompts: int
    notices: int
    voice_problems: int


def runs_of(
    entries: Sequence[Entry], records: Sequence[Record], times: Sequence[Moment]
) -> tuple[RunView, ...]:
    """Every start of the program, in order."""
    runs: list[RunView] = []
    starts = [i for i, one in enumerate(records) if isinstance(one, rec.Opened | rec.Resumed)]
    for start in starts:
        first = records[start]
        end = max(i for i, one in enumerate(entries) if one.run == entries[start].run) + 1
        if not isinstance(first, rec.Opened | rec.Resumed):
            continue
        runs.append(
            RunView(
                entries[start].run,
                first.source,
                first.software,
                first.model,
                tuple(first.roles),
                entries[start].at,
                entries[end - 1].at,
                round(times[end - 1].t_s - times[start].t_s, 3),
                times[start].base,
                times[start].local,
                times[end - 1].local,
                first.sound_kept,
            )
        )
    return tuple(runs)


def totals_of(records: Sequence[Record]) -> Totals:
    """What adds up over all runs."""
    said = [one for one in records if isinstance(one, rec.Said)]
    heard = Counter(one.status for one in records if isinstance(one, rec.Heard))
    kinds = Counter(type(one) for one in records)
    return Totals(
        speech_s=round(sum(one.seconds for one in said), 3),
        utterances=heard.total() - heard["not-taken"],
        not_understood=heard["not-understood"],
        ignored=heard["not-for-us"],
        asked_again=kinds[rec.AskedAgain],
        prompts=kinds[rec.Prompted],
        notices=kinds[rec.Noticed],
        voice_problems=sum(1 for one in said if one.problem),
    )
