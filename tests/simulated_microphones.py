"""Two microphones in simulated time: the classes of a live session above the capturing processes,
driven as fast as they can take it.

Only the processes and the clock are pretended. A device counts samples by a clock of its own, is
read with jitter, and suffers what devices suffer (`FAULTS`), one thing at a time.
"""

from __future__ import annotations

import random
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from voicelist.audio.capture import (
    Captured,
    Converter,
    DeviceOpened,
    StillLooking,
    Wanted,
)
from voicelist.audio.samples import SAMPLE_RATE_HZ, Samples
from voicelist.child import ChildLost

BLOCK_S = 0.02
# A process needs so long to begin and open the device, and looks for it so often.
BEGINS_AFTER_S, LOOKS_EVERY_S = 0.4, 2.0
JITTER_S = 0.004
PPM = (100, -80)
OTHER_RATE_HZ = 48_000
FAULTS = ("unplugged", "stalled", "overflow", "other rate", "no signal", "killed", "moved", "hung")
NAMES = ("Nurse", "Surgeon")
_HUNG_KNOWN_AFTER_S = 5.5
_NS = 1_000_000_000


@dataclass(slots=True)
class Device:
    """What a microphone hears, and what is amiss with it until `until_s`."""

    name: str
    sound: Callable[[int], Samples]
    fault: str = ""
    until_s: float = 0.0
    next_fault_s: float = 0.0


@dataclass(slots=True)
class World:
    """The time, the devices and the processes that read them."""

    devices: list[Device]
    every_s: float
    chance: random.Random
    now_s: float = 1_000.0
    faults: Counter[str] = field(default_factory=Counter)
    processes: list[PretendChild] = field(default_factory=list)
    started: int = 0
    tell: Callable[[], None] = lambda: None

    def __post_init__(self) -> None:
        for one in self.devices:
            one.next_fault_s = self.now_s + self.chance.uniform(5.0, 2 * self.every_s)

    def advance(self, seconds: float) -> None:
        """Time goes on by whole blocks; devices give their sound, and fail."""
        for _ in range(max(1, round(seconds / BLOCK_S))):
            self.now_s += BLOCK_S
            for device in self.devices:
                self._let_fail(device)
            for process in self.processes:
                process.work()

    def _let_fail(self, device: Device) -> None:
        if device.fault and self.now_s >= device.until_s:
            device.fault = ""
        if self.now_s >= device.next_fault_s:
            device.fault = self.chance.choice(FAULTS)
            self.faults[device.fault] += 1
            device.until_s = self.now_s + self.chance.choice((0.05, 0.3, 1.0, 3.0, 8.0))
            device.next_fault_s = device.until_s + self.chance.uniform(1.0, 2 * self.every_s)

    def child(self, name: str, target: Any, args: tuple[Wanted]) -> PretendChild:
        wanted = args[0].device or NAMES[0]
        (device,) = (one for one in self.devices if one.name.lower() == wanted.lower())
        return PretendChild(self, device, f"{name} {device.name}")

    def installed(self, patch: pytest.MonkeyPatch) -> None:
        """In place of the clock and of the processes, for this program alone."""
        clock = SimpleNamespace(
            monotonic=lambda: self.now_s,
            monotonic_ns=lambda: round(self.now_s * _NS),
            sleep=lambda _: None,
        )
        for module in ("audio.microphone", "audio.two_microphones", "listening.room_sound"):
            patch.setattr(f"voicelist.{module}.time", clock)
        patch.setattr("voicelist.audio.microphone.Child", self.child)
        patch.setattr(
            "voicelist.audio.two_microphones.wait_for", lambda _, seconds: self.advance(BLOCK_S)
        )


@dataclass(slots=True)
class PretendChild:
    """What the parent sees of a capturing process. It is as fast as its device."""

    world: World
    device: Device
    name: str
    pid: int = 0
    waitable: Any = None
    _messages: deque[Any] = field(default_factory=deque)
    _open: bool = False
    _ready_s: float = 0.0
    _hung_until_s: float = 0.0
    _frames: int = 0
    _due_s: float = 0.0
    _converter: Converter | None = None
    _overflowed: bool = False

    def start(self) -> None:
        self.world.started += 1
        self.pid, self.waitable = self.world.started, self
        self._ready_s = self.world.now_s + BEGINS_AFTER_S
        self.world.processes.append(self)

    def kill(self) -> None:
        self.waitable = None
        if self in self.world.processes:
            self.world.processes.remove(self)

    def poll(self, timeout_s: float = 0.0) -> Any:
        """As a real one, which is waited for: at its first opening nothing else makes time pass."""
        end_s = self.world.now_s + timeout_s
        while not self._messages and self.world.now_s < end_s:
            self.world.advance(BLOCK_S)
        return self._messages.popleft() if self._messages else None

    def work(self) -> None:
        """20 ms of its life."""
        now_s, fault = self.world.now_s, self.device.fault
        if self._hung_until_s:
            if now_s >= self._hung_until_s:
                self._ends(ChildLost(self.name, "gives no sign of life"))
        elif not self._open:
            if now_s >= self._ready_s:
                self._look(fault)
        elif fault == "killed":
            self._ends(ChildLost(self.name, "ended (exit code -9)"))
        elif fault == "moved":
            moved = "the sound server has gone over to another microphone"
            self._messages.append(StillLooking(moved))
            self._open, self._frames = False, 0
        else:
            self._give(fault)

    def _ends(self, message: Any) -> None:
        self._messages.append(message)
        self.world.processes.remove(self)

    def _look(self, fault: str) -> None:
        if fault == "hung":
            self._hung_until_s = self.world.now_s + _HUNG_KNOWN_AFTER_S
        elif fault in ("unplugged", "moved"):
            self._messages.append(StillLooking("There is no such microphone."))
            self._ready_s = self.world.now_s + LOOKS_EVERY_S
        else:
            self._open, self._due_s = True, self.world.now_s
            rate_hz = OTHER_RATE_HZ if fault == "other rate" else SAMPLE_RATE_HZ
            self._converter = Converter(rate_hz, 1, 1)
            self._rate_hz = rate_hz
            source = f"{self.device.name}.source"
            self._messages.append(DeviceOpened(self.device.name, rate_hz, source))

    _rate_hz: int = SAMPLE_RATE_HZ

    def _give(self, fault: str) -> None:
        """The blocks that are due by the device's own clock."""
        if fault in ("unplugged", "stalled", "hung"):
            self._due_s = self.world.now_s
            return
        ppm = PPM[NAMES.index(self.device.name)]
        count = round(BLOCK_S * self._rate_hz)
        while self._due_s <= self.world.now_s:
            began_s = self._due_s - BLOCK_S + self.world.chance.uniform(0.0, JITTER_S)
            self._due_s += BLOCK_S / (1 + ppm * 1e-6)
            self._overflowed = fault == "overflow" and self.world.chance.random() < 0.1
            heard = self.device.sound(count) if fault != "no signal" else np.zeros(count, np.int16)
            assert self._converter is not None
            first, samples, mono_ns = self._converter.convert(
                self._frames, round(began_s * _NS), heard.tobytes()
            )
            self._frames += count
            if samples.shape[1]:
                self._messages.append(Captured(first, samples, mono_ns, self._overflowed, 0))
