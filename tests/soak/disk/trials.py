"""Real processes with the shim under them: forked from one that has loaded the program already."""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import subprocess
import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from tests.soak.disk.oplog import Operation, Strike, operations

PROJECT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True, slots=True)
class Work:
    """What a process is to do: `kind` is a function of `works`, `given` its arguments."""

    kind: str
    given: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Ended:
    """How it went. `code` is negative for a signal; `out` and `err` are what it put out."""

    code: int
    out: str
    err: str
    log: tuple[Operation, ...]


class Trials:
    """Starts processes that do `Work` on a watched folder."""

    def __init__(self, library: Path, scratch: Path) -> None:
        """`scratch` is a folder for logs and outputs, not the watched one."""
        self._library = library
        self._scratch = scratch
        self._server = subprocess.Popen(
            [sys.executable, "-m", "tests.soak.disk.trials", str(library)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=PROJECT,
            env={**os.environ, "LD_PRELOAD": str(library), "COLUMNS": "200"},
        )

    def run(self, work: Work, folder: Path, strike: Strike | None = None) -> Ended:
        """Does `work` with all below `folder` watched; returns when the process has ended."""
        strike = strike or Strike()
        log = self._scratch / "operations"
        log.unlink(missing_ok=True)
        asked = {
            **asdict(work),
            "folder": str(folder),
            "scratch": str(self._scratch),
            "log": str(log),
            "strike": [strike.mask, strike.number, int(strike.fate)],
        }
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._server.stdin.write(json.dumps(asked).encode() + b"\n")
        self._server.stdin.flush()
        code = int(self._server.stdout.readline())
        out, err = ((self._scratch / name).read_text("utf-8", "replace") for name in ("out", "err"))
        return Ended(code, out, err, tuple(operations(log.read_bytes())))

    def close(self) -> None:
        assert self._server.stdin is not None
        self._server.stdin.close()
        self._server.wait()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()


def _serve(library: str) -> None:
    """Forks a process for each line of standard input, and answers with its exit code."""
    from tests.soak.disk import works

    shim = ctypes.CDLL(library)
    answers = os.dup(1)
    for line in sys.stdin:
        asked = json.loads(line)
        child = os.fork()
        if child == 0:
            with contextlib.suppress(SystemExit):
                _be(asked, shim, works)
            os._exit(99)
        _, status = os.waitpid(child, 0)
        os.write(answers, f"{os.waitstatus_to_exitcode(status)}\n".encode())


def _be(asked: dict[str, Any], shim: ctypes.CDLL, works: Any) -> None:
    """The forked process: does its work and ends as a program would."""
    scratch = Path(asked["scratch"])
    for number, name in ((1, "out"), (2, "err")):
        os.dup2(os.open(scratch / name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), number)
    code: int | str | None = 0
    try:
        work = getattr(works, asked["kind"])
        if shim.shim_arm(asked["folder"].encode(), asked["log"].encode(), *asked["strike"]):
            raise OSError("the shim has no log")
        work(**asked["given"])
    except SystemExit as ended:
        code = ended.code
    except BaseException:
        import traceback

        traceback.print_exc()
        code = 98
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code if isinstance(code, int) else 0)


if __name__ == "__main__":
    _serve(sys.argv[1])
