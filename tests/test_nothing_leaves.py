"""Nothing leaves the room: the commands reach for no network and write in their own folders alone.

Seen from outside, with the tracer of `tests/traced.py`, in a home folder that holds only the speech
model.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from tests.command import CARD, CHECKLIST, PLAN
from tests.linting.lint_documents import write
from tests.traced import Traced, traced
from voicelist.asr.model import ENVIRONMENT_NAME, ModelPlace, cached_model_folder
from voicelist.asr.verifier import verifier_folder

PROJECT = Path(__file__).resolve().parents[1]
# The second model is asked about it.
DOUBTFUL = (
    PROJECT / "audio_fixtures_synthetic" / "answers" / "irrigation-line.done.01-en-us-15dB.flac"
)
VOICELIST = (sys.executable, "-m", "voicelist")
COMMANDS: dict[str, tuple[object, ...]] = {
    "model": ("model",),
    "demo": ("demo",),
    "sound-key": ("record", "sound-key", "-o", "sound.key"),
    "run": (
        *("run", PLAN, "--audio", DOUBTFUL, "--pace", "fast", "--voice-out", "said.wav"),
        "--keep-audio",
    ),
    "hear": ("hear", CHECKLIST, DOUBTFUL, "--item", "irrigation-line"),
    "check": ("check", "small"),
    "draw": ("draw", "pedal", CARD, "--grade", "clinical 3", "-o", "pedal.png"),
    "list": ("record", "list"),
    "show": ("record", "show", "practice-007"),
    "export": ("record", "export", "practice-007", "--format", "html", "-o", "case.html"),
    "tables": ("record", "export", "--all", "--format", "parquet", "-o", "tables"),
    "review": ("review", "tables", "--at-least", "1", "-o", "review"),
    "key": ("record", "key", "site", "-o", "site.key"),
    "sign": ("record", "sign", "practice-007", "--key", "site.key", "-o", "case.signed"),
    "export-pdf": ("record", "export", "practice-007", "--format", "pdf", "-o", "case.pdf"),
    "print": ("print", PLAN, "-o", "list.pdf"),
    "erase": (
        *("record", "erase", "practice-007", "--role", "team-lead", "--reason", "asked for"),
        "--yes",
    ),
}
RUN_TIME = re.compile(r"onnxruntime_pybind11_state[^/]*$")
LEFT_OUT = ("XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "TMPDIR")
LEFT_OUT += ("ORT_DISABLE_TELEMETRY", "MPLCONFIGDIR", ENVIRONMENT_NAME)


@dataclass(frozen=True, slots=True)
class Home:
    """A user's home; commands are run in its folder `chosen`, where their outputs go."""

    folder: Path

    @property
    def chosen(self) -> Path:
        return self.folder / "chosen"

    @property
    def own(self) -> tuple[Path, ...]:
        cache, data = self.folder / ".cache", self.folder / ".local" / "share"
        return (self.chosen, cache / "voicelist", data / "voicelist")

    def watch(self, *command: object, **more: str) -> Traced:
        # What this process was told by voicelist itself, or by who runs it, is left out. Python's
        # compiled modules are made when a package is installed, and none of a program's files.
        kept = {name: value for name, value in os.environ.items() if name not in LEFT_OUT}
        told = {"HOME": str(self.folder), "PYTHONDONTWRITEBYTECODE": "1"}
        return traced(command, self.chosen, {**kept, **told, **more})


def home_in(folder: Path) -> Home:
    made = Home(folder.resolve())
    made.chosen.mkdir()
    return made


@pytest.fixture
def empty_home(tmp_path: Path) -> Home:
    return home_in(tmp_path)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    return home_in(tmp_path_factory.mktemp("home"))


@pytest.fixture(scope="module")
def watched(home: Home, speech_model: ModelPlace) -> dict[str, Traced]:
    """All commands, one after the other."""
    if speech_model.note is not None:
        pytest.skip(speech_model.note)
    shutil.copytree(speech_model.path, cached_model_folder(home.folder / ".cache" / "voicelist"))
    write(home.chosen / "small")
    return {name: home.watch(*VOICELIST, *command) for name, command in COMMANDS.items()}


each = pytest.mark.parametrize("name", COMMANDS)


@each
def test_a_command_does_its_work_without_a_network(watched: dict[str, Traced], name: str) -> None:
    assert watched[name].code == 0, watched[name].printed


@each
def test_a_command_reaches_for_nobody(watched: dict[str, Traced], name: str) -> None:
    assert watched[name].calls
    assert watched[name].reached_for == []


@each
def test_a_command_makes_files_in_its_own_folders_alone(
    watched: dict[str, Traced], name: str, home: Home
) -> None:
    assert watched[name].made_outside(home.own) == []


def test_afterwards_the_home_holds_nothing_else(watched: dict[str, Traced], home: Home) -> None:
    assert watched
    files = [path for path in home.folder.rglob("*") if not path.is_dir()]
    assert [str(path) for path in files if not any(map(path.is_relative_to, home.own))] == []
    assert (home.chosen / "said.wav").stat().st_size > 1000


def test_the_neural_parts_were_at_work_meanwhile(watched: dict[str, Traced]) -> None:
    """Else the tests above would say little: voice, second model and voice activity."""
    for name in ("demo", "run"):
        calls = watched[name].calls
        with_run_time = {
            call.process for call in calls if any(RUN_TIME.search(str(one)) for one in call.paths)
        }
        assert with_run_time, name
        assert watched[name].processes_with(".onnx"), name
        if verifier_folder() is not None:
            assert watched[name].processes_with("encoder_model.ort"), name
            assert len(with_run_time) >= 2, name


