"""A command in a process of its own that may take only so much memory, and what it took."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

MEBIBYTE = 1 << 20
# What the whole process may map; a command that wants more ends with MemoryError.
ADDRESS_SPACE_MB = 3_000
# Only against a command that never ends; nothing is said of how long one takes.
_TIMEOUT_S = 300
_TOLD = "peak_MB="


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended; `peak_mb` is the most memory that it, or one of its children, held."""

    code: int
    out: str
    err: str
    peak_mb: float

    @property
    def text(self) -> str:
        return self.out + self.err

    def refused_in_one_sentence(self, *words: str) -> None:
        """It ended as documents and sound that cannot be used do: one line, which holds `words`."""
        assert self.code in (1, 2), self
        (line,) = self.text.strip().splitlines()[:1] or [""]
        assert len(self.err.strip().splitlines()) <= 1, self.err
        assert "did not expect" not in self.text, self.text
        for word in words:
            assert word in line, self.text


def bounded(
    *arguments: object,
    address_space_mb: int = ADDRESS_SPACE_MB,
    environment: Mapping[str, str] | None = None,
    code: str = "",
) -> Ended:
    """`voicelist` with these arguments, or Python `code` with them."""
    if not Path("/proc/self/status").exists():
        pytest.skip("memory is measured and limited as Linux does")
    run = subprocess.run(
        [sys.executable, __file__, str(address_space_mb), code, *map(str, arguments)],
        capture_output=True,
        text=True,
        errors="replace",
        timeout=_TIMEOUT_S,
        check=False,
        env={**os.environ, "COLUMNS": "200", **(environment or {})},
        stdin=subprocess.DEVNULL,
    )
    lines = run.stderr.splitlines()
    peaks = [float(line.removeprefix(_TOLD)) for line in lines if line.startswith(_TOLD)]
    assert peaks, f"the command was killed ({run.returncode}): {run.stderr[-2000:]}"
    told = "\n".join(line for line in lines if not line.startswith(_TOLD))
    assert "Traceback" not in told, told[-4000:]
    return Ended(run.returncode, run.stdout, told, max(peaks))


def _peak_mb() -> float:
    """Of this process by what it held since it began, not since its parent did."""
    status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
    own_kb = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM"))
    children_kb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return max(own_kb, children_kb) / 1024


def _child() -> None:
    limit, code, *arguments = sys.argv[1:]
    resource.setrlimit(resource.RLIMIT_AS, (int(limit) * MEBIBYTE,) * 2)
    sys.argv = ["voicelist", *arguments]
    try:
        if code:
            exec(compile(code, "child", "exec"), {"__name__": "child"})
        else:
            from voicelist.cli import main

            main()
    finally:
        print(f"{_TOLD}{_peak_mb():.1f}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    _child()
