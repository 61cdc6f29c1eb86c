"""What the room display costs a case while 200 readers take their time.

    python tests/soak/slow_readers.py [--reduced]

The same typed case is taken through machine and journal again and again, in turn with and without a
display that 200 readers hang on: half of them take a few bytes now and then, half take nothing. The
time of each step, from the event to the last record on disk, is compared at its 99th percentile; a
step may be 5 ms slower. Two times are: what the case's own thread computes, in the median of the
rounds, which other programs hardly touch; and what passes on the clock, in the best of the rounds:
a busy machine mostly waits for others, but whatever waits for a reader shows in every round. Then
the newest state has to reach a reader that reads. Needs an idle machine for its times
to mean anything.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.session.talk import WHOLE_CASE, shipped_case
from voicelist.activity import LISTENING, Activity
from voicelist.record.store import Store
from voicelist.room.address import open_address
from voicelist.room.feed import Feed
from voicelist.session.effects import Keep
from voicelist.session.events import Begin, Event, Utterance, Voice
from voicelist.session.machine import context_of, step
from voicelist.session.record_base import Record
from voicelist.session.records import Opened
from voicelist.session.state import State, evolve
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import understand

READERS = 200
SLOWER_AT_MOST_MS = 5.0
_READ_WITHIN_S = 4.0
# In a process of their own, as browsers are.
_READERS = """
import socket, sys, time
port, count = int(sys.argv[1]), int(sys.argv[2])
readers = []
for number in range(count):
    one = socket.socket()
    one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    one.connect(("127.0.0.1", port))
    one.sendall(f"GET /feed HTTP/1.1\\r\\nHost: 127.0.0.1:{port}\\r\\n\\r\\n".encode())
    one.settimeout(5)
    assert b" 200 " in one.recv(64), "refused"
    readers.append(one)
print("reading", flush=True)
while True:
    time.sleep(0.5)
    for one in readers[::2]:
        one.settimeout(0.0)
        try:
            one.recv(256)
        except BlockingIOError:
            pass
"""


class Case:
    """Steps a case and writes it; tells the display where there is one."""

    def __init__(self, store: Store, code: str, feed: Feed | None) -> None:
        self.case = shipped_case()
        self.writer = store.open_case(code)
        self.feed = feed
        self.took_ms: list[float] = []
        self.cpu_ms: list[float] = []
        opened = Opened("typed", "0", self.case.bundle.to_json(), None)
        self._keep(opened)
        self.state = evolve(State(), opened)
        self._take(Begin())

    def _keep(self, record: Record) -> None:
        self.writer.append(record)
        if self.feed is not None:
            self.feed.kept(record)

    def _take(self, event: Event) -> None:
        began_s, cpu_s = time.perf_counter(), time.thread_time()
        self.state, effects = step(self.case, self.state, event)
        for effect in effects:
            if isinstance(effect, Keep):
                self._keep(effect.record)
        self.took_ms.append(1000 * (time.perf_counter() - began_s))
        self.cpu_ms.append(1000 * (time.thread_time() - cpu_s))

    def says(self, line: str) -> None:
        words = Hypothesis(tuple(line.split()))
        understood = understand([words], (), context_of(self.case, self.state))
        self._take(Utterance(understood, Voice()))


def steps(store: Store, code: str, feed: Feed | None, pause_s: float) -> Case:
    case = Case(store, code, feed)
    if feed is not None:  # its documents are read by then
        time.sleep(_READ_WITHIN_S)
    for line in WHOLE_CASE:
        case.says(line)
        time.sleep(pause_s)
    case.writer.close()
    assert case.state.closed == "completed"
    return case


def with_readers(store: Store, code: str, pause_s: float) -> Case:
    activity, address = Activity(), open_address(None, 0)
    activity.types(on_terminal=False)
    activity.now(LISTENING)
    feed = Feed(address, activity, print, discreet=False)
    feed.begin(shipped_case().bundle.to_json(), "")
    assert feed.ready.wait(60)
    port = str(address.listening.getsockname()[1])
    readers = subprocess.Popen(
        [sys.executable, "-c", _READERS, port, str(READERS)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert readers.stdout is not None
        assert readers.stdout.readline() == "reading\n"
        case = steps(store, code, feed, pause_s)
        assert newest_call(address.url).startswith("All items were asked")
    finally:
        readers.kill()
        feed.close()
    return case


def newest_call(url: str) -> str:
    """What a reader is shown within a few seconds; the last state there is."""
    call, end_s = "", time.monotonic() + 20
    while not call.startswith("All items") and time.monotonic() < end_s:
        with urllib.request.urlopen(f"{url}feed", timeout=10) as feed:
            while not (line := feed.readline()).startswith(b"data: "):
                pass
            call = json.loads(line[6:])["call"]
    return call


def summary(cases: list[Case]) -> dict[str, float]:
    """Of all steps: the time that passed, and what the case's own thread computed."""
    took = [one for case in cases for one in case.took_ms]
    cpu = [one for case in cases for one in case.cpu_ms]
    return {
        "p50": float(np.percentile(took, 50)),
        "p99": float(np.percentile(took, 99)),
        "computed p50": float(np.percentile(cpu, 50)),
        "computed p99": float(np.percentile(cpu, 99)),
    }


def main() -> int:
    """Prints each round; the exit code is 1 if no round is within the limit."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--reduced", action="store_true", help="as much as CI takes")
    reduced = options.parse_args().reduced
    rounds, cases, pause_s = (4, 1, 0.02) if reduced else (5, 8, 0.05)
    slower: list[float] = []
    computes: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        store = Store(f"sqlite:///{Path(folder) / 'records.sqlite3'}")
        for number in range(rounds):
            alone, shown = [], []
            for place in range(cases):
                alone.append(steps(store, f"alone-{number}-{place}", None, pause_s))
                shown.append(with_readers(store, f"shown-{number}-{place}", pause_s))
            told = [summary(one) for one in (alone, shown)]
            slower.append(told[1]["p99"] - told[0]["p99"])
            computes.append(told[1]["computed p99"] - told[0]["computed p99"])
            print(f"round {number + 1}, alone and with {READERS} slow readers:")
            for one in told:
                print("  " + ", ".join(f"{name} {value:.1f} ms" for name, value in one.items()))
    print(f"slower at p99 by {min(slower):.1f} ms at least, {max(slower):.1f} ms at most")
    print(f"computed more at p99, in the median of the rounds: {np.median(computes):.1f} ms")
    within = max(min(slower), float(np.median(computes))) <= SLOWER_AT_MOST_MS
    return 0 if within else 1


if __name__ == "__main__":
    sys.exit(main())
