"""One of two microphones is pulled out of a sound server and plugged in again, over and over.

    python tests/soak/pulled_out.py [--pulls N] [--busy N] [--seed N] [--told] [--reduced]

Needs PulseAudio, and an idle machine: it judges times. No case and nobody who speaks: the
microphones are two sources with a tone, and the classes of a live session read them. The surgeon's
is gone for 50 ms to 14 s, and comes back at any time of a search for it. `--busy` lets so many busy
loops run beside it. `--told` prints each pull. Told at the end: how soon it was missed, how soon it
was heard again, for how long the other microphone's sound was taken for its own, and how long the
other one was not heard itself. Exit code 1 where it does not come back within 12 s, or the
other one is taken for it for longer than a second.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.pulse import pulse_room
from voicelist.audio.microphone import Block, MicrophoneBack, MicrophoneLost
from voicelist.audio.samples import Samples
from voicelist.audio.two_microphones import TwoMicrophones

RATE_HZ, BLOCK = 16_000, 320
TONES_HZ = {"nurse": 300, "surgeon": 1_000}
GONE_S = (0.05, 0.3, 1.0, 3.0, 6.0, 10.0, 14.0)
REDUCED_GONE_S = (0.05, 0.3, 3.0)
BACK_WITHIN_S, GIVE_UP_S, OTHER_AT_MOST_S = 12.0, 60.0, 1.0
STEADY_S = 1.0
REDUCED_PULLS = 3


class Device:
    """A source that gives a tone at real pace as soon as it is plugged in, as a null sink's monitor
    does not."""

    def __init__(self, name: str, folder: Path) -> None:
        self._name, self._pipe, self._module = name, folder / f"{name}.pipe", ""
        at = np.arange(RATE_HZ) * 2 * np.pi * TONES_HZ[name] / RATE_HZ
        self._tone = (8_000 * np.sin(at)).astype(np.int16).reshape(-1, BLOCK)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._sound, daemon=True)
        self._thread.start()

    def plug_in(self) -> None:
        form = ("format=s16le", f"rate={RATE_HZ}", "channels=1")
        source = (f"source_name={self._name}.monitor", f"file={self._pipe}")
        self._module = _pactl("load-module", "module-pipe-source", *source, *form)

    def pull_out(self) -> None:
        _pactl("unload-module", self._module)

    def close(self) -> None:
        self._over.set()
        self._thread.join()

    def _sound(self) -> None:
        due_s, pipe, number = time.monotonic(), -1, 0
        while not self._over.is_set():
            due_s = max(due_s + BLOCK / RATE_HZ, time.monotonic() - 0.1)
            time.sleep(max(0.0, due_s - time.monotonic()))
            number += 1
            try:
                if pipe < 0:
                    pipe = os.open(self._pipe, os.O_WRONLY | os.O_NONBLOCK)
                os.write(pipe, self._tone[number % len(self._tone)].tobytes())
            except BlockingIOError:
                continue
            except OSError:  # nobody reads: it is pulled out
                if pipe >= 0:
                    os.close(pipe)
                pipe = -1
        if pipe >= 0:
            os.close(pipe)


def _pactl(*words: str) -> str:
    done = subprocess.run(["pactl", *words], check=True, capture_output=True, text=True, timeout=60)
    return done.stdout.strip()


@dataclass
class Reading:
    """Reads both microphones in a thread, as a session does, and notes when what came."""

    microphones: TwoMicrophones
    lost_at_s: float = 0.0
    back_at_s: float = 0.0
    is_lost: bool = False
    surgeon_at_s: float = 0.0
    # When the nurse's tone was last heard in the surgeon's channel.
    other_at_s: float = 0.0
    nurse_at_s: float = 0.0
    nurse_gap_s: float = 0.0
    over: threading.Event = field(default_factory=threading.Event)

    def __post_init__(self) -> None:
        self.thread = threading.Thread(target=self._read, daemon=True)
        self.thread.start()

    def _read(self) -> None:
        while not self.over.is_set():
            told, now_s = self.microphones.read(0.1), time.monotonic()
            match told:
                case Block():
                    self._block(told, now_s)
                case MicrophoneLost(channel=1):
                    self.is_lost, self.lost_at_s = True, now_s
                case MicrophoneBack(channel=1):
                    self.is_lost, self.back_at_s = False, now_s
                case _:
                    continue

    def _block(self, block: Block, now_s: float) -> None:
        nurse, surgeon = (bool(one.any()) for one in block.samples)
        if nurse:
            if self.nurse_at_s:
                self.nurse_gap_s = max(self.nurse_gap_s, now_s - self.nurse_at_s)
            self.nurse_at_s = now_s
        if surgeon:
            self.surgeon_at_s = now_s
            if _is_the_nurses(block.samples[1]):
                self.other_at_s = now_s

    def is_back(self, since_s: float) -> bool:
        """For a while already, and its sound with it."""
        now_s = time.monotonic()
        steady = now_s - max(since_s, self.back_at_s, self.lost_at_s) > STEADY_S
        return not self.is_lost and steady and now_s - self.surgeon_at_s < 0.5


def _is_the_nurses(samples: Samples) -> bool:
    """By which of the two tones is the louder one."""
    spectrum = np.abs(np.fft.rfft(samples.astype(float)))
    nurse, surgeon = (spectrum[hz * BLOCK // RATE_HZ] for hz in TONES_HZ.values())
    return bool(nurse > surgeon)


@dataclass
class Pulls:
    """What was measured, in seconds; `never` counts those that did not come back at all."""

    noticed_s: list[float] = field(default_factory=list)
    back_s: list[float] = field(default_factory=list)
    other_s: list[float] = field(default_factory=list)
    unnoticed: int = 0
    never: int = 0

    def one(self, surgeon: Device, reading: Reading, gone_s: float, *, told: bool) -> None:
        """Pull it out for so long."""
        pulled_s = time.monotonic()
        surgeon.pull_out()
        time.sleep(gone_s)
        plugged_s = time.monotonic()
        surgeon.plug_in()
        while not reading.is_back(plugged_s):
            if time.monotonic() - plugged_s > GIVE_UP_S:
                self.never += 1
                break
            time.sleep(0.02)
        noticed_s = reading.lost_at_s - pulled_s
        self.other_s.append(max(0.0, reading.other_at_s - pulled_s))
        if noticed_s < 0.0:
            self.unnoticed += 1
        else:
            self.noticed_s.append(noticed_s)
            self.back_s.append(max(0.0, reading.back_at_s - plugged_s))
        if told:
            back = reading.back_at_s - plugged_s
            print(f"gone {gone_s:.2f} s, noticed {noticed_s:.2f}, back {back:.2f}", flush=True)

    def report(self, reading: Reading) -> int:
        """Prints all; 1 if something is not as it should be."""
        found = {"noticed": self.noticed_s, "back": self.back_s, "another's sound": self.other_s}
        for what, seconds in found.items():
            if seconds:
                p50, p95, most = np.percentile(seconds, [50, 95, 100])
                print(f"{what}: {p50:.2f} s (median), {p95:.2f} s (p95), {most:.2f} s at most")
        late = sum(one > BACK_WITHIN_S for one in self.back_s)
        print(f"{len(self.other_s)} pulls; not noticed, as it was back at once: {self.unnoticed}")
        print(f"the other microphone was not heard for {reading.nurse_gap_s:.2f} s at most")
        print(f"back later than {BACK_WITHIN_S:g} s: {late}; never: {self.never}")
        wrong = late or self.never or max(self.other_s) > OTHER_AT_MOST_S
        return int(bool(wrong or not self.back_s))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--pulls", type=int, default=60)
    parser.add_argument("--busy", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--told", action="store_true")
    parser.add_argument("--reduced", action="store_true")
    wanted = parser.parse_args()
    chance, pulls = random.Random(wanted.seed), Pulls()
    count = REDUCED_PULLS if wanted.reduced else wanted.pulls
    choices = REDUCED_GONE_S if wanted.reduced else GONE_S
    with (
        tempfile.TemporaryDirectory() as folder,
        pytest.MonkeyPatch.context() as patch,
        pulse_room(Path(folder), patch, ("nurse", "surgeon")) as room,
        beside(wanted.busy),
        contextlib.ExitStack() as stack,
    ):
        for name in TONES_HZ:
            room.unload(name)
        nurse, surgeon = (
            stack.enter_context(closing(Device(one, Path(folder)))) for one in TONES_HZ
        )
        nurse.plug_in()
        surgeon.plug_in()
        # What a sound server goes over to.
        _pactl("set-default-source", "nurse.monitor")
        with closing(TwoMicrophones("nurse", "surgeon")) as microphones:
            reading = Reading(microphones)
            while not reading.is_back(0.0):
                time.sleep(0.1)
            for number in range(count):
                gone_s = choices[number % len(choices)] * chance.uniform(0.8, 1.2)
                pulls.one(surgeon, reading, gone_s, told=wanted.told)
                time.sleep(chance.uniform(0.0, 2.0))
            reading.over.set()
            reading.thread.join()
            return pulls.report(reading)


@contextlib.contextmanager
def beside(loops: int) -> Iterator[None]:
    """So many busy loops."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(loops)]
    try:
        yield
    finally:
        for one in busy:
            one.kill()
            one.wait()


if __name__ == "__main__":
    sys.exit(main())
