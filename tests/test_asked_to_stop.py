"""Ctrl-C, a request of the system, a closed window: the case is closed, the terminal as before."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from sqlalchemy import text

from tests.command import PLAN
from tests.pulse import PulseRoom, pulse_room
from tests.running_program import (
    PROGRAM,
    OnTerminal,
    children_of,
    entries_in,
    environment,
    on_terminal,
    records_file,
)
from voicelist.asr.model import ModelPlace
from voicelist.record.database import place_of, writing_engine
from voicelist.record.layout import prepare
from voicelist.record.store import Reader

CASE = "practice-007"
CALL = "the irrigation line?"
REASONS = {
    signal.SIGINT: "interrupted",
    signal.SIGTERM: "the computer asked the program to end",
    signal.SIGHUP: "the terminal was closed",
}
SIGNALS = pytest.mark.parametrize("number", list(REASONS), ids=lambda one: one.name)
SOURCES = pytest.mark.parametrize("source", ["typed", "recording"])


@pytest.fixture(scope="module")
def quiet_room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A recording in which nobody speaks for two minutes."""
    file = tmp_path_factory.mktemp("room") / "room.flac"
    noise = np.random.default_rng(7).normal(0, 8, 120 * 16_000).astype(np.int16)
    soundfile.write(file, noise, 16_000)
    return file


@pytest.fixture
def arguments(source: str, quiet_room: Path, speech_model: ModelPlace) -> tuple[object, ...]:
    assert speech_model
    heard = ("--typed",) if source == "typed" else ("--audio", quiet_room, "--pace", "real")
    return ("run", PLAN, "--voice", "none", *heard)


def make_slow(folder: Path, kind: str) -> None:
    """From now on writing an event of this kind takes a second or more."""
    file = records_file(folder)
    file.parent.mkdir(parents=True)
    count = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 6000000)"
    with writing_engine(place_of(f"sqlite:///{file}", False)).connect() as connection:
        prepare(connection)
        with connection.begin():
            connection.execute(
                text(
                    f"CREATE TRIGGER slow BEFORE INSERT ON journal WHEN NEW.kind = '{kind}' "
                    f"BEGIN SELECT max(i) FROM ({count} SELECT i FROM n); END"
                )
            )


def closed_as(folder: Path, *, practice: bool = False) -> list[tuple[str, str]]:
    """State and reason of every closing event of the case, which verifies."""
    entries = entries_in(folder, CASE, practice=practice)
    return [
        (str(one.body["state"]), str(one.body["reason"])) for one in entries if one.kind == "closed"
    ]


def clean(running: OnTerminal, children: list[int]) -> None:
    """The program ended by itself, and nothing of it is left."""
    assert running.ended() == 0, running.shown
    assert running.as_before
    gone(children)


def gone(children: list[int]) -> None:
    """They end soon."""
    end_s = time.monotonic() + 10.0
    while any(Path(f"/proc/{pid}").exists() for pid in children):
        assert time.monotonic() < end_s, "a child goes on"
        time.sleep(0.05)


@SIGNALS
@pytest.mark.parametrize(
    ("source", "to_all"),
    # A typed case has no children: sent to its group, a signal reaches nobody else.
    [("typed", False), ("recording", False), ("recording", True)],
    ids=["typed", "recording", "recording and its children"],
)
def test_while_it_listens_a_signal_closes_the_case(
    tmp_path: Path, arguments: tuple[object, ...], number: signal.Signals, to_all: bool
) -> None:
    with on_terminal(tmp_path, *arguments) as running:
        running.wait_until(lambda: CALL in running.shown)
        time.sleep(0.3)
        children = children_of(running.process.pid)
        running.send(number, to_all=to_all)
        clean(running, children)
    assert closed_as(tmp_path) == [("stopped", REASONS[number])]
    assert f"voicelist resume {CASE}" in running.shown


@SIGNALS
def test_during_a_write_a_signal_waits_until_it_is_done(
    tmp_path: Path, number: signal.Signals
) -> None:
    make_slow(tmp_path, "called")
    with on_terminal(tmp_path, "run", PLAN, "--typed", "--voice", "none") as running:
        running.wait_until(lambda: "the lines" in running.shown)
        time.sleep(0.2)
        running.send(number)
        clean(running, [])
    assert closed_as(tmp_path) == [("stopped", REASONS[number])]
    assert any(one.kind == "called" for one in entries_in(tmp_path, CASE))


