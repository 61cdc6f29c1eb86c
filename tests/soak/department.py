"""Two theatres keep cases while their server is stopped, killed, made read-only and cut off.

    python tests/soak/department.py              # 10,000 events, 30 disturbances
    python tests/soak/department.py --reduced    # 600 events, 5 disturbances

In the end the server has to hold every event of both, once and in order, and every case has to
verify. How long it takes to keep an event is measured with the outbox at work and without: the
99th percentile may be 20 ms longer at most. Exit code 1 if anything does not hold, 0 without doing
anything where there is no PostgreSQL. Needs an idle machine for its times to mean anything.
"""

from __future__ import annotations

import argparse
import os
import random
import socket
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import psycopg

from tests.department.postgres import Postgres, programs, running
from tests.record.cases import opened
from voicelist.department import outbox as outboxes
from voicelist.department.cases import readings
from voicelist.department.outbox import Courier, Outbox
from voicelist.department.server import install, name_theatre
from voicelist.errors import RecordError
from voicelist.record.store import Store
from voicelist.record.verify import verify_reading
from voicelist.record.writer import Writer
from voicelist.session.records import Called, Closed

LATER_MS_AT_MOST = 20.0
_EVENTS_A_CASE = 100
_CALL = Called("bottle", "Full or low: the infusion bottle?")


@dataclass(slots=True)
class Line:
    """A line to the server that can be cut: a port of this computer, passed on while it is up."""

    to: int
    port: int = 0
    up: bool = True
    _ends: list[socket.socket] = field(default_factory=list)

    def open(self) -> None:
        ear = socket.create_server(("127.0.0.1", 0))
        self.port = ear.getsockname()[1]
        threading.Thread(target=self._take, args=(ear,), daemon=True).start()

    def cut(self) -> None:
        self.up = False
        for end in self._ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
        self._ends.clear()

    def _take(self, ear: socket.socket) -> None:
        while True:
            near, _ = ear.accept()
            try:
                assert self.up
                far = socket.create_connection(("127.0.0.1", self.to), timeout=2)
            except (OSError, AssertionError):
                near.close()
                continue
            self._ends += [near, far]
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=_pass_on, args=(one, other), daemon=True).start()


def _pass_on(one: socket.socket, other: socket.socket) -> None:
    with suppress(OSError):
        while data := one.recv(65536):
            other.sendall(data)
    for end in (one, other):
        with suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true")
    reduced = parser.parse_args().reduced
    if programs() is None:
        print("No PostgreSQL server is installed here: nothing was tried.")
        return 0
    events, disturbances = (600, 5) if reduced else (10_000, 30)
    outboxes.FIRST_WAIT_S, outboxes.LONGEST_WAIT_S = 0.1, 0.5
    with tempfile.TemporaryDirectory() as name, running() as server:
        install(server.url("owner"))
        for number in (1, 2):
            name_theatre(server.url("owner"), f"theatre_{number}", f"East {number}")
        with server.connect() as owner:
            owner.execute("GRANT voicelist_reads TO reviewer")
        alone_ms = keep(Path(name) / "alone.sqlite3", min(events, 1000), 0.0)
        beside_ms, told = disturbed(server, Path(name), events, disturbances)
        problems = amiss(server, Path(name))
    later_ms = float(np.percentile(beside_ms, 99) - np.percentile(alone_ms, 99))
    for what, some in (("alone", alone_ms), ("beside the outbox", beside_ms)):
        middle, late = np.percentile(some, [50, 99])
        print(f"To keep an event {what}: median {middle:.2f} ms, 99th percentile {late:.2f} ms")
    print(
        f"{events} events, {disturbances} disturbances, load {os.getloadavg()[0]:.1f}; told: {told}"
    )
    if later_ms > LATER_MS_AT_MOST and not reduced:
        problems.append(f"an event took {later_ms:.1f} ms longer at the 99th percentile")
    for one in problems:
        print(f"Amiss: {one}")
    print("Nothing was lost, doubled or turned round." if not problems else "It does not hold.")
    return 1 if problems else 0


