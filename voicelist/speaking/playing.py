"""Sound to the loudspeaker, in a child process of its own.

The library's list of devices is fixed when it starts and a vanished device can block it for good,
so a loudspeaker that fails is met by a new process. Where there is none, nothing is played and a
sentence says so.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from voicelist.child import Child, ChildEnd, ChildLost, hush
from voicelist.devices import PORTAUDIO_MISSING
from voicelist.speaking.desk import Desk
from voicelist.speaking.speech import BYTES_A_SAMPLE, RATE_HZ, Sound

_BLOCK_S = 0.02
_LATENCY_S = 0.1
# A sound server may still hold sound that the library has handed over.
_SERVER_TAIL_S = 0.2

OPEN_DEADLINE_S = 4.0  # a wireless headset may have to wake up; project choice
LATE_AFTER_S = 1.0
START_DEADLINE_S = 10.0
RETRY_AFTER_S = 5.0
_STOP_DEADLINE_S = 0.5
_GLANCE_S = 0.02


@dataclass(frozen=True, slots=True)
class Play:
    sound: Sound


@dataclass(frozen=True, slots=True)
class StopPlaying:
    pass


@dataclass(frozen=True, slots=True)
class LoudspeakerReady:
    pass


@dataclass(frozen=True, slots=True)
class NoLoudspeaker:
    sentence: str
    for_good: bool


@dataclass(frozen=True, slots=True)
class Started:
    """The device has begun to take the sound."""


@dataclass(frozen=True, slots=True)
class PlayingEnded:
    """How much of the sound was played; `reason` if the device failed."""

    seconds: float
    reason: str | None = None


def play_loop(end: ChildEnd, device: str | None) -> None:
    """The child: plays one sound at a time; a message while it plays stops it."""
    hush()
    try:
        import sounddevice
    except OSError:
        end.send(NoLoudspeaker(f"{PORTAUDIO_MISSING}.", for_good=True))
        return
    try:
        sounddevice.query_devices(device, "output")
    except (ValueError, sounddevice.PortAudioError) as error:
        named = f" named {device}" if device else ""
        sentence = f"There is no loudspeaker{named} ({error}); `voicelist devices` lists them."
        end.send(NoLoudspeaker(sentence, for_good=False))
        return
    desk = Desk(end)
    desk.post(LoudspeakerReady())
    while True:
        message = desk.next()
        if isinstance(message, Play):
            _play(sounddevice, device, message.sound, desk)


def _play(sounddevice: Any, device: str | None, sound: Sound, desk: Desk) -> None:
    played_s = 0.0
    try:
        with _opened(sounddevice, device, sound) as (stream, frames, frame_bytes):
            lead_s = float(stream.latency)
            silence = bytes(_block_bytes(stream, frame_bytes))
            for written_s in _written(stream, frames, len(silence)):
                if played_s == 0.0 and written_s > lead_s:
                    desk.post(Started())
                played_s = max(0.0, written_s - lead_s)
                if desk.has_message:
                    desk.post(PlayingEnded(played_s))
                    return
            _write_silence(stream, silence, lead_s)
            desk.post(PlayingEnded(sound.seconds))
            _write_silence(stream, silence, _SERVER_TAIL_S, lambda: desk.has_message)
    except (sounddevice.PortAudioError, ValueError) as error:
        desk.post(PlayingEnded(played_s, str(error)))


def _written(stream: Any, frames: bytes, block: int) -> Iterator[float]:
    """Write block by block; after each the seconds written so far."""
    for at in range(0, len(frames), block):
        stream.write(frames[at : at + block].ljust(block, b"\0"))
        yield (at + block) / block * _BLOCK_S


def _write_silence(
    stream: Any, block: bytes, seconds: float, enough: Callable[[], bool] = lambda: False
) -> None:
    for _ in range(1 + int(seconds / _BLOCK_S)):
        if enough():
            return
        stream.write(block)


def _block_bytes(stream: Any, frame_bytes: int) -> int:
    return round(float(stream.samplerate) * _BLOCK_S) * frame_bytes


@contextlib.contextmanager
def _opened(sounddevice: Any, device: str | None, sound: Sound) -> Iterator[tuple[Any, bytes, int]]:
    """A running stream at 16 kHz, or else at the device's own rate, mono or else stereo; with the
    sound in that form and the bytes of one frame."""
    own_rate = int(sounddevice.query_devices(device, "output")["default_samplerate"])
    refusal: Exception | None = None
    for rate, channels in ((RATE_HZ, 1), (RATE_HZ, 2), (own_rate, 1), (own_rate, 2)):
        try:
            stream = sounddevice.RawOutputStream(
                rate, 0, device, channels, "int16", latency=_LATENCY_S
            )
        except sounddevice.PortAudioError as error:
            refusal = error
            continue
        try:
            stream.start()
            yield stream, _frames(sound, rate, channels), channels * BYTES_A_SAMPLE
        finally:
            # abort, not stop: what is left is silence, and stop can wait for a dead device for good
            stream.abort(ignore_errors=True)
            stream.close(ignore_errors=True)
        return
    assert refusal is not None
    raise refusal


def _frames(sound: Sound, rate: int, channels: int) -> bytes:
    if rate == RATE_HZ and channels == 1:
        return sound.pcm
    import numpy as np
    import soxr

    samples = np.frombuffer(sound.pcm, dtype="<i2")
    if rate != RATE_HZ:
        samples = soxr.resample(samples, RATE_HZ, rate)
    return np.repeat(samples, channels).astype(np.int16).tobytes()


@dataclass(frozen=True, slots=True)
class Played:
    """`seconds` of the sound were played; `complete` if that is all of it."""

    seconds: float
    complete: bool
    problem: str | None = None


class Loudspeaker:
    """The parent's side, for one thread. `absent` says why nothing is played, if so."""

    def __init__(self, device: str | None = None) -> None:
        self.absent: str | None = None
        self._child = Child("loudspeaker", play_loop, (device,))
        self._running = False
        self._for_good = False
        self._losses = 0
        self._retry_at_s = 0.0
        self._child.start()

    @property
    def pid(self) -> int | None:
        """The child's process, while there is one."""
        return self._child.pid if self._running else None

    def wait_ready(self) -> bool:
        """Whether there is a loudspeaker; starts the child where that is due."""
        if self._running:
            return True
        if self._for_good or time.monotonic() < self._retry_at_s:
            return False
        if self._child.waitable is None:
            self._child.start()
        match self._child.poll(START_DEADLINE_S):
            case LoudspeakerReady():
                self._running, self.absent = True, None
            case NoLoudspeaker(sentence, for_good):
                self.absent, self._for_good = sentence, for_good
            case _:
                self.absent = "The loudspeaker does not start; everything is shown as text."
        if not self._running:
            self._child.kill()
            self._retry_at_s = time.monotonic() + RETRY_AFTER_S
        return self._running

    def play(self, sound: Sound, interrupted: Callable[[], bool]) -> Played:
        """Play it to its end, until interrupted, or until the device is late by a second."""
        if not self.wait_ready():
            return Played(0.0, False)
        self._child.send(Play(sound))
        begun_s, limit_s = time.monotonic(), OPEN_DEADLINE_S
        while True:
            message = self._child.poll(_GLANCE_S)
            match message:
                case Started():
                    begun_s, limit_s = time.monotonic(), sound.seconds + LATE_AFTER_S
                case PlayingEnded(seconds, None):
                    self._losses = 0
                    return Played(seconds, seconds >= sound.seconds)
                case PlayingEnded(seconds, reason):
                    return self._lost(seconds, f"failed ({reason})")
                case ChildLost():
                    return self._lost(0.0, f"was lost ({message.reason})")
            if time.monotonic() - begun_s > limit_s:
                return self._lost(0.0, "did not take the sound in time")
            if interrupted():
                return self._stop()

    def close(self) -> None:
        self._child.stop()

    def _stop(self) -> Played:
        self._child.send(StopPlaying())
        end_s = time.monotonic() + _STOP_DEADLINE_S
        while time.monotonic() < end_s:
            message = self._child.poll(_GLANCE_S)
            if isinstance(message, PlayingEnded):
                return Played(message.seconds, False)
            if isinstance(message, ChildLost):
                break
        return self._lost(0.0, "did not stop in time")

    def _lost(self, seconds: float, why: str) -> Played:
        """End the child; the next sound starts another, at once after a first loss."""
        self._child.kill()
        self._running = False
        self._losses += 1
        self._retry_at_s = time.monotonic() + (RETRY_AFTER_S if self._losses > 1 else 0.0)
        return Played(seconds, False, f"The loudspeaker {why}; read it here.")