@SIGNALS
def test_further_signals_while_it_stops_change_nothing(
    tmp_path: Path, number: signal.Signals
) -> None:
    make_slow(tmp_path, "closed")
    with on_terminal(tmp_path, "run", PLAN, "--typed", "--voice", "none") as running:
        running.wait_until(lambda: CALL in running.shown)
        running.send(number)
        for another in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP, number):
            time.sleep(0.15)
            running.send(another)
        clean(running, [])
    assert closed_as(tmp_path) == [("stopped", REASONS[number])]


@SOURCES
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP], ids=lambda one: one.name)
def test_while_it_starts_a_signal_leaves_no_open_case(
    tmp_path: Path, arguments: tuple[object, ...], number: signal.Signals
) -> None:
    for turn, wait_s in enumerate((0.0, 0.1, 0.4, 0.8)):
        folder = tmp_path / str(turn)
        lock = Path(f"{records_file(folder)}.lock")
        with on_terminal(folder, *arguments) as running:
            if turn:
                started_s = time.monotonic() + wait_s
                running.wait_until(
                    lambda until_s=started_s: time.monotonic() > until_s or CALL in running.shown
                )
            else:
                running.wait_until(lock.exists)
            running.send(number, to_all=True)
            running.ended()
            assert running.as_before
        if CASE in Reader(f"sqlite:///{records_file(folder)}").codes():
            assert closed_as(folder) == [("stopped", REASONS[number])]


@SOURCES
def test_a_window_that_is_closed_closes_the_case(
    tmp_path: Path, arguments: tuple[object, ...]
) -> None:
    with on_terminal(tmp_path, *arguments) as running:
        running.wait_until(lambda: CALL in running.shown)
        children = children_of(running.process.pid)
        running.close()
        running.process.wait(60)
        assert running.process.returncode == 0
    gone(children)
    assert closed_as(tmp_path) == [("stopped", REASONS[signal.SIGHUP])]


def test_a_display_that_nobody_reads_any_more_closes_the_case(tmp_path: Path) -> None:
    """As by `voicelist run ... | head -1`."""
    with subprocess.Popen(
        [*PROGRAM, "run", PLAN, "--typed", "--voice", "none"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(tmp_path),
    ) as running:
        assert running.stdout is not None
        running.stdout.readline()
        running.stdout.close()
        _, told = running.communicate(b"irrigation line firm\n", timeout=90)
    assert b"Traceback" not in told
    assert b"Exception" not in told
    assert closed_as(tmp_path) == [("stopped", REASONS[signal.SIGHUP])]


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[PulseRoom]:
    folder = tmp_path / "pulse"
    folder.mkdir()
    with pulse_room(folder, monkeypatch) as server:
        yield server


@SIGNALS
def test_while_it_speaks_a_signal_closes_the_case(
    tmp_path: Path, room: PulseRoom, speech_model: ModelPlace, number: signal.Signals
) -> None:
    assert room
    assert speech_model
    with on_terminal(tmp_path, "demo", "--pace", "real", "--voice", "system") as running:
        running.wait_until(lambda: CALL in running.shown)
        time.sleep(0.5)
        children = children_of(running.process.pid)
        assert children
        running.send(number, to_all=True)
        assert running.ended() == 1, "a demo that was not completed"
        assert running.as_before
    assert closed_as(tmp_path, practice=True) == [("stopped", REASONS[number])]
    said = [one for one in entries_in(tmp_path, CASE, practice=True) if one.kind == "said"]
    assert said[0].body["seconds"] < 1.5, "it broke off"
    if number != signal.SIGINT:
        assert said[-1].body["text"] == "Ended unfinished. The record is kept."


def test_what_is_ignored_on_purpose_stays_ignored(tmp_path: Path) -> None:
    """As by nohup."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with on_terminal(tmp_path, "run", PLAN, "--typed", "--voice", "none") as running:
            running.wait_until(lambda: CALL in running.shown)
            running.send(signal.SIGHUP)
            running.type("irrigation line firm")
            running.wait_until(lambda: "aspiration line?" in running.shown)
            os.kill(running.process.pid, signal.SIGTERM)
            clean(running, [])
    finally:
        signal.signal(signal.SIGHUP, before)
    assert closed_as(tmp_path) == [("stopped", REASONS[signal.SIGTERM])]
