"""The program in a process of its own: on a terminal, or on pipes, with a record that fails."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import text

from voicelist.record.database import place_of, writing_engine
from voicelist.record.journal import Entry
from voicelist.record.layout import prepare
from voicelist.record.store import Reader

PROGRAM = (sys.executable, "-m", "voicelist")
_WITHIN_S = 90.0


def environment(folder: Path, more: Mapping[str, str] | None = None) -> dict[str, str]:
    """Records of its own under `folder`."""
    own = {"XDG_DATA_HOME": str(folder), "XDG_CONFIG_HOME": str(folder / "config")}
    return {**os.environ, **own, "COLUMNS": "200", **(more or {})}


def records_file(folder: Path, *, practice: bool = False) -> Path:
    name = "practice.sqlite3" if practice else "records.sqlite3"
    return folder / "voicelist" / name


def entries_in(folder: Path, case: str, *, practice: bool = False) -> tuple[Entry, ...]:
    """What the program has recorded; it has to verify."""
    reader = Reader(f"sqlite:///{records_file(folder, practice=practice)}")
    verdict = reader.verify(case)
    assert verdict.ok, verdict.problems
    return reader.entries(case)


def fail_when(folder: Path, condition: str, *, practice: bool = False) -> None:
    """From now on a row of which `condition` holds (SQL, the row is NEW) cannot be written, as if
    the disk were full."""
    file = records_file(folder, practice=practice)
    file.parent.mkdir(parents=True, exist_ok=True)
    engine = writing_engine(place_of(f"sqlite:///{file}", practice))
    with engine.connect() as connection:
        prepare(connection)
        with connection.begin():
            connection.execute(
                text(
                    f"CREATE TRIGGER full_disk BEFORE INSERT ON journal WHEN {condition} "
                    "BEGIN SELECT RAISE(ABORT, 'database or disk is full'); END"
                )
            )


@dataclass(slots=True)
class OnTerminal:
    """The program on a terminal of its own, of which `master` is the other side."""

    process: subprocess.Popen[bytes]
    master: int
    slave: int
    before: list[Any]
    shown: str = ""
    _raw: bytearray = field(default_factory=bytearray)

    def wait_until(self, true: Callable[[], bool]) -> None:
        """Reads what is shown until something holds."""
        end_s = time.monotonic() + _WITHIN_S
        while not true():
            assert time.monotonic() < end_s, self.shown
            self._read(0.02)

    def read_on(self) -> None:
        """What is shown by now."""
        self._read(0.0)

    def _read(self, timeout_s: float) -> None:
        if self.master >= 0 and select.select([self.master], [], [], timeout_s)[0]:
            self._raw += os.read(self.master, 65536)
            self.shown = self._raw.decode(errors="replace")

    def type(self, line: str) -> None:
        os.write(self.master, f"{line}\n".encode())

    def send(self, number: signal.Signals, *, to_all: bool = False) -> None:
        """A signal to the program, or to its whole group as a terminal sends it."""
        (os.killpg if to_all else os.kill)(self.process.pid, number)

    def close(self) -> None:
        """The window is closed."""
        os.close(self.slave)
        os.close(self.master)
        self.master = self.slave = -1

    def ended(self) -> int:
        self.wait_until(lambda: self.process.poll() is not None)
        self._read(0.0)
        assert "Traceback" not in self.shown, self.shown
        return int(self.process.returncode)

    @property
    def as_before(self) -> bool:
        """Whether the terminal is in the state in which the program found it."""
        return termios.tcgetattr(self.slave) == self.before


@contextlib.contextmanager
def on_terminal(folder: Path, *arguments: object) -> Iterator[OnTerminal]:
    """Starts the program; it is gone afterwards, however it went."""
    master, slave = pty.openpty()
    before = termios.tcgetattr(slave)
    process = subprocess.Popen(
        [*PROGRAM, *map(str, arguments)],
        stdin=slave,
        stdout=slave,
        stderr=slave,
        env=environment(folder),
        start_new_session=True,
    )
    running = OnTerminal(process, master, slave, before)
    try:
        yield running
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()
        for one in (running.master, running.slave):
            if one >= 0:
                os.close(one)


def children_of(pid: int) -> list[int]:
    """The processes that a process has started and that are still there."""
    found: list[int] = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            fields = status.read_text().rpartition(")")[2].split()
            if int(fields[1]) == pid and fields[0] != "Z":
                found.append(int(status.parent.name))
    return found
