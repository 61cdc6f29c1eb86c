"""How long the assistant speaks in a clean case, in the product's own voice: 120 s for a full case,
55 s for a turnover, as the program in `tests/benchmarks` measures it."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
PROGRAM = "tests.benchmarks.studies.speech_seconds"


@pytest.mark.skipif(
    importlib.util.find_spec("hibari") is None, reason="the voice that comes along is not installed"
)
def test_a_full_case_and_a_turnover_keep_their_seconds() -> None:
    ended = subprocess.run(
        [sys.executable, "-m", PROGRAM],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert ended.returncode == 0, ended.stdout[-600:] + ended.stderr[-600:]
    assert "practice-101: completed" in ended.stdout
    assert "at most 120 s: kept" in ended.stdout
    assert "at most 55 s: kept" in ended.stdout
