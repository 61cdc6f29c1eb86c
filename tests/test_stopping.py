"""Signals set a mark; they break in only where that harms nothing; children leave them alone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from voicelist.child import Child, ChildEnd
from voicelist.stopping import StoppedBefore, StopRequests

SIGNALS = pytest.mark.parametrize(
    "number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP], ids=lambda one: one.name
)


@SIGNALS
def test_a_signal_is_a_mark_and_no_more(number: signal.Signals) -> None:
    before = signal.getsignal(number)
    with StopRequests() as stopping:
        assert (stopping.reason, stopping.urgent) == ("", False)
        signal.raise_signal(number)
        assert stopping.reason
        assert stopping.urgent
        with pytest.raises(StoppedBefore) as refused:
            stopping.refuse()
        assert refused.value.exit_code == 128 + number
    assert signal.getsignal(number) is before


def test_it_breaks_in_where_something_is_waited_for_and_once_only() -> None:
    with StopRequests() as stopping:
        with pytest.raises(KeyboardInterrupt), stopping.breaking_in():
            signal.raise_signal(signal.SIGTERM)
        signal.raise_signal(signal.SIGTERM)
        assert stopping.reason == "the computer asked the program to end"


def test_who_was_asked_before_does_not_begin_to_wait() -> None:
    with StopRequests() as stopping:
        signal.raise_signal(signal.SIGHUP)
        with pytest.raises(KeyboardInterrupt), stopping.breaking_in():
            pytest.fail("it waited")


def test_what_is_held_back_comes_afterwards() -> None:
    with StopRequests() as stopping:
        done = []

        def wait() -> None:
            with stopping.breaking_in():
                with stopping.held_back():
                    signal.raise_signal(signal.SIGTERM)
                    done.append("written")
                done.append("waited on")

        with pytest.raises(KeyboardInterrupt):
            wait()
        assert done == ["written"]


def test_the_first_reason_stands_and_a_later_signal_is_urgent_again() -> None:
    with StopRequests() as stopping:
        signal.raise_signal(signal.SIGHUP)
        stopping.taken_up()
        stopping.ask("something else")
        assert not stopping.urgent
        signal.raise_signal(signal.SIGTERM)
        assert stopping.urgent
        assert stopping.reason == "the terminal was closed"


def answers(end: ChildEnd) -> None:
    end.send("here")
    while True:
        end.receive()


@SIGNALS
def test_a_child_leaves_signals_to_its_parent_from_its_first_moment_on(
    number: signal.Signals,
) -> None:
    child = Child("answers", answers)
    child.start()
    try:
        assert child.pid is not None
        os.kill(child.pid, number)
        assert child.poll(20.0) == "here"
        os.kill(child.pid, number)
        assert child.poll(0.5) is None
        assert child.alive
    finally:
        child.kill()


FORGETFUL = """
from tests.test_stopping import answers
from voicelist.child import Child
if __name__ == "__main__":
    child = Child("answers", answers)
    child.start()
    assert child.poll(20.0) == "here"
    print(child.pid)
"""


def test_a_child_that_nobody_ended_does_not_outlive_the_program() -> None:
    done = subprocess.run(
        [sys.executable, "-c", FORGETFUL], capture_output=True, text=True, timeout=60, check=True
    )
    with pytest.raises(ProcessLookupError):
        os.kill(int(done.stdout), 0)


def test_a_child_that_still_loads_ends_with_its_parent(tmp_path: Path) -> None:
    """What it is to do is in a module that takes a minute to import."""
    if not Path("/proc/self/stat").exists():
        pytest.skip("whether a process lives is looked up as Linux tells it")
    (tmp_path / "slow.py").write_text(
        "import os, time, pathlib\n"
        "pathlib.Path(os.environ['TOLD']).write_text(str(os.getpid()))\n"
        "time.sleep(60)\n"
        "def work(end): pass\n"
    )
    (tmp_path / "parent.py").write_text(
        "import os, sys, types\n"
        "from voicelist.child import Child\n"
        "if __name__ == '__main__':\n"
        "    slow = types.ModuleType('slow')\n"  # named, but not imported here
        "    exec('def work(end): pass', slow.__dict__)\n"
        "    slow.work.__module__ = 'slow'\n"
        "    sys.modules['slow'] = slow\n"
        "    Child('slow', slow.work).start()\n"
        "    os.read(0, 1)\n"
    )
    told = tmp_path / "pid"
    parent = subprocess.Popen(
        [sys.executable, tmp_path / "parent.py"],
        env={**os.environ, "TOLD": str(told), "PYTHONPATH": f"{tmp_path}:{os.getcwd()}"},
        stdin=subprocess.PIPE,
    )
    until_s = time.monotonic() + 30
    while not (told.exists() and told.read_text()) and time.monotonic() < until_s:
        time.sleep(0.05)
    child = Path(f"/proc/{told.read_text()}/stat")
    parent.kill()
    parent.wait()
    until_s = time.monotonic() + 30
    while child.exists() and ") Z " not in child.read_text() and time.monotonic() < until_s:
        time.sleep(0.05)
    assert time.monotonic() < until_s, "it lives on"
