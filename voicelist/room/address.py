"""Where the display is read: on this computer alone, unless a host is named."""

from __future__ import annotations

import contextlib
import ipaddress
import os
import secrets
import socket
from dataclasses import dataclass
from pathlib import Path

from voicelist.errors import UsageError
from voicelist.places import data_folder
from voicelist.room.gate import TOKEN, loopback_names

DEFAULT_PORT = 8710
_LOOPBACK = "127.0.0.1"
_LOOPBACK_NAMES = (_LOOPBACK, "localhost", "[::1]")
_BACKLOG = 128
_TOKEN_FILE = "display-token"
_TOKEN_BYTES = 18


@dataclass(frozen=True, slots=True)
class Address:
    """A socket that listens, and what is needed to come in: a `token`, or, on loopback, one of the
    `hosts` as the name that is asked for."""

    listening: socket.socket
    url: str
    token: str
    hosts: frozenset[str]

    def close(self) -> None:
        self.listening.close()


def open_address(host: str | None = None, port: int = DEFAULT_PORT) -> Address:
    """Listens on loopback, or where `host` says; port 0 takes any that is free.

    Raises UsageError for a host that is none of this computer's, or a port that is in use.
    """
    named = host or _LOOPBACK
    listening = _listening(named, port)
    bound = listening.getsockname()[1]
    if _is_loopback(listening):
        shown = f"[{named}]" if ":" in named else named
        return Address(
            listening, f"http://{shown}:{bound}/", "", loopback_names(_LOOPBACK_NAMES, bound)
        )
    token = kept_token()
    shown = socket.gethostname() if _is_every(listening) else named
    shown = f"[{shown}]" if ":" in shown else shown
    return Address(listening, f"http://{shown}:{bound}/?{TOKEN}={token}", token, frozenset())


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=_BACKLOG)
    except (OSError, OverflowError, UnicodeError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise UsageError(
            f"The display cannot listen on {host}, port {port}: {why}. Give another --display-port"
            " (0 takes any that is free), name this computer by --display-host, or leave --display"
            " out."
        ) from error


def _is_loopback(listening: socket.socket) -> bool:
    return ipaddress.ip_address(listening.getsockname()[0]).is_loopback


def _is_every(listening: socket.socket) -> bool:
    return ipaddress.ip_address(listening.getsockname()[0]).is_unspecified


def kept_token(folder: Path | None = None) -> str:
    """The token of this computer's display, made once, so that a screen on the wall comes back by
    itself in the next case. Delete the file to have another."""
    file = (folder or data_folder()) / _TOKEN_FILE
    with contextlib.suppress(OSError):
        kept = file.read_text(encoding="ascii").strip()
        if len(kept) >= _TOKEN_BYTES:
            return kept
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    with contextlib.suppress(OSError):
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as out:
            out.write(token)
    return token
