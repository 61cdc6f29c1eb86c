"""A PostgreSQL of a test's own: on a socket and a port of this computer, gone afterwards."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

_PLACES = sorted(Path("/usr/lib/postgresql").glob("*/bin"))


def programs() -> Path | None:
    """Where the server's programs lie; None where there are none, or nobody who may run them."""
    if not _PLACES or (os.geteuid() == 0 and shutil.which("runuser") is None):
        return None
    return _PLACES[-1]


class Postgres:
    """A cluster in a folder, started and stopped at will."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        found = programs()
        assert found is not None, "asked before"
        self._bin = found
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._run("initdb", "-D", str(folder / "data"), "-U", "owner", "-A", "trust", "--no-sync")

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self._bin / program), *arguments]
        if os.geteuid() == 0:
            command = ["runuser", "-u", "postgres", "--", *command]
        with open(os.devnull, "wb") as nowhere:
            subprocess.run(command, check=True, stdout=nowhere, stderr=nowhere, cwd=self.folder)

    def start(self, more: str = "") -> None:
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self.folder} -c fsync=off"
        options = f"{options} {more}".strip()
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-o", options, "start")

    def stop(self, mode: str = "fast") -> None:
        """`immediate` is as if it were killed: nothing is put in order."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", mode, "stop")

    def url(self, login: str, database: str = "postgres") -> str:
        return f"postgresql://{login}@127.0.0.1:{self.port}/{database}"

    def connect(self, login: str = "owner") -> psycopg.Connection:
        return psycopg.connect(self.url(login), autocommit=True)


@contextmanager
def running() -> Iterator[Postgres]:
    """A cluster that runs, with a login for each of two theatres and a reviewer."""
    with tempfile.TemporaryDirectory(prefix="voicelist-pg-") as name:
        folder = Path(name)
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres", "postgres")
        server = Postgres(folder)
        server.start()
        try:
            with server.connect() as owner:
                for login in ("theatre_1", "theatre_2", "reviewer"):
                    owner.execute(f"CREATE ROLE {login} LOGIN")
            yield server
        finally:
            server.stop("immediate")
