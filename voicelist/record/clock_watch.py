"""Notices that the time of day was set, that the computer slept, or that the program stood still.

The time of day is compared with the running clock, and that with the clock that goes on while the
computer sleeps. A thread looks four times a second, so that a gap between two of its looks shows
that the whole program was not at work. Nothing is recorded here: the session asks and keeps.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from dataclasses import dataclass

from voicelist.record.writer import Clocks
from voicelist.session.records import ClockChanged

# Adjusting a clock slowly changes it by less than a millisecond a second (500 parts in a million,
# from memory of NTP), and people read times to the second. Project choice.
JUMP_FROM_S = 2.0
# A busy machine may hold a thread up for a second or two. Project choice.
STANDSTILL_FROM_S = 5.0
_BEAT_S = 0.25
# The clocks are read one after the other; whoever was held up between two of them reads again.
_TOGETHER_WITHIN_NS = 100_000_000
_READINGS = 3


@dataclass(frozen=True, slots=True)
class _Reading:
    wall_s: float
    running_s: float
    awake_or_not_s: float


class ClockWatch:
    """Compares clocks from its making on. Several threads may use it."""

    def __init__(self, clocks: Clocks) -> None:
        self._clocks = clocks
        self._turn = threading.Lock()
        self._noticed: list[ClockChanged] = []
        self._last = self._read()
        self._beat_s: float | None = None

    def look(self) -> tuple[ClockChanged, ...]:
        """What has happened since the last look."""
        with self._turn:
            self._compare(self._read())
            noticed, self._noticed = tuple(self._noticed), []
        return noticed

    def beat(self) -> None:
        """To be called again and again at short times: a long one between two is a standstill."""
        with self._turn:
            now = self._read()
            self._compare(now)
            if self._beat_s is not None and now.running_s - self._beat_s > STANDSTILL_FROM_S:
                gap_s = round(now.running_s - self._beat_s, 3)
                self._noticed.append(ClockChanged("stood-still", gap_s))
            self._beat_s = now.running_s

    @contextlib.contextmanager
    def beating(self) -> Iterator[None]:
        """Inside, a thread beats."""
        over = threading.Event()

        def beat() -> None:
            while not over.wait(_BEAT_S):
                self.beat()

        thread = threading.Thread(target=beat, name="clocks", daemon=True)
        thread.start()
        try:
            yield
        finally:
            over.set()
            thread.join()

    def _compare(self, now: _Reading) -> None:
        last, self._last = self._last, now
        ran_s = now.running_s - last.running_s
        slept_s = now.awake_or_not_s - last.awake_or_not_s - ran_s
        if slept_s > JUMP_FROM_S:
            self._noticed.append(ClockChanged("slept", round(slept_s, 3)))
        else:
            slept_s = 0.0
        jumped_s = now.wall_s - last.wall_s - ran_s - slept_s
        if abs(jumped_s) > JUMP_FROM_S:
            way = "forward" if jumped_s > 0 else "back"
            self._noticed.append(ClockChanged(way, round(abs(jumped_s), 3)))

    def _read(self) -> _Reading:
        for _ in range(_READINGS):
            before_ns = self._clocks.monotonic_ns()
            awake_or_not_ns = self._clocks.boottime_ns()
            wall_s = self._clocks.utc_now().timestamp()
            if self._clocks.monotonic_ns() - before_ns <= _TOGETHER_WITHIN_NS:
                break
        return _Reading(wall_s, before_ns / 1e9, awake_or_not_ns / 1e9)
