"""What was acknowledged is on disk: after a kill, a full disk or a torn log."""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pytest
import writers
from hypothesis import given, settings
from hypothesis import strategies as st
from writers import CALL, CASE, store_at

from voicelist.errors import RecordError

KILLS = 50

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="kill -9, fork servers and file limits are of POSIX"
)


@contextmanager
def another_process(work: Callable[..., None], *arguments: Any) -> Iterator[tuple[Any, Connection]]:
    """A process that does `work(file, connection, ...)`, killed at the end at the latest."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["voicelist.record.store"])
    ours, theirs = context.Pipe(duplex=False)
    file, *rest = arguments
    process = context.Process(target=work, args=(file, theirs, *rest))
    process.start()
    theirs.close()
    try:
        yield process, ours
    finally:
        if process.is_alive():
            os.kill(process.pid, signal.SIGKILL)
        process.join()
        ours.close()


def _acknowledged(told: Connection) -> list[int]:
    """Everything that was still sent."""
    numbers = []
    try:
        while True:
            numbers.append(told.recv())
    except (EOFError, OSError):
        return numbers


def test_killed_at_any_moment_nothing_acknowledged_is_lost(store_file: Path) -> None:
    moments = random.Random(7)
    for kill in range(KILLS):
        with another_process(writers.write_until_killed, store_file) as (process, told):
            seen = [told.recv() for _ in range(moments.randint(0, 6))]
            if seen or kill % 2:  # every second kill without a word may hit the opening itself
                time.sleep(moments.uniform(0, 0.004))
            else:
                time.sleep(moments.uniform(0, 0.05))
            os.kill(process.pid, signal.SIGKILL)
            process.join()
            assert process.exitcode == -signal.SIGKILL
            seen += _acknowledged(told)
        if not seen and CASE not in store_at(store_file).codes():
            continue  # killed before the case was there
        entries = store_at(store_file).entries(CASE)
        assert [entry.seq for entry in entries] == list(range(1, len(entries) + 1))
        assert not seen or seen[-1] <= len(entries)
        verdict = store_at(store_file).verify(CASE)
        assert verdict.ok, verdict.problems
    assert len({entry.run for entry in store_at(store_file).entries(CASE)}) > KILLS // 2


def test_after_a_kill_the_case_is_resumed_at_once(store_file: Path) -> None:
    with another_process(writers.hold, store_file) as (process, told):
        told.recv()
        with pytest.raises(RecordError, match="Another voicelist is writing"):
            store_at(store_file).resume(CASE)
        os.kill(process.pid, signal.SIGKILL)
        process.join()
        writer, resumed = writers.started(store_file)
        with writer:
            assert writer.append(resumed).seq == 2
    assert store_at(store_file).verify(CASE).ok


def test_a_second_process_is_refused_and_changes_nothing(store_file: Path) -> None:
    with another_process(writers.hold, store_file) as (process, told):
        holder = told.recv()
        before = store_at(store_file).entries(CASE)
        for attempt in (store_at(store_file).resume, store_at(store_file).open_case):
            with pytest.raises(RecordError, match=f"Another voicelist.*process {holder}"):
                attempt(CASE)
        assert store_at(store_file).entries(CASE) == before
        assert process.is_alive()


@pytest.mark.parametrize("room_bytes", [40_000, 90_000, 150_001, 262_144])
def test_on_a_full_disk_the_writer_refuses_and_never_tries_again(
    store_file: Path, room_bytes: int
) -> None:
    with another_process(writers.write_until_the_disk_is_full, store_file, room_bytes) as (
        process,
        told,
    ):
        answers = _acknowledged(told)
        process.join()
    *acknowledged, first_refusal, second_refusal = answers
    assert acknowledged == list(range(1, len(acknowledged) + 1))
    assert str(first_refusal).startswith("Not recorded: ")
    assert str(second_refusal).startswith("Not recorded: an earlier write failed")
    if not acknowledged:
        assert store_at(store_file).codes() == ()
        return
    entries = store_at(store_file).entries(CASE)
    assert [entry.seq for entry in entries] == acknowledged
    assert store_at(store_file).verify(CASE).ok


def test_a_disk_with_room_again_is_written_after_resuming(store_file: Path) -> None:
    with another_process(writers.write_until_the_disk_is_full, store_file, 150_000) as (
        process,
        told,
    ):
        acknowledged = [one for one in _acknowledged(told) if isinstance(one, int)]
        process.join()
    writer, resumed = writers.started(store_file)
    with writer:
        assert writer.append(resumed).seq == acknowledged[-1] + 1
    assert store_at(store_file).verify(CASE).ok


@pytest.fixture(scope="module")
def crash_site(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[int]]:
    """Database and log as they were while the writer still lived, and the length of the log at
    each acknowledgement."""
    folder = tmp_path_factory.mktemp("crash")
    live, lost = folder / "live.sqlite3", folder / "lost.sqlite3"
    log = Path(f"{live}-wal")
    writer, record = writers.started(live)
    with writer:
        lengths = []
        for _ in range(25):
            writer.append(record)
            lengths.append(log.stat().st_size)
            record = CALL
        shutil.copy(live, lost)
        shutil.copy(log, f"{lost}-wal")
    return lost, lengths


@settings(max_examples=120, deadline=None)
@given(share=st.floats(0, 1), torn=st.binary(max_size=40))
def test_a_log_torn_by_a_power_cut_keeps_every_event_that_was_synced(
    crash_site: tuple[Path, list[int]],
    tmp_path_factory: pytest.TempPathFactory,
    share: float,
    torn: bytes,
) -> None:
    """What was synced at an acknowledgement stays; behind it the log may end in rubbish."""
    lost, lengths = crash_site
    data = Path(f"{lost}-wal").read_bytes()
    kept = data[: int(share * len(data))]
    after = tmp_path_factory.mktemp("after") / "records.sqlite3"
    shutil.copy(lost, after)
    Path(f"{after}-wal").write_bytes(kept + torn)
    synced = sum(length <= len(kept) for length in lengths)
    if not synced and CASE not in store_at(after).codes():
        return
    count = store_at(after).verify(CASE).count
    assert store_at(after).verify(CASE).ok
    assert synced <= count <= synced + 1