def disturbed(
    server: Postgres, folder: Path, events: int, disturbances: int
) -> tuple[list[float], int]:
    """Both theatres at work while the server is disturbed; milliseconds of each event, and how many
    sentences were told."""
    line = Line(server.port)
    line.open()
    told: list[str] = []
    took: list[list[float]] = [[], []]
    pause_s = 0.6 * disturbances / (events / 2)

    def work(number: int) -> None:
        file = folder / f"{number}.sqlite3"
        login = f"theatre_{number}"
        url = server.url(login).replace(f":{server.port}/", f":{line.port}/")
        with Courier(Outbox(file, url, f"East {number}"), told.append):
            took[number - 1] += keep(file, events // 2, pause_s)
            while Outbox(file, url, f"East {number}").standing().waiting:
                time.sleep(0.1)

    threads = [threading.Thread(target=work, args=(number,)) for number in (1, 2)]
    for thread in threads:
        thread.start()
    chance = random.Random(1)
    for _, disturb in zip(
        range(disturbances), cycle((stopped, killed, read_only, cut)), strict=False
    ):
        time.sleep(chance.uniform(0.1, 0.4))
        with disturb(server, line):
            time.sleep(chance.uniform(0.1, 0.4))
    for thread in threads:
        thread.join()
    return [*took[0], *took[1]], len(told)


def keep(file: Path, events: int, pause_s: float) -> list[float]:
    """Keeps events in cases of a hundred; milliseconds of each."""
    took: list[float] = []
    store = Store(f"sqlite:///{file}")
    while len(took) < events:
        with opened_case(store, f"case-{len(took):05d}") as writer:
            writer.append(opened())
            for record in [*[_CALL] * (_EVENTS_A_CASE - 2), Closed("completed")]:
                began_s = time.perf_counter()
                writer.append(record)
                took.append(1000 * (time.perf_counter() - began_s))
                time.sleep(pause_s)
    return took


def opened_case(store: Store, code: str) -> Writer:
    """A program of the server that is being started here has, for a moment, what this process has
    open, and the lock of the case before with it. A theatre starts no server."""
    while True:
        try:
            return store.open_case(code)
        except RecordError as error:
            if "Another voicelist" not in str(error):
                raise
            time.sleep(0.01)


@contextmanager
def stopped(server: Postgres, line: Line) -> Iterator[None]:
    server.stop("fast")
    yield
    server.start()


@contextmanager
def killed(server: Postgres, line: Line) -> Iterator[None]:
    server.stop("immediate")
    yield
    server.start()


@contextmanager
def read_only(server: Postgres, line: Line) -> Iterator[None]:
    ask = "ALTER SYSTEM SET default_transaction_read_only = {}"
    with server.connect() as owner:
        owner.execute(ask.format("on"))
        owner.execute("SELECT pg_reload_conf()")
        yield
        owner.execute("SET default_transaction_read_only = off")
        owner.execute(ask.format("off"))
        owner.execute("SELECT pg_reload_conf()")


@contextmanager
def cut(server: Postgres, line: Line) -> Iterator[None]:
    line.cut()
    yield
    line.up = True


def amiss(server: Postgres, folder: Path) -> list[str]:
    """What the server holds against what both theatres kept."""
    problems: list[str] = []
    for number in (1, 2):
        with closing(sqlite3.connect(folder / f"{number}.sqlite3")) as raw:
            kept = raw.execute('SELECT "case", seq, hash FROM journal ORDER BY 1, 2').fetchall()
        with psycopg.connect(server.url("reviewer")) as reviewer:
            query = (
                'SELECT "case", seq, hash FROM voicelist_journal WHERE theatre = %s ORDER BY 1, 2'
            )
            held = reviewer.execute(query, (f"East {number}",)).fetchall()
        if kept != held:
            problems.append(f"East {number} kept {len(kept)} events, the server holds {len(held)}")
    bad = [case for _, case, one in readings(server.url("reviewer")) if not verify_reading(one).ok]
    return problems + [f"{case} does not verify" for case in bad]


if __name__ == "__main__":
    sys.exit(main())
