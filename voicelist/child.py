"""A native part (recogniser, sound device, voice) in a process of its own.

Native code can abort, hang or leak. Here it does so alone: the parent notices a death or a silence,
says so, and starts another. Children are started afresh (`spawn`) and end when their parent is
gone. A thread sends their heartbeats as long as their working loop goes on, so that a death or a
stopped process is seen within half a second and a hang in native code within some three. Nothing
but the standard library is imported here.
"""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import multiprocessing
import os
import pickle
import queue
import signal
import threading
import time
import weakref
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.reduction import ForkingPickler
from pathlib import Path
from typing import Any

BEAT_S = 0.1
SILENT_AFTER_S = 0.45
STUCK_AFTER_S = 2.5
# A busy machine may keep a sound process from its turn for longer than a stopped one may stay
# unnoticed; where the system tells the two apart, the first is given the longer of these times.
STARVED_AFTER_S = 3.0
STOPPED_AFTER_S = 0.15
START_ALLOWANCE_S = 20.0
QUEUED_AT_MOST = 512
_PARENT_LOOKED_AT_S = 0.25
# Of glibc's `mallopt` (its malloc.h), and what counts as large.
_M_MMAP_THRESHOLD = -3
_LARGE_BYTES = 256 * 1024


@dataclass(frozen=True, slots=True)
class Beat:
    """A sign of life of a child whose working loop goes on."""


@dataclass(frozen=True, slots=True)
class ChildLost:
    """The child died or fell silent; `reason` is for a person."""

    name: str
    reason: str


class ChildEnd:
    """What a child's target function talks to. One thread may receive; any may send."""

    def __init__(self, connection: Connection, parent_pid: int) -> None:
        self._connection = connection
        self._parent_pid = parent_pid
        self._sending = threading.Lock()
        self._stuck_at_s = 0.0
        # Not before the first look: loading can hold every thread up for over half a second.
        self._beats = threading.Thread(target=self._beat_while_working, daemon=True)
        self._starting = threading.Lock()

    def _beat_while_working(self) -> None:
        while True:
            if time.monotonic() < self._stuck_at_s:
                self.send(Beat())
            time.sleep(BEAT_S)

    def receive(self, timeout_s: float = BEAT_S) -> Any | None:
        """The next message, or None after `timeout_s`. To be called again within
        `STUCK_AFTER_S`, else the child counts as hung.

        Ends the process when the parent is gone.
        """
        self.beat()
        try:
            if self._connection.poll(timeout_s):
                return self._connection.recv()
        except (EOFError, OSError):
            os._exit(0)
        if os.getppid() != self._parent_pid:
            os._exit(0)
        return None

    def beat(self) -> None:
        """The working loop goes on, though it is long at one piece of work."""
        self._stuck_at_s = time.monotonic() + STUCK_AFTER_S
        with self._starting:
            if self._beats.ident is None:
                self._beats.start()

    def send(self, message: Any) -> None:
        """Hand a message to the parent; ends the process when the parent is gone."""
        try:
            with self._sending:
                self._connection.send(message)
        except (BrokenPipeError, ConnectionResetError, OSError):
            os._exit(0)


