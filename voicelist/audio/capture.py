"""The microphone's child process: sound from the device to the parent, and nothing else.

The library's callback only copies and enqueues; what does not fit is dropped and counted, and the
count of samples goes on, so that a gap stays a gap. Where the device refuses 16 kHz its own rate is
resampled.
"""

from __future__ import annotations

import contextlib
import queue
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from voicelist.audio.looking import pauses_s, rest, source_given
from voicelist.audio.moved_source import SourceWatch
from voicelist.audio.samples import SAMPLE_RATE_HZ
from voicelist.child import BEAT_S, ChildEnd, hush
from voicelist.devices import PORTAUDIO_MISSING

BLOCKS_A_SECOND = 50
QUEUED_AT_MOST = 2 * BLOCKS_A_SECOND

_NS = 1_000_000_000
_LAG_AT_MOST_S = 2.0
_LISTED = "`voicelist devices` lists the microphones."

Samples = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Wanted:
    """`exact`: only the device of exactly this name will do (the one that was lost), and only the
    sound server's `source` that it was, if that is known."""

    device: str | None
    channels: int
    exact: bool = False
    source: str = ""


@dataclass(frozen=True, slots=True)
class DeviceOpened:
    device: str
    rate_hz: int
    source: str = ""


@dataclass(frozen=True, slots=True)
class NotOpened:
    """A sentence with a remedy; `usage` if the name given was at fault."""

    sentence: str
    usage: bool = False


@dataclass(frozen=True, slots=True)
class StillLooking:
    """The device is lost, or not there yet, and is looked for again."""

    reason: str


@dataclass(frozen=True, slots=True)
class Captured:
    """20 ms of sound, shape (channels, n), 16 kHz. `first_sample` counts from the opening of the
    device, dropped samples included; `mono_ns` is when the first of these samples was sounded.
    `overflowed`: the library lost an unknown amount just before; `dropped`: blocks so far.
    `source_known`: that it is the sound of this device was seen lately."""

    first_sample: int
    samples: Samples
    mono_ns: int
    overflowed: bool
    dropped: int
    source_known: bool = True


@dataclass(frozen=True, slots=True)
class _Raw:
    first_frame: int
    mono_ns: int
    frames: bytes
    overflowed: bool


class _Inbox:
    """What the library's callback fills."""

    def __init__(self) -> None:
        self.blocks: queue.Queue[_Raw] = queue.Queue(QUEUED_AT_MOST)
        self.dropped = 0
        self._frames = 0

    def take(self, data: Any, frames: int, times: Any, status: Any) -> None:
        """The callback: copy, enqueue, nothing more."""
        now_ns = time.monotonic_ns()
        lag_s = times.currentTime - times.inputBufferAdcTime
        known = times.inputBufferAdcTime > 0.0 and 0.0 <= lag_s <= _LAG_AT_MOST_S
        lag_ns = round((lag_s if known else 1 / BLOCKS_A_SECOND) * _NS)
        raw = _Raw(self._frames, now_ns - lag_ns, bytes(data), bool(status.input_overflow))
        self._frames += frames
        try:
            self.blocks.put_nowait(raw)
        except queue.Full:
            self.dropped += 1


def capture_loop(end: ChildEnd, wanted: Wanted) -> None:
    """The child: opens the device, says so, and hands on what it hears. One that was lost is looked
    for again and again."""
    hush()
    if wanted.exact:
        # Looking for it may hang in the library, and is noticed then.
        end.beat()
    try:
        import sounddevice
    except OSError:
        end.send(NotOpened(f"{PORTAUDIO_MISSING}."))
        return
    watch = SourceWatch()
    pauses = pauses_s() if wanted.exact else iter(())
    while True:
        told = _heard_from(sounddevice, end, wanted, watch)
        if isinstance(told, DeviceOpened):
            wanted = Wanted(told.device, wanted.channels, exact=True, source=told.source)
            pauses = pauses_s()
        pause_s = next(pauses, None)
        if isinstance(told, NotOpened):
            end.send(StillLooking(told.sentence) if pause_s is not None else told)
        if pause_s is None:
            return
        rest(watch, wanted.source, pause_s, end.receive)
        _look_anew(sounddevice)


def _look_anew(sounddevice: Any) -> None:
    """The library lists the devices once, when it begins. Where it cannot begin, asking it for
    devices says so."""
    for one in (sounddevice._terminate, sounddevice._initialize):
        with contextlib.suppress(sounddevice.PortAudioError):
            one()


def _heard_from(
    sounddevice: Any, end: ChildEnd, wanted: Wanted, watch: SourceWatch
) -> NotOpened | DeviceOpened:
    """Opens the device and hands on what it hears; why it could not, or what was heard until the
    sound was that of another device."""
    inbox, name = _Inbox(), wanted.device or "that is the usual one"
    try:
        devices, usual = tuple(sounddevice.query_devices()), sounddevice.default.device[0]
        found = choose_device(devices, usual, wanted)
        if isinstance(found, NotOpened):
            return found
        name = found["name"]
        stream = _open(sounddevice, found, wanted.channels, inbox)
        stream.start()
    except sounddevice.PortAudioError as error:
        return NotOpened(f"The microphone {name} cannot be opened ({error}). {_LISTED}")
    with contextlib.closing(stream):
        source = source_given(watch, wanted.source, end.receive)
        if wanted.source and source != wanted.source:
            return NotOpened(f"the sound server gives another microphone, {source or 'none'}")
        opened = DeviceOpened(name, int(stream.samplerate), source)
        end.send(opened)
        converter = Converter(opened.rate_hz, stream.channels, wanted.channels)
        same = SameSource(opened, watch, end)
        _hand_on(end, inbox, converter, same)
    return same.opened


