"""A private sound server with a loudspeaker that a microphone hears, for tests of real playback.

The loudspeaker is a null sink, the microphone its monitor. The sound library reaches both through
ALSA's pulse plugin. With `microphones` there are more null sinks whose monitors are devices of
these names, and the loudspeaker is heard by none of them. Nothing of the user's own sound set-up is
touched.
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

SINK = "room"
_PROGRAMS = ("pulseaudio", "pactl", "pacat", "paplay", "parec")
_ALSA = """
</usr/share/alsa/alsa.conf>
pcm.!default { type pulse }
ctl.!default { type pulse }
"""
# A device of its own by which the sound library reaches one monitor.
_ALSA_MICROPHONE = """
pcm.{name} {{ type pulse; device "{name}.monitor"; hint {{ show on; description "{name}" }} }}
"""
_ALONE = (
    *("-n", "--system=false", "--daemonize=no", "--exit-idle-time=-1"),
    *("--use-pid-file=false", "--disable-shm=true"),
)
_FORM = ("--format=s16le", "--rate=16000", "--channels=1")
_MONO = ("rate=16000", "channels=1", "format=s16le")
_WITHIN_S = 15.0
_AHEAD_AT_MOST_USEC = 60_000


class PulseRoom:
    """One running server. The environment that leads to it is already set for child processes."""

    def __init__(self, daemon: subprocess.Popen[bytes]) -> None:
        self._daemon = daemon
        self._hiss: dict[str, subprocess.Popen[bytes]] = {}
        self._modules: dict[str, str] = {}

    def load(self, sink: str = SINK, noise: Path | None = None) -> None:
        """Plug loudspeaker and microphone in; a microphone's room may have a noise of its own (raw
        samples, 16 kHz mono)."""
        loaded = _run("pactl", "load-module", "module-null-sink", f"sink_name={sink}", *_MONO)
        self._modules[sink] = loaded.strip()
        # A null sink without a hurried client computes two seconds ahead, as no real device does.
        self._hiss[sink] = subprocess.Popen(
            ["pacat", f"--device={sink}", "--latency-msec=20", *_FORM, str(noise or "/dev/zero")],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _wait_until("the loudspeaker hurries", lambda: _ahead_usec(sink) < _AHEAD_AT_MOST_USEC)

    def unload(self, sink: str = SINK) -> None:
        """Pull both out."""
        _run("pactl", "unload-module", self._modules.pop(sink))
        _end(self._hiss.pop(sink))

    def play(self, path: Path, sink: str = SINK) -> None:
        """Somebody says what is in the file; returns when it is over."""
        _run("paplay", f"--device={sink}", str(path))

    @contextlib.contextmanager
    def recording(self, path: Path) -> Iterator[None]:
        """What the room hears meanwhile goes into a WAV file (16 kHz mono)."""
        form = "--rate=16000 --channels=1 --format=s16le --latency-msec=20 --file-format=wav"
        recorder = subprocess.Popen(["parec", f"--device={SINK}.monitor", *form.split(), str(path)])
        try:
            _wait_until("recording begins", lambda: path.exists() and path.stat().st_size > 4_000)
            yield
            time.sleep(0.5)
        finally:
            _end(recorder)

    def close(self) -> None:
        for one in self._hiss.values():
            _end(one)
        _end(self._daemon)


@contextlib.contextmanager
def pulse_room(
    folder: Path, monkeypatch: pytest.MonkeyPatch, microphones: tuple[str, ...] = ()
) -> Iterator[PulseRoom]:
    """Start a server under `folder`; skips where its programs are not installed."""
    missing = [program for program in _PROGRAMS if shutil.which(program) is None]
    if missing:
        pytest.skip(f"not installed: {', '.join(missing)} (pulseaudio, pulseaudio-utils)")
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        pytest.skip("not installed: libasound2-plugins, through which PortAudio reaches pulseaudio")
    for name in ("run", "home"):
        (folder / name).mkdir(mode=0o700)
    devices = [_ALSA_MICROPHONE.format(name=name) for name in microphones]
    (folder / "alsa.conf").write_text("".join([_ALSA, *devices]))
    socket = folder / "run" / "native"
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder / "run"))
    monkeypatch.setenv("PULSE_RUNTIME_PATH", str(folder / "run"))
    monkeypatch.setenv("PULSE_STATE_PATH", str(folder / "home"))
    monkeypatch.setenv("PULSE_COOKIE", str(folder / "home" / "cookie"))
    monkeypatch.setenv("PULSE_SERVER", f"unix:{socket}")
    monkeypatch.setenv("ALSA_CONFIG_PATH", str(folder / "alsa.conf"))
    with (folder / "pulseaudio.log").open("wb") as log:
        daemon = subprocess.Popen(
            ["pulseaudio", *_ALONE, "-L", f"module-native-protocol-unix socket={socket}"],
            stdout=log,
            stderr=log,
        )
    room = PulseRoom(daemon)
    try:
        _wait_until("the sound server answers", _answers)
        for sink in (SINK, *microphones):
            room.load(sink)
        _run("pactl", "set-default-sink", SINK)
        yield room
    finally:
        room.close()


def _answers() -> bool:
    return subprocess.run(["pactl", "info"], capture_output=True, check=False).returncode == 0


def _ahead_usec(sink: str) -> int:
    """How far ahead the sink has computed."""
    listed = _run("pactl", "list", "sinks").partition(f"Name: {sink}\n")[2]
    return int(listed.partition("Latency: ")[2].split()[0])


def _wait_until(what: str, true: Callable[[], bool]) -> None:
    end_s = time.monotonic() + _WITHIN_S
    while not true():
        if time.monotonic() > end_s:
            pytest.fail(f"{what}: not within {_WITHIN_S:g} s")
        time.sleep(0.05)


def _run(*command: str) -> str:
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=30)
    return done.stdout


def _end(process: subprocess.Popen[bytes] | None) -> None:
    if process is not None:
        process.terminate()
        try:
            process.wait(3)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(3)