def hush() -> None:
    """Send what native libraries write to the terminal nowhere; a child talks through its pipe."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.close(nowhere)


def keep_nothing_large() -> None:
    """Large blocks come from the system and go back to it at once. By itself glibc comes to keep
    ever larger ones, and what little stands between them holds on to tens of MB."""
    _of_glibc("mallopt", _M_MMAP_THRESHOLD, _LARGE_BYTES)


def give_memory_back() -> None:
    """glibc keeps what longer work needed (tens of MB)."""
    _of_glibc("malloc_trim", 0)


def _of_glibc(function: str, *numbers: int) -> None:
    """Elsewhere there is nothing to ask for."""
    with contextlib.suppress(AttributeError, OSError, TypeError):
        getattr(ctypes.CDLL(None), function)(*numbers)


class _Given:
    """What a child is to do. It is read only when the child watches for the end of its parent, for
    reading it imports the modules that it names, and that may take seconds."""

    def __init__(self, target: Callable[..., None], args: tuple[Any, ...]) -> None:
        self._given = target, args
        self._packed = b""

    def __getstate__(self) -> bytes:
        return bytes(ForkingPickler.dumps(self._given))

    def __setstate__(self, packed: bytes) -> None:
        self._packed = packed

    def read(self) -> tuple[Callable[..., None], tuple[Any, ...]]:
        target, args = pickle.loads(self._packed)
        return target, args


def _end_with(parent_pid: int) -> None:
    while os.getppid() == parent_pid:
        time.sleep(_PARENT_LOOKED_AT_S)
    os._exit(0)


def _run(given: _Given, connection: Connection, parent_pid: int) -> None:
    threading.Thread(target=_end_with, args=(parent_pid,), daemon=True).start()
    numbers = _signals_of_the_group()
    for number in numbers:
        signal.signal(number, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, numbers)
    target, args = given.read()
    target(ChildEnd(connection, parent_pid), *args)


def _signals_of_the_group() -> tuple[signal.Signals, ...]:
    """What a terminal or the system sends to the whole group: to be heeded by the parent, which
    ends its children when it needs them no longer."""
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    return tuple(getattr(signal, name) for name in names if hasattr(signal, name))


@contextlib.contextmanager
def _held_back() -> Iterator[None]:
    """A process that is started here does not get those signals before it can ignore them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # Starting the tracker lets signals through again; so it is started first.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _signals_of_the_group())
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Child:
    """The parent's side: start, send, poll, stop.

    `target(end, *args)` runs in the child. Messages to the child wait in a bounded queue; what does
    not fit is dropped and counted in `dropped`, so that a hung child never blocks the parent.
    """

    def __init__(self, name: str, target: Callable[..., None], args: tuple[Any, ...] = ()) -> None:
        self.name = name
        self.dropped = 0
        self._target = target
        self._args = args
        self._process: Any = None
        self._connection: Connection | None = None
        self._outgoing: queue.Queue[Any] = queue.Queue(QUEUED_AT_MOST)
        self._last_sign_s = 0.0
        self._seen = False

    @property
    def pid(self) -> int | None:
        return self._process.pid if self._process is not None else None

    def start(self) -> None:
        """Start the process (again); anything queued for an earlier one is discarded."""
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(
            target=_run,
            args=(_Given(self._target, self._args), theirs, os.getpid()),
            name=self.name,
            daemon=True,
        )
        with _held_back():
            process.start()
        self._process = process
        _STARTED.add(self)
        theirs.close()
        self._connection = ours
        self._outgoing = queue.Queue(QUEUED_AT_MOST)
        self._last_sign_s = time.monotonic()
        self._seen = False
        threading.Thread(target=self._pump, args=(ours, self._outgoing), daemon=True).start()

    @staticmethod
    def _pump(connection: Connection, outgoing: queue.Queue[Any]) -> None:
        while (message := outgoing.get()) is not None:
            try:
                connection.send(message)
            except (OSError, ValueError, TypeError):
                # TypeError: the pipe was closed by `kill` in the middle of a long message.
                return

    def send(self, message: Any, *, wait_s: float | None = 0.0) -> bool:
        """Queue a message. Waits up to `wait_s` for room (None: as long as the child lives)."""
        limit = None if wait_s is None else time.monotonic() + wait_s
        while True:
            try:
                if wait_s == 0.0:
                    self._outgoing.put_nowait(message)
                else:
                    self._outgoing.put(message, timeout=0.05)
            except queue.Full:
                if not self.alive or (limit is not None and time.monotonic() >= limit):
                    self.dropped += 1
                    return False
            else:
                return True

    def poll(self, timeout_s: float = 0.0) -> Any | None:
        """The next message of the child, a `ChildLost`, or None when nothing came in time."""
        end_s = time.monotonic() + timeout_s
        while self._connection is not None:
            left_s = max(0.0, end_s - time.monotonic())
            try:
                if self._connection.poll(min(left_s, BEAT_S)):
                    message = self._connection.recv()
                    self._last_sign_s, self._seen = time.monotonic(), True
                    if isinstance(message, Beat):
                        continue
                    return message
            except (EOFError, OSError):
                return self._lost(f"ended (exit code {self._exit_code()})")
            if self.silent_s > self._patience_s():
                return self._lost("gives no sign of life")
            if left_s <= 0.0:
                return None
        return None

    def _patience_s(self) -> float:
        if not self._seen:
            return START_ALLOWANCE_S
        match _can_run(self.pid):
            case True:
                return STARVED_AFTER_S
            case False:
                return STOPPED_AFTER_S
            case None:
                return SILENT_AFTER_S

    @property
    def waitable(self) -> Connection | None:
        """What `multiprocessing.connection.wait` may wait on."""
        return self._connection

    @property
    def silent_s(self) -> float:
        """Seconds since the last sign of life."""
        return time.monotonic() - self._last_sign_s

    @property
    def alive(self) -> bool:
        return self._process is not None and self._process.is_alive()

    def _exit_code(self) -> int | None:
        self._process.join(0.5)
        code: int | None = self._process.exitcode
        return code

    def _lost(self, reason: str) -> ChildLost:
        self.kill()
        return ChildLost(self.name, reason)

    def stop(self, timeout_s: float = 1.0) -> None:
        """Close the pipe, which the child takes as its end; kill it if it lingers."""
        if self._process is None:
            return
        self._outgoing = self._close()
        self._process.join(timeout_s)
        self.kill()

    def kill(self) -> None:
        """End the process now."""
        if self._process is None:
            return
        self._outgoing = self._close()
        if self._process.is_alive():
            self._process.kill()
        self._process.join(1.0)

    def _close(self) -> queue.Queue[Any]:
        with contextlib.suppress(queue.Full):
            self._outgoing.put_nowait(None)
        if self._connection is not None:
            with contextlib.suppress(OSError):
                self._connection.close()
        self._connection = None
        return queue.Queue(QUEUED_AT_MOST)


def ask_once(
    name: str, target: Callable[..., None], args: tuple[Any, ...] = (), *, timeout_s: float = 10.0
) -> Any:
    """The first message of a child that is started for this one question, or a `ChildLost`."""
    child = Child(name, target, args)
    child.start()
    try:
        answer = child.poll(timeout_s)
        return ChildLost(name, f"no answer in {timeout_s:.0f} s") if answer is None else answer
    finally:
        child.kill()


def _can_run(pid: int | None) -> bool | None:
    """Whether the system says that a process is neither stopped nor dead; None if it does not
    say (outside Linux)."""
    try:
        status = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    return status.rpartition(")")[2].split()[0] not in "TtZX"


def wait_for(children: list[Child], timeout_s: float) -> None:
    """Return as soon as any child has something to say, or after `timeout_s`."""
    ends = [child.waitable for child in children if child.waitable is not None]
    wait(ends, timeout_s) if ends else time.sleep(timeout_s)


_STARTED: weakref.WeakSet[Child] = weakref.WeakSet()


def _end_all() -> None:
    """The standard library would ask them to end by a signal that they ignore, and wait."""
    for child in tuple(_STARTED):
        child.kill()


atexit.register(_end_all)
