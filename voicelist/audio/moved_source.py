"""From which microphone the sound server gives this process sound, and which ones it has.

When a device is pulled out, PulseAudio (and what speaks its protocol) goes on with the default one,
and nobody is told: the sound library, and whoever listens, believe that they hear the same one as
before. So the server is asked, by its own client library, from which source it gives us sound.
Where there is no such server nothing is known.
"""

from __future__ import annotations

import os
import threading
import time
from dataclasses import dataclass
from typing import Any

# A loss is to be noticed within a second.
LOOK_EVERY_S = 0.25
# Without an answer for so long it is not known any more whose sound this is. Project choice.
KNOWN_FOR_S = 0.75
_CONNECT_WITHIN_S = 2.0
# Where there is no server one may come, but nothing hangs on it.
_WITHOUT_SERVER_S = 5.0
_PID = "application.process.id"


@dataclass(frozen=True, slots=True)
class SourceSeen:
    """What a look found, that began at `at_s` (monotonic). `source` is what this process records
    from, "" if that is nothing or not one; `sources` are all there are, None without a server."""

    at_s: float
    source: str = ""
    sources: frozenset[str] | None = None


class SourceWatch:
    """Looks again and again in a thread of its own, for the server may not answer."""

    def __init__(self) -> None:
        self._seen: SourceSeen | None = None
        self._changed = threading.Condition()
        self._wake = threading.Event()
        threading.Thread(target=self._look, name="source watch", daemon=True).start()

    @property
    def source(self) -> str:
        """What sound comes from, as far as it was seen, "" while that is not known."""
        seen = self._seen
        return seen.source if seen is not None else ""

    def knows(self, now_s: float) -> bool:
        """Whether the server has answered lately, or there is none that could give the sound of
        another device."""
        seen = self._seen
        return seen is not None and (seen.sources is None or now_s - seen.at_s <= KNOWN_FOR_S)

    def lists(self, source: str) -> bool:
        """Whether the server had it at the last look."""
        seen = self._seen
        return seen is not None and source in (seen.sources or ())

    def look(self, since_s: float, timeout_s: float) -> SourceSeen | None:
        """What was found by a look that began since then; None if nobody answers in that time."""
        self._wake.set()

        def looked() -> bool:
            return self._seen is not None and self._seen.at_s >= since_s

        with self._changed:
            self._changed.wait_for(looked, timeout_s)
            return self._seen if looked() else None

    def _look(self) -> None:
        try:
            import pulsectl
        except (ImportError, OSError):
            while True:  # no client library, so no server that it would speak to
                self._found(SourceSeen(time.monotonic()))
                self._pause(_WITHOUT_SERVER_S)
        while True:
            at_s = time.monotonic()
            try:
                with pulsectl.Pulse("voicelist microphone", connect=False) as pulse:
                    pulse.connect(autospawn=False, timeout=_CONNECT_WITHIN_S)
                    while True:
                        self._found(_seen(pulse, os.getpid(), time.monotonic()))
                        self._pause(LOOK_EVERY_S)
            except pulsectl.PulseError:
                self._found(SourceSeen(at_s))  # there is none, or it is gone, and its sound with it
            self._pause(_WITHOUT_SERVER_S)

    def _found(self, seen: SourceSeen) -> None:
        with self._changed:
            self._seen = seen
            self._changed.notify_all()

    def _pause(self, at_most_s: float) -> None:
        self._wake.wait(at_most_s)
        self._wake.clear()


def _seen(pulse: Any, pid: int, at_s: float) -> SourceSeen:
    ours = [one for one in pulse.source_output_list() if one.proplist.get(_PID) == str(pid)]
    sources = {one.index: one.name for one in pulse.source_list()}
    # While the server moves it, a stream has no source.
    names = {sources.get(one.source, "") for one in ours}
    return SourceSeen(at_s, names.pop() if len(names) == 1 else "", frozenset(sources.values()))
