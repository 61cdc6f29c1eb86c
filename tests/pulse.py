"""A private sound server with a loudspeaker that a microphone hears, for tests of real playback.

The loudspeaker is a null sink, the microphone its monitor. The sound library reaches both through
ALSA's pulse plugin. Nothing of the user's own sound set-up is touched.
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
_ALONE = (
    *("-n", "--system=false", "--daemonize=no", "--exit-idle-time=-1"),
    *("--use-pid-file=false", "--disable-shm=true"),
)
_WITHIN_S = 15.0
_AHEAD_AT_MOST_USEC = 60_000


class PulseRoom:
    """One running server. The environment that leads to it is already set for child processes."""

    def __init__(self, daemon: subprocess.Popen[bytes]) -> None:
        self._daemon = daemon
        self._hiss: subprocess.Popen[bytes] | None = None

    def load(self) -> None:
        """Plug loudspeaker and microphone in."""
        _run("pactl", "load-module", "module-null-sink", f"sink_name={SINK}")
        # A null sink without a hurried client computes two seconds ahead, as no real device does.
        self._hiss = subprocess.Popen(
            ["pacat", f"--device={SINK}", "--latency-msec=20", "/dev/zero"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _wait_until("the loudspeaker hurries", lambda: _ahead_usec() < _AHEAD_AT_MOST_USEC)

    def unload(self) -> None:
        """Pull both out."""
        _run("pactl", "unload-module", "module-null-sink")
        _end(self._hiss)
        self._hiss = None

    def play(self, path: Path) -> None:
        """Somebody says what is in the file; returns when it is over."""
        _run("paplay", f"--device={SINK}", str(path))

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
        _end(self._hiss)
        _end(self._daemon)


@contextlib.contextmanager
def pulse_room(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseRoom]:
    """Start a server under `folder`; skips where its programs are not installed."""
    missing = [program for program in _PROGRAMS if shutil.which(program) is None]
    if missing:
        pytest.skip(f"not installed: {', '.join(missing)} (pulseaudio, pulseaudio-utils)")
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        pytest.skip("not installed: libasound2-plugins, through which PortAudio reaches pulseaudio")
    for name in ("run", "home"):
        (folder / name).mkdir(mode=0o700)
    (folder / "alsa.conf").write_text(_ALSA)
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
        room.load()
        yield room
    finally:
        room.close()


def _answers() -> bool:
    return subprocess.run(["pactl", "info"], capture_output=True, check=False).returncode == 0


def _ahead_usec() -> int:
    """How far ahead the sink has computed."""
    listed = subprocess.run(["pactl", "list", "sinks"], capture_output=True, text=True, check=True)
    return int(listed.stdout.partition("Latency: ")[2].split()[0])


def _wait_until(what: str, true: Callable[[], bool]) -> None:
    end_s = time.monotonic() + _WITHIN_S
    while not true():
        if time.monotonic() > end_s:
            pytest.fail(f"{what}: not within {_WITHIN_S:g} s")
        time.sleep(0.05)


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True, timeout=30)


def _end(process: subprocess.Popen[bytes] | None) -> None:
    if process is not None:
        process.terminate()
        try:
            process.wait(3)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(3)
