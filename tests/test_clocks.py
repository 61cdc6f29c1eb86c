"""The clocks of a case as a user meets them."""

from __future__ import annotations

import io
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile
from rich.console import Console

from tests.command import PLAN, Command, voicelist
from tests.running_program import PROGRAM, entries_in, environment, on_terminal
from tests.session.talk import WHOLE_CASE
from voicelist.asr.model import ModelPlace
from voicelist.record.clock_watch import STANDSTILL_FROM_S
from voicelist.record.writer import Clocks
from voicelist.running import How, run_plan

__all__ = ["voicelist"]

CASE = "practice-007"


class Lines(io.StringIO):
    """Typed lines; when the third is read the time of day is set."""

    def __init__(self, lines: tuple[str, ...], by: timedelta) -> None:
        super().__init__("\n".join(lines) + "\n")
        self.off = timedelta()
        self._by = by
        self._read = 0

    def readline(self, size: int | None = -1, /) -> str:
        self._read += 1
        if self._read == 3:
            self.off = self._by
        return super().readline(-1 if size is None else size)


def test_a_time_of_day_set_during_a_case_stands_on_the_display_and_in_the_report(
    tmp_path: Path, voicelist: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = Lines(WHOLE_CASE, timedelta(days=-1))
    clocks = Clocks(lambda: datetime.now(UTC) + lines.off)
    shown = io.StringIO()
    monkeypatch.setattr(sys, "stdin", lines)
    url = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    how = How("typed", voice="none", store_url=url, clocks=clocks)
    outcome = run_plan(PLAN, how, Console(file=shown, width=200))
    assert outcome.state.closed == "completed"
    assert shown.getvalue().count("The clock was set back by 1 d.") == 1
    report = tmp_path / "case.html"
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    answer = voicelist("record", "export", CASE, "--store", url, "-o", report)
    assert answer.code == 0
    assert "set back by 1 d" in report.read_text(encoding="utf-8")
    told = voicelist("record", "show", CASE, "--store", url).out
    assert "clock: the time of day was set back by 1 d" in told
    assert voicelist("record", "verify", CASE, "--store", url).code == 0


def test_a_program_that_stood_still_says_so(tmp_path: Path) -> None:
    with on_terminal(tmp_path, "run", PLAN, "--typed", "--voice", "none") as running:
        running.wait_until(lambda: "irrigation line?" in running.shown)
        time.sleep(0.6)
        running.send(signal.SIGSTOP)
        time.sleep(STANDSTILL_FROM_S + 1.5)
        running.send(signal.SIGCONT)
        # Nobody has to say anything for it to be noticed.
        running.wait_until(lambda: "The program stood still for" in running.shown)
        running.send(signal.SIGTERM)
        assert running.ended() == 0
    (change,) = [one for one in entries_in(tmp_path, CASE) if one.kind == "clock-changed"]
    assert change.body["what"] == "stood-still"
    assert change.body["seconds"] > STANDSTILL_FROM_S


def test_sound_that_runs_faster_than_life_is_no_change_of_the_clock(
    tmp_path: Path, speech_model: ModelPlace
) -> None:
    assert speech_model
    file = tmp_path / "room.flac"
    noise = np.random.default_rng(7).normal(0, 8, 150 * 16_000).astype(np.int16)
    soundfile.write(file, noise, 16_000)
    done = subprocess.run(
        [*PROGRAM, "run", PLAN, "--audio", file, "--pace", "fast", "--voice", "none"],
        env=environment(tmp_path),
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    entries = entries_in(tmp_path, CASE)
    assert sum(one.kind == "prompted" for one in entries) == 3, "a minute and more of its own time"
    assert not [one for one in entries if one.kind == "clock-changed"]
