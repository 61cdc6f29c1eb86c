"""People in a room of a private sound server: what they say goes to null sinks at real pace, what
the loudspeaker plays is listened to."""

from __future__ import annotations

import contextlib
import subprocess
import threading
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from tests.pulse import PulseRoom

RATE_HZ = 16_000
BLOCK = 320
BLOCK_S = BLOCK / RATE_HZ
# What is so far below the loudest 20 ms of a line is silence.
AUDIBLE_dB = -40.0
FORM = ("--format=s16le", "--rate=16000", "--channels=1", "--latency-msec=20")


def _level(block: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(block))))


class Person:
    """Feeds one sink without a break: a quiet room's noise, and over it what is said."""

    def __init__(self, sink: str, noise: float = 8.0, seed: int = 1) -> None:
        self._sink = sink
        chance = np.random.default_rng(seed)
        self._noise = chance.normal(0, noise, (50, BLOCK))
        self._due: deque[np.ndarray] = deque()
        self._over = threading.Event()
        self._plugged = threading.Event()
        self._plugged.set()
        self._pacat: subprocess.Popen[bytes] | None = None
        # Whoever begins to speak into it just as it is pulled out would go on elsewhere.
        self._at_it = threading.Lock()
        self._thread = threading.Thread(target=self._feed, daemon=True)
        # When the last thing that was said began and ended (monotonic): its last 20 ms that can be
        # heard, as the latency benchmark has it.
        self.began_s = self.ended_s = 0.0
        self._audible = 0.0
        self._thread.start()

    def say(self, samples: np.ndarray) -> None:
        """From the next 20 ms on."""
        padded = np.pad(samples, (0, -len(samples) % BLOCK)).reshape(-1, BLOCK).astype(float)
        self.began_s = self.ended_s = 0.0
        self._audible = max(map(_level, padded), default=0.0) * 10 ** (AUDIBLE_dB / 20)
        self._due.extend(padded)

    @property
    def speaking(self) -> bool:
        return bool(self._due)

    def close(self) -> None:
        self._over.set()
        self._thread.join(2)
        self._stop()

    def pulled_out(self, room: PulseRoom) -> None:
        """Nobody speaks into it until it is plugged in: a sound server would play it elsewhere."""
        with self._at_it:
            self._plugged.clear()
            self._stop()
        room.unload(self._sink)

    def plugged_in(self, room: PulseRoom) -> None:
        room.load(self._sink)
        self._plugged.set()

    def _stop(self) -> None:
        if self._pacat is not None:
            self._pacat.kill()
            self._pacat.wait()
            self._pacat = None

    def _feed(self) -> None:
        due_s, number = time.monotonic(), 0
        while not self._over.is_set():
            due_s += BLOCK_S
            time.sleep(max(0.0, due_s - time.monotonic()))
            due_s = max(due_s, time.monotonic() - 0.1)
            number += 1
            sound = self._noise[number % len(self._noise)]
            if self._due:
                if not self.began_s:
                    self.began_s = time.monotonic()
                said = self._due.popleft()
                sound = sound + said
                if _level(said) >= self._audible:
                    self.ended_s = time.monotonic()
            with self._at_it:
                if self._plugged.is_set():
                    self._write(np.clip(sound, -32_768, 32_767).astype(np.int16).tobytes())

    def _write(self, block: bytes) -> None:
        """The sink may be gone, and come back."""
        if self._pacat is None or self._pacat.poll() is not None:
            command = ["pacat", f"--device={self._sink}", *FORM]
            self._pacat = subprocess.Popen(
                command, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL
            )
        with contextlib.suppress(OSError):
            assert self._pacat.stdin is not None
            self._pacat.stdin.write(block)
            self._pacat.stdin.flush()


@dataclass
class Ears:
    """Listens to a monitor: each 20 ms with when it came in (monotonic)."""

    sink: str
    at_s: list[float] = field(default_factory=list)
    blocks: list[np.ndarray] = field(default_factory=list)
    levels: list[float] = field(default_factory=list)

    @contextlib.contextmanager
    def listening(self) -> Iterator[Ears]:
        process = subprocess.Popen(
            ["parec", f"--device={self.sink}.monitor", *FORM], stdout=subprocess.PIPE
        )
        thread = threading.Thread(target=self._listen, args=(process,), daemon=True)
        thread.start()
        try:
            yield self
        finally:
            process.kill()
            process.wait()
            thread.join(2)

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdout is not None
        while len(heard := process.stdout.read(2 * BLOCK)) == 2 * BLOCK:
            block = np.frombuffer(heard, np.int16)
            self.at_s.append(time.monotonic())
            self.blocks.append(block)
            self.levels.append(float(np.sqrt(np.mean(block.astype(float) ** 2))))

    def quiet_for_s(self, level: float = 100.0) -> float:
        """How long nothing was heard, if something was."""
        for age, one in enumerate(reversed(self.levels)):
            if one > level:
                return age * BLOCK_S
        return 0.0

    def first_sound_after(self, since_s: float, level: float = 100.0) -> float | None:
        """When something was heard next."""
        for at_s, one in zip(list(self.at_s), list(self.levels), strict=False):
            if at_s > since_s and one > level:
                return at_s
        return None
