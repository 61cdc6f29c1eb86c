"""Two microphones that fail all day: memory, descriptors, threads and processes stay as they are.

    python tests/soak/device_faults.py [--hours H] [--faults N] [--only hours|processes] [--deaf]
        [--reduced]

First eight hours of a session's sound in simulated time: two microphones with clocks of their own,
alignment, gate, hearer and recogniser, of which only the capturing processes and the clock are
pretended, some three thousand faults, speech of both and of the assistant; `--deaf` leaves out
hearer and recogniser. Then, at real pace, real capturing processes with a pretend sound library,
and one fault after the other: unplugged, stalled, overflow, another rate, no signal, the process
killed, the process stopped, the library hanging. Told at each quarter: the memory of each process
that is its own, descriptors, threads and children. Exit code 1 where anything grows beyond what is
allowed after the warm-up, or a microphone does not come back within 30 s. `--reduced` is a tenth of
an hour in simulated time, without recogniser.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.pretend_devices import PretendDevices
from tests.simulated_microphones import NAMES, Device, World
from tests.soak.long_listening import own_mb
from tests.team.room import case_of
from voicelist.answering_into import GatedEar
from voicelist.asr.model import find_model
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.microphone import Block, MicrophoneBack, MicrophoneLost, Told
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.audio.sound_files import read_sound
from voicelist.audio.two_microphones import TwoMicrophones
from voicelist.listening.gate import MicrophoneGate, Sounded
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import SoundHearer
from voicelist.places import shipped
from voicelist.session.events import Equipment, Event, Stop
from voicelist.session.state import State

# What may be added after the warm-up: project choices. A process of Python keeps a few MB more or
# fewer by chance; a leak of a block of sound (640 bytes) for each one heard would be 900 MB.
PARENT_MB, CHILD_MB = 12.0, 12.0
DESCRIPTORS, THREADS, CHILDREN = 2, 2, 0
BACK_WITHIN_S = 30.0
FAULT_EVERY_S = 15.0
SPEAKS_EVERY_S, SPEAKS_FOR_S = 25.0, 1.5
# An answer costs as much computing as minutes of silence.
ANSWERS_EVERY_S = 180
REDUCED_HOURS = 0.1
ROLES = ("circulating-nurse", "surgeon")
BOTH = [[name, 1, 0] for name in NAMES]


@dataclass(frozen=True, slots=True)
class Size:
    """What a program holds."""

    parent_mb: float
    child_mb: float
    descriptors: int
    threads: int
    children: int


def size_now() -> Size:
    """Of this program and of the largest of its children."""
    pids = Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()
    children_mb = [0.0]
    for pid in pids:
        try:
            children_mb.append(own_mb(pid))
        except OSError:  # it has just ended
            continue
    descriptors = len(list(Path("/proc/self/fd").iterdir()))
    return Size(own_mb("self"), max(children_mb), descriptors, threading.active_count(), len(pids))


@dataclass(slots=True)
class Watch:
    """Takes sizes, tells those at quarters, and says what grew."""

    what: str
    sizes: list[Size] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)

    def take(self, at: str, told: str = "") -> None:
        size = size_now()
        self.sizes.append(size)
        print(
            f"{self.what} {at}: {size.parent_mb:.1f} MB, largest child {size.child_mb:.1f} MB,"
            f" {size.descriptors} descriptors, {size.threads} threads, {size.children} children"
            f"{told}",
            flush=True,
        )

    def grown(self) -> list[str]:
        """Beyond what is allowed: the largest of the second half against that of the first, without
        the very first one, which is taken before all has been used."""
        warm = self.sizes[1:] or self.sizes
        half = max(1, len(warm) // 2)
        allowed = zip(
            ("parent_mb", "child_mb", "descriptors", "threads", "children"),
            (PARENT_MB, CHILD_MB, DESCRIPTORS, THREADS, CHILDREN),
            strict=True,
        )
        found = []
        for name, most in allowed:
            before = max(getattr(one, name) for one in warm[:half])
            after = max(getattr(one, name) for one in warm[half:] or warm)
            if after - before > most:
                found.append(f"{self.what}: {name} grew from {before:.1f} to {after:.1f}")
        return found


def sound_of(seed: int) -> Callable[[int], Samples]:
    """A room's noise, and every few minutes somebody answers into this microphone."""
    noise = np.random.default_rng(seed).normal(0, 20, 10 * SAMPLE_RATE_HZ).astype(np.int16)
    folder = shipped("audio_fixtures_synthetic") / "answers"
    files = [one for one in sorted(folder.glob("*.flac")) if not one.stem.endswith("dB")]
    answers = cycle([read_sound(one).samples[0] for one in files[seed :: len(files) // 8]])
    at, rest = 0, np.zeros(0, np.int16)

    def give(count: int) -> Samples:
        nonlocal at, rest
        begins, at = at, at + count
        every = ANSWERS_EVERY_S * SAMPLE_RATE_HZ
        if begins // every != at // every:
            rest = next(answers)
        from_ = begins % (len(noise) - count)
        sound = noise[from_ : from_ + count].copy()
        said, rest = rest[:count], rest[count:]
        sound[: len(said)] += said // 2
        return sound

    return give


class Session:
    """The world, and what a live session has of it."""

    def __init__(self, hours: float, seed: int, patch: pytest.MonkeyPatch, *, deaf: bool) -> None:
        devices = [Device(name, sound_of(number)) for number, name in enumerate(NAMES)]
        self.world = World(devices, FAULT_EVERY_S, random.Random(seed))
        self.world.installed(patch)
        self.microphones = TwoMicrophones(*NAMES)
        self.room = LiveRoom(self.microphones, MicrophoneGate(), 2, meanwhile=self._meanwhile)
        self.room.roles = ROLES
        self.events = Counter[str]()
        self.case = case_of("practice-007")
        first = self.case.sections()[0]
        self.state = State(section=first.id, current=first.items[0].id)
        self.recogniser: RecogniserProcess | None = None
        self.hearer = None if deaf else self._hearer()
        self.ear = GatedEar(self.room, self.hearer)
        self.began_s = self.world.now_s
        self.ends_s = self.began_s + hours * 3600
        self._speaks_at_s = self.began_s + SPEAKS_EVERY_S

    def _hearer(self) -> SoundHearer:
        model = find_model()
        self.recogniser = RecogniserProcess(wide_search_model(model), 2)
        known = vocabulary(model.path)
        return SoundHearer(self.case, self.recogniser, self.room, ROLES, known)

    def close(self) -> None:
        self.microphones.close()
        if self.recogniser is not None:
            self.recogniser.close()

    def _meanwhile(self) -> Event | None:
        now_s = self.world.now_s
        if now_s >= self.ends_s:
            return Stop("the day is over")
        if now_s >= self._speaks_at_s:
            self._speak()
        return None

    def _speak(self) -> None:
        self.ear.speech_begins("Firm or loose: the irrigation line?")
        over_s = self.world.now_s + SPEAKS_FOR_S
        while self.world.now_s < over_s:
            self.ear.somebody_speaks()
            self.world.advance(0.02)
        self.ear.speech_ended(broken_off=False)
        self._speaks_at_s = self.world.now_s + SPEAKS_EVERY_S

    def hear_on(self) -> bool:
        """The next event, or without a hearer the next sound; False at the end."""
        event = self.hearer.next_event(self.state) if self.hearer else self.room.read()
        if isinstance(event, Equipment):
            self.events[event.key] += 1
        else:
            self.events[type(event).__name__] += 1
        return not isinstance(event, Stop)


def hours_of_sound(hours: float, seed: int, patch: pytest.MonkeyPatch, *, deaf: bool) -> list[str]:
    """A day in simulated time; what is amiss."""
    began_s, watch = time.monotonic(), Watch("sound")
    session = Session(hours, seed, patch, deaf=deaf)
    quarter_s = min(900.0, hours * 3600 / 8)
    next_s = session.began_s + quarter_s
    with closing(session):
        while session.hear_on():
            if session.world.now_s >= next_s:
                next_s += quarter_s
                after_h = (session.world.now_s - session.began_s) / 3600
                told = f"; {session.world.faults.total()} faults, {session.world.started} processes"
                watch.take(f"after {after_h:.2f} h", told)
    print(f"{hours:g} h of sound in {(time.monotonic() - began_s) / 60:.1f} min")
    print(f"faults: {dict(session.world.faults)}; told: {dict(session.events)}", flush=True)
    problems = watch.grown()
    lacking = {"role-not-heard", "role-heard-again"} - set(session.events)
    if lacking:
        problems.append(f"never told: {', '.join(sorted(lacking))}")
    return problems


@dataclass(slots=True)
class Processes:
    """Real capturing processes that are read like a session does."""

    microphones: TwoMicrophones
    devices: PretendDevices
    gate: MicrophoneGate = field(default_factory=MicrophoneGate)
    heard: list[bool] = field(default_factory=lambda: [False, False])
    lost: list[int] = field(default_factory=lambda: [0, 0])
    back_s: list[float] = field(default_factory=list)

    def read(self, seconds: float) -> Iterator[Told]:
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s:
            told = self.microphones.read(0.1)
            if isinstance(told, Block):
                self.gate.feed(Sounded(told.first_sample, told.samples, told.mono_ns))
                self.heard = [bool(one.any()) for one in told.samples]
            elif isinstance(told, MicrophoneLost | MicrophoneBack) and told.channel is not None:
                self.lost[told.channel] += isinstance(told, MicrophoneLost)
            if told is not None:
                yield told

    def let(self, fault: str, channel: int, for_s: float) -> None:
        """One fault for so long, and then nothing is amiss any more."""
        name, pid = NAMES[channel], self.microphones.processes[channel]
        match fault:
            case "unplugged":
                others = [one for one in BOTH if one[0] != name]
                self.devices.set(devices=others, silent=[name])
            case "stalled" | "overflow":
                self.devices.set(**{fault: [name]})
            case "another rate":
                self.devices.set(silent=[name], rates=[44_100], rate=44_100)
            case "no signal":
                self.devices.set(value={name: 0})
            case "killed" | "stopped" if pid is not None:
                os.kill(pid, signal.SIGKILL if fault == "killed" else signal.SIGSTOP)
            case "hanging":
                self.devices.set(silent=[name], opens={name: "hangs"})
        for _ in self.read(for_s):
            pass
        usual: dict[str, object] = {"devices": BOTH, "value": None, "opens": {}}
        if fault != "another rate":
            usual |= {"rates": [16_000, 44_100, 48_000], "rate": 48_000}
        self.devices.set(silent=[], stalled=[], overflow=[], **usual)

    def wait_until_heard(self) -> bool:
        """Whether both are heard again, in time."""
        began_s = time.monotonic()
        self.heard = [False, False]
        for told in self.read(BACK_WITHIN_S):
            if isinstance(told, Block) and all(self.heard):
                self.back_s.append(time.monotonic() - began_s)
                return True
        return False


PROCESS_FAULTS = (
    *("unplugged", "stalled", "overflow", "another rate", "no signal", "killed", "stopped"),
    "hanging",
)


def processes(faults: int, seed: int, folder: Path, patch: pytest.MonkeyPatch) -> list[str]:
    """So many faults of real processes, one after the other; what is amiss."""
    chance, watch, counts = random.Random(seed), Watch("processes"), Counter[str]()
    devices = PretendDevices(folder, patch, devices=BOTH, server={})
    began_s = time.monotonic()
    with closing(TwoMicrophones(*NAMES)) as microphones:
        run = Processes(microphones, devices)
        run.wait_until_heard()
        for number in range(faults):
            if number % max(1, faults // 16) == 0:
                watch.take(f"after {number} faults")
            fault = PROCESS_FAULTS[number % len(PROCESS_FAULTS)]
            counts[fault] += 1
            run.let(fault, chance.randrange(2), chance.choice((0.05, 0.3, 0.6, 1.5, 3.0)))
            if not run.wait_until_heard():
                watch.problems.append(f"not heard within {BACK_WITHIN_S:g} s after: {fault}")
        watch.take(f"after {faults} faults")
    took_min = (time.monotonic() - began_s) / 60
    median, most = float(np.median(run.back_s)), max(run.back_s)
    print(f"{faults} faults of real processes in {took_min:.1f} min: {dict(counts)}")
    print(f"lost {run.lost}; heard again after {median:.2f} s (median), {most:.2f} s at most")
    return [*watch.problems, *watch.grown()]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--faults", type=int, default=320)
    parser.add_argument("--only", choices=("hours", "processes"))
    parser.add_argument("--deaf", action="store_true")
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--reduced", action="store_true")
    wanted = parser.parse_args()
    if wanted.reduced:
        wanted.hours, wanted.deaf, wanted.only = REDUCED_HOURS, True, "hours"
    problems: list[str] = []
    if wanted.only != "processes":
        with pytest.MonkeyPatch.context() as patch:
            problems += hours_of_sound(wanted.hours, wanted.seed, patch, deaf=wanted.deaf)
    if wanted.only != "hours":
        with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
            problems += processes(wanted.faults, wanted.seed, Path(folder), patch)
    for one in problems:
        print(f"PROBLEM: {one}")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