@dataclass(slots=True)
class SameSource:
    """Whether sound still comes from the source that it came from at first. Where that was not
    known in time it is told once it is."""

    opened: DeviceOpened
    watch: SourceWatch
    end: ChildEnd

    def __call__(self) -> bool:
        now = self.watch.source
        if now and not self.opened.source:
            self.opened = replace(self.opened, source=now)
            self.end.send(self.opened)
        return not now or now == self.opened.source

    def known(self) -> bool:
        """Whether the server has confirmed it lately; not while it moves the stream."""
        of_none = bool(self.opened.source) and not self.watch.source
        return self.watch.knows(time.monotonic()) and not of_none


def choose_device(
    devices: tuple[dict[str, Any], ...], default: int, wanted: Wanted
) -> dict[str, Any] | NotOpened:
    """The device by exact name or unique part of it; the default one without a name."""
    inputs = [device for device in devices if device["max_input_channels"] > 0]
    if wanted.device is None:
        fitting = [device for device in inputs if device["index"] == default] or inputs[:1]
    else:
        fitting = [device for device in inputs if device["name"] == wanted.device][:1]
        if not fitting and not wanted.exact:
            part = wanted.device.lower()
            fitting = [device for device in inputs if part in device["name"].lower()]
    names = ", ".join(device["name"] for device in fitting)
    if len(fitting) > 1:
        return NotOpened(f"More than one microphone is like {wanted.device}: {names}.", usage=True)
    if not fitting:
        named = f" named {wanted.device}" if wanted.device else ""
        return NotOpened(f"There is no microphone{named}; plug it in. {_LISTED}")
    if fitting[0]["max_input_channels"] < wanted.channels:
        return NotOpened(f"The microphone {names} has one channel, not two. {_LISTED}", usage=True)
    return fitting[0]


def _open(sounddevice: Any, device: dict[str, Any], channels: int, inbox: _Inbox) -> Any:
    """A stream at 16 kHz, or else at the device's own rate; with one channel more if need be."""
    own_rate = int(device["default_samplerate"])
    most = min(2, device["max_input_channels"])
    refusal: Exception | None = None
    for rate in dict.fromkeys((SAMPLE_RATE_HZ, own_rate)):
        for count in dict.fromkeys((channels, most)):
            try:
                return sounddevice.RawInputStream(
                    rate,
                    rate // BLOCKS_A_SECOND,
                    device["index"],
                    count,
                    "int16",
                    callback=inbox.take,
                )
            except sounddevice.PortAudioError as error:
                refusal = error
    assert refusal is not None
    raise refusal


class Converter:
    """Interleaved frames at the device's rate to (channels, n) at 16 kHz, sample counts kept."""

    def __init__(self, rate_hz: int, device_channels: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._device_channels = device_channels
        self._channels = channels
        self._resampler: Any = None
        self._next_frame = 0
        self._next_sample = 0

    def convert(self, first_frame: int, mono_ns: int, frames: bytes) -> tuple[int, Samples, int]:
        """First sample, samples and the time of the first, of what is ready after these frames."""
        heard = np.frombuffer(frames, dtype=np.int16).reshape(-1, self._device_channels)
        heard = heard[:, : self._channels]
        if self._rate_hz == SAMPLE_RATE_HZ:
            return first_frame, np.ascontiguousarray(heard.T), mono_ns
        if self._resampler is None or first_frame != self._next_frame:
            self._start_at(first_frame)
        self._next_frame = first_frame + len(heard)
        made = self._resampler.resample_chunk(np.ascontiguousarray(heard))
        first_sample, self._next_sample = self._next_sample, self._next_sample + len(made)
        ahead_frames = first_sample * self._rate_hz / SAMPLE_RATE_HZ - first_frame
        first_ns = mono_ns + round(ahead_frames / self._rate_hz * _NS)
        return first_sample, np.ascontiguousarray(made.reshape(-1, self._channels).T), first_ns

    def _start_at(self, frame: int) -> None:
        import soxr

        self._resampler = soxr.ResampleStream(
            self._rate_hz, SAMPLE_RATE_HZ, self._channels, dtype="int16"
        )
        self._next_sample = round(frame * SAMPLE_RATE_HZ / self._rate_hz)


def _hand_on(end: ChildEnd, inbox: _Inbox, converter: Converter, same_source: SameSource) -> None:
    """Until the sound is that of another device, which is told."""
    beat_due_s, overflowed = 0.0, False
    for raw in _blocks(inbox):
        if not same_source():
            end.send(StillLooking("the sound server has gone over to another microphone"))
            return
        if raw is not None:
            first_sample, samples, mono_ns = converter.convert(
                raw.first_frame, raw.mono_ns, raw.frames
            )
            overflowed = overflowed or raw.overflowed
            if samples.shape[1]:
                known = same_source.known()
                heard = Captured(first_sample, samples, mono_ns, overflowed, inbox.dropped, known)
                end.send(heard)
                overflowed = False
        if time.monotonic() >= beat_due_s:
            end.receive(0.0)
            beat_due_s = time.monotonic() + BEAT_S


def _blocks(inbox: _Inbox) -> Iterator[_Raw | None]:
    while True:
        try:
            yield inbox.blocks.get(timeout=BEAT_S / 2)
        except queue.Empty:
            yield None