def test_sound_devices_are_asked_for_within_the_computer(empty_home: Home) -> None:
    """The sound libraries look for the system's sound server, and keep folders for it."""
    settings = empty_home.chosen / "client.conf"
    settings.write_text("autospawn = no\n")
    seen = empty_home.watch(*VOICELIST, "devices", PULSE_CLIENTCONFIG=str(settings))
    assert seen.code in (0, 3), seen.printed
    assert "voice   hibari" in seen.printed
    assert seen.reached_beyond == []
    for_sound = ("/.config/pulse", "/dev/shm/", "/tmp/pulse-")
    own = (*empty_home.own, empty_home.folder / ".config")
    outside = seen.made_outside(own)
    assert [one for one in outside if not any(place in one for place in for_sound)] == []


def test_the_room_display_waits_on_this_computer_alone(empty_home: Home) -> None:
    """It listens, on loopback, and reaches for nobody."""
    options = ("--typed", "--voice", "none", "--display", "--display-port", "0")
    seen = empty_home.watch(*VOICELIST, "run", PLAN, *options)
    assert seen.code == 0, seen.printed
    assert "The display: http://127.0.0.1:" in seen.printed
    bound = [call for call in seen.reached_for if call.startswith("bind(") and "sin_" in call]
    assert bound
    assert [call for call in bound if '"127.0.0.1"' not in call] == []
    reached = ("connect(", "sendto(", "sendmsg(", "sendmmsg(")
    beyond = [call for call in seen.reached_beyond if call.startswith(reached)]
    assert [call for call in beyond if "sa_family=" in call] == []
    assert seen.made_outside(empty_home.own) == []


CONNECTS = 'socket.create_connection(("192.0.2.1", 9), timeout=0.2)'
ASKS = 'socket.getaddrinfo("nobody.invalid", 443)'
SENDS = 'socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b"-", ("192.0.2.1", 9))'
WAITS = 'socket.create_server(("127.0.0.1", 0))'
CALLS_NEIGHBOUR = 'socket.socket(socket.AF_UNIX).connect("/nowhere/somebody")'


@pytest.mark.parametrize("what", [CONNECTS, ASKS, SENDS, WAITS, CALLS_NEIGHBOUR])
@pytest.mark.parametrize("in_a_child", [False, True])
def test_the_tracer_sees_who_reaches_for_somebody(
    empty_home: Home, what: str, in_a_child: bool
) -> None:
    program = f"import contextlib, socket\nwith contextlib.suppress(OSError):\n    {what}\n"
    if in_a_child:
        program = f"import subprocess, sys\nsubprocess.run([sys.executable, '-c', {program!r}])"
    seen = empty_home.watch(sys.executable, "-c", program)
    assert seen.code == 0, seen.printed
    assert seen.reached_for
    assert seen.reached_beyond or what == CALLS_NEIGHBOUR


def test_the_tracer_sees_nobody_who_reaches_for_nobody(empty_home: Home) -> None:
    quiet = empty_home.watch(sys.executable, "-c", "import contextlib, socket, subprocess")
    assert quiet.code == 0, quiet.printed
    assert quiet.calls
    assert quiet.reached_for == []


@pytest.mark.parametrize(
    "what",
    [
        "open(home / 'notes', 'w')",
        "(home / '.config').mkdir()",
        "os.open(home / 'there', os.O_CREAT | os.O_WRONLY)",
        "open('here', 'w'); os.rename('here', home / 'moved')",
        "open('here', 'w'); os.link('here', home / 'linked')",
        "os.symlink('here', home / 'pointed')",
        "os.chdir(home); open('relative', 'w')",
        "os.open('below', os.O_CREAT | os.O_WRONLY, dir_fd=os.open(home, os.O_RDONLY))",
    ],
)
def test_the_tracer_sees_who_writes_elsewhere(empty_home: Home, what: str) -> None:
    program = f"import os, pathlib\nhome = pathlib.Path.home()\n{what}"
    seen = empty_home.watch(sys.executable, "-c", program)
    assert seen.code == 0, seen.printed
    assert len(seen.made_outside(empty_home.own)) == 1
    assert seen.made_outside([empty_home.folder]) == []


def test_what_is_written_into_own_folders_is_no_matter(empty_home: Home) -> None:
    program = "import pathlib; own = pathlib.Path.home() / '.cache' / 'voicelist'; "
    program += "own.mkdir(parents=True); (own / 'kept').write_text(''); open('x', 'w')"
    seen = empty_home.watch(sys.executable, "-c", program)
    assert seen.code == 0, seen.printed
    assert seen.made_outside(empty_home.own) == []
    assert seen.made_outside(empty_home.own[:1]) != []


@pytest.mark.parametrize("module", ["voicelist.child", "voicelist.inference"])
def test_the_run_time_is_told_to_keep_quiet_before_it_can_be_loaded(module: str) -> None:
    program = f"import os, sys, {module}; assert 'onnxruntime' not in sys.modules; "
    program += "print(os.environ['ORT_DISABLE_TELEMETRY'])"
    told = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "ORT_DISABLE_TELEMETRY": "0"},
        capture_output=True,
        check=True,
        text=True,
    )
    assert told.stdout.strip() == "1"


def test_a_run_time_that_nobody_looked_at_is_not_installed() -> None:
    package = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    (wanted,) = [
        one for one in map(Requirement, package["dependencies"]) if one.name == "onnxruntime"
    ]
    assert any(limit.operator == "<" for limit in wanted.specifier)
    assert version("onnxruntime") in wanted.specifier
