"""A command watched by the system call tracer `strace`, without a network where that can be had:
what it tried to reach, and which files and folders it tried to make.

Every call counts, whether it came to anything or not, in every process that the command starts.
"""

from __future__ import annotations

import functools
import os
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

_CALLS = "%network,io_uring_setup,open,openat,openat2,creat,mkdir,mkdirat,mknod,mknodat"
_CALLS += ",rename,renameat,renameat2,link,linkat,symlink,symlinkat"
# Only so that nothing hangs for good.
_WITHIN_S = 900.0
_LINE = re.compile(r"(?P<process>\d+) +(?P<call>\w+)\((?P<told>.*)")
_PATH = re.compile(r'(?:(?:AT_FDCWD|\d+)<(?P<folder>[^>]*)>, )?"(?P<path>[^"]*)"')

# What is no attempt to reach anybody: a pipe between a process and its child; and the question
# whether there is IPv6, which `urllib3` asks as it is imported (`vosk` imports it): a socket is
# bound to this computer's own address and closed, never listened on or connected.
_HARMLESS = (
    re.compile(r"socketpair\(AF_UNIX, "),
    re.compile(r"getsockname\("),
    re.compile(r"socket\(AF_INET6, SOCK_STREAM\|SOCK_CLOEXEC, IPPROTO_IP\b"),
    re.compile(r'bind\(\d+.*sin6_port=htons\(0\), .*"::1"'),
)
# What stays in this computer: a socket that has its place in the file system, and what is sent
# where a connection was made, which is a call of its own.
_WITHIN_THE_COMPUTER = (
    re.compile(r"socket\(AF_UNIX, "),
    re.compile(r"connect\(\d+<[^>]*>, \{sa_family=AF_UNIX, sun_path=\"/"),
    re.compile(r"(getsockopt|setsockopt|getpeername|shutdown|recv\w+)\("),
    re.compile(r"send\w+\((?!.*sa_family=)"),
)
_FILES = frozenset({"open", "openat", "openat2"})
_MAKES = frozenset({"creat", "mkdir", "mkdirat", "mknod", "mknodat"})
_PUTS = frozenset({"rename", "renameat", "renameat2", "link", "linkat", "symlink", "symlinkat"})
# Read by the C library and by others to find a computer by its name.
_LOOK_UP = ("/etc/resolv.conf", "/etc/hosts")


@dataclass(frozen=True, slots=True)
class Call:
    """One system call, as the tracer writes it."""

    process: int
    name: str
    told: str
    room: Path

    def __str__(self) -> str:
        return f"{self.name}({self.told}"

    @property
    def paths(self) -> list[Path]:
        return [
            self.room / (found["folder"] or "") / found["path"]
            for found in _PATH.finditer(self.told)
        ]


@dataclass(frozen=True, slots=True)
class Traced:
    """How a command ended, what it printed, and its calls."""

    code: int
    printed: str
    calls: tuple[Call, ...]

    @property
    def reached_for(self) -> list[str]:
        """Every attempt to look a name up, to connect, to send or to listen."""
        return [str(call) for call in self.calls if _reaches(call)]

    @property
    def reached_beyond(self) -> list[str]:
        """Of these, all that could leave this computer: sound goes to the system's sound server."""
        return [
            call
            for call in self.reached_for
            if not any(pattern.match(call) for pattern in _WITHIN_THE_COMPUTER)
        ]

    def made_outside(self, own: Sequence[Path]) -> list[str]:
        """Files and folders made (or tried to be) that are not in `own` folders nor lead there."""
        return [str(call) for call in self.calls for path in _made(call) if not _in(path, own)]

    def processes_with(self, ending: str) -> set[int]:
        """The processes that opened a file whose path ends so."""
        return {
            call.process
            for call in self.calls
            if call.name in _FILES and any(str(path).endswith(ending) for path in call.paths)
        }


def _reaches(call: Call) -> bool:
    if call.name in _FILES:
        return any(str(path) in _LOOK_UP for path in call.paths)
    if call.name in _MAKES | _PUTS:
        return False
    return not any(pattern.match(str(call)) for pattern in _HARMLESS)


def _made(call: Call) -> list[Path]:
    if call.name in _PUTS:
        return call.paths[-1:]
    makes = call.name in _MAKES or (call.name in _FILES and re.search("O_CREAT|O_TMP", call.told))
    return call.paths[:1] if makes else []


def _in(path: Path, own: Sequence[Path]) -> bool:
    plain = Path(os.path.normpath(path))
    return any(plain.is_relative_to(folder) or folder.is_relative_to(plain) for folder in own)


def traced(command: Sequence[object], room: Path, environment: dict[str, str]) -> Traced:
    """Run a command in the folder `room`; skips the test where nothing can be traced."""
    reason = _hindrance()
    if reason:
        pytest.skip(reason)
    trace = room / "trace.txt"
    # Whole paths of folders that a path is relative to; the kernel itself passes over other calls.
    watched = ["strace", "-f", "--seccomp-bpf", "-qq", "-y", "-e", f"trace={_CALLS}", "-o", trace]
    ended = subprocess.run(
        list(map(str, [*watched, *_cut_off(), *command])),
        cwd=room,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        timeout=_WITHIN_S,
        check=False,
    )
    lines = trace.read_text(encoding="utf-8", errors="replace").splitlines()
    trace.unlink()
    found = (_LINE.match(line) for line in lines)
    calls = tuple(Call(int(one["process"]), one["call"], one["told"], room) for one in found if one)
    return Traced(ended.returncode, ended.stdout.decode(errors="replace"), calls)


@functools.cache
def _hindrance() -> str:
    if shutil.which("strace") is None:
        return "there is no strace here, so what a program reaches for cannot be seen"
    tried = ["strace", "-f", "--seccomp-bpf", "-qq", "-y", "-e", "trace=none", "true"]
    if not _runs(tried):
        return "strace may not watch programs here, so what they reach for cannot be seen"
    return ""


@functools.cache
def _cut_off() -> tuple[str, ...]:
    """What runs a command without any network, where the system allows that. Elsewhere the
    attempts are seen as well, but do go out."""
    for how in (("unshare", "--net"), ("unshare", "--map-root-user", "--net")):
        if shutil.which("unshare") and _runs([*how, "true"]):
            return how
    return ()


def _runs(command: list[str]) -> bool:
    return subprocess.run(command, capture_output=True, check=False).returncode == 0
