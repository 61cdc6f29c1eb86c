"""How a microphone that was lost is looked for again, in its own process.

A sound server lists its sources for almost nothing, so it is asked four times a second, and the
sound library only once the server has the source. Elsewhere the library itself has to look, which
takes time and opens every device for a moment: so it looks more and more rarely, and every two
seconds at the least often.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from voicelist.audio.moved_source import LOOK_EVERY_S, SourceWatch

# Project choices.
FIRST_PAUSE_S = 0.25
LONGEST_PAUSE_S = 2.0
# After so many looks a fresh process goes on: nobody knows what the library still holds.
LOOKS_AT_MOST = 30
# A server that is busy may be long in telling from where it gives sound.
SOURCE_WITHIN_S = 4.0


def pauses_s() -> Iterator[float]:
    """Between two looks by the sound library."""
    pause_s = FIRST_PAUSE_S
    for _ in range(LOOKS_AT_MOST - 1):
        yield pause_s
        pause_s = min(LONGEST_PAUSE_S, 2 * pause_s)


def rest(watch: SourceWatch, source: str, pause_s: float, wait: Callable[[float], object]) -> None:
    """Wait for `pause_s`, or until the sound server has the source that it had not; `wait` waits
    for some seconds and gives a sign of life."""
    had_it = watch.lists(source)
    end_s = time.monotonic() + pause_s
    while (left_s := end_s - time.monotonic()) > 0.0:
        wait(min(left_s, LOOK_EVERY_S / 2))
        if not had_it and watch.lists(source):
            return


def source_given(watch: SourceWatch, wanted: str, wait: Callable[[float], object]) -> str:
    """From which source the sound server gives the stream that was just opened, "" if that is from
    none or not known in time. Where one is `wanted`, it is waited for: a stream that was only just
    made, or is being moved, has none yet."""
    opened_s = time.monotonic()
    end_s = opened_s + SOURCE_WITHIN_S
    while True:
        seen = watch.look(opened_s, LOOK_EVERY_S)
        wait(0.0)
        known = seen is not None and (seen.source or not wanted or seen.sources is None)
        if known or time.monotonic() >= end_s:
            return seen.source if seen is not None else ""
        if seen is not None:
            wait(LOOK_EVERY_S / 2)
