"""A command in a process of its own, with limits of time and memory."""

from __future__ import annotations

import contextlib
import io
import os
import resource
import signal
import sys
import time
import types
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[3]
# Of computing time, for a busy machine gives less of it in a second; and by the clock, for what
# hangs.
COMPUTING_S, CLOCK_S = 10, 45
MEMORY_BYTES = 1 << 30
# What may be reserved, most of which is never held: native code has room for each of its threads,
# and goes round in circles where it gets none.
_RESERVED_BYTES = 3 << 30


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended: minus the signal for one that was killed."""

    code: int
    out: str
    err: str
    computing_s: float
    clock_s: float
    peak_bytes: int
    left_over: int

    @property
    def text(self) -> str:
        return self.out + self.err


def environment(folder: Path) -> dict[str, str]:
    """What a command in the folder has for its home."""
    return {
        **os.environ,
        "XDG_DATA_HOME": str(folder / "home" / "data"),
        "XDG_CONFIG_HOME": str(folder / "home" / "config"),
        "COLUMNS": "200",
        "PYTHONPATH": str(PROJECT),
    }


def ended_after(
    arguments: Sequence[str], folder: Path, typed: str = "", *, whole: bool = False
) -> Ended:
    """Gives a command line to the program in the folder's `work`, with its limits, and waits.
    `whole` starts the program as a user does; else a fork of this process, which has loaded it
    already, goes on as the program."""
    for name in ("out", "err"):
        (folder / name).unlink(missing_ok=True)
    began_s = time.monotonic()
    child = os.fork()
    if child == 0:
        _be(arguments, folder, typed, whole)
    killed_at_s = began_s + CLOCK_S
    while True:
        pid, status, used = os.wait4(child, os.WNOHANG)
        if pid:
            break
        if time.monotonic() > killed_at_s:
            os.killpg(child, signal.SIGKILL)
        time.sleep(0.005)
    took_s = time.monotonic() - began_s
    left_over = _left_over(child)
    out, err = ((folder / name).read_text("utf-8", "replace") for name in ("out", "err"))
    for name in ("out", "err"):
        (folder / name).unlink()
    return Ended(
        os.waitstatus_to_exitcode(status),
        out,
        err,
        used.ru_utime + used.ru_stime,
        took_s,
        used.ru_maxrss * 1024,
        left_over,
    )


def _left_over(group: int) -> int:
    """Processes of the group that still live after two seconds; they are ended."""
    until_s = time.monotonic() + 2.0
    while (living := _living(group)) and time.monotonic() < until_s:
        time.sleep(0.02)
    if living:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(group, signal.SIGKILL)
    return living


def _living(group: int) -> int:
    count = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            fields = stat.read_text().rpartition(")")[2].split()
            count += int(fields[2]) == group and fields[0] != "Z"
    return count


def _be(arguments: Sequence[str], folder: Path, typed: str, whole: bool) -> None:
    """The forked process: the command line as a user gives it, with its limits."""
    code = 97
    try:
        os.setsid()
        for number, name in ((1, "out"), (2, "err")):
            os.dup2(os.open(folder / name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), number)
        os.dup2(_typed(typed), 0)
        os.chdir(folder / "work")
        os.environ.update(environment(folder))
        resource.setrlimit(resource.RLIMIT_CPU, (COMPUTING_S, COMPUTING_S + 1))
        resource.setrlimit(resource.RLIMIT_DATA, (_RESERVED_BYTES, _RESERVED_BYTES))
        if whole:
            os.execv(sys.executable, [sys.executable, "-m", "voicelist", *arguments])
        code = _within(arguments)
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        with contextlib.suppress(Exception):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)


def _within(arguments: Sequence[str]) -> int:
    """The command in this process, which has loaded the program already."""
    from voicelist import cli

    sys.modules["__main__"] = types.ModuleType("__main__")  # for children of its own
    sys.stdin = io.TextIOWrapper(io.FileIO(0, "r"), encoding="utf-8")
    sys.stdout = io.TextIOWrapper(io.FileIO(1, "w"), encoding="utf-8")
    sys.stderr = io.TextIOWrapper(io.FileIO(2, "w"), encoding="utf-8", errors="backslashreplace")
    sys.argv = ["voicelist", *arguments]
    try:
        cli.main()
    except SystemExit as ended:
        if isinstance(ended.code, str):
            print(ended.code, file=sys.stderr)
            return 1
        return ended.code or 0
    return 0


def _typed(text: str) -> int:
    """Standard input that holds so much."""
    there, here = os.pipe()
    os.write(here, text.encode("utf-8", "replace")[:60_000])
    os.close(here)
    return there
