"""A dump of the server, restored into an empty database, holds every record, and its rights."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import psycopg
import pytest

from tests.command import Command, voicelist
from tests.department.postgres import programs, running
from tests.review.made_cases import morning, stored
from voicelist.department.cases import readings
from voicelist.department.outbox import Outbox
from voicelist.department.server import install, name_theatre
from voicelist.record.verify import verify_reading

__all__ = ["voicelist"]

pytestmark = pytest.mark.skipif(programs() is None, reason="no PostgreSQL is installed here")


def test_a_dump_is_restored_and_what_came_later_is_sent_again(
    tmp_path: Path, voicelist: Command
) -> None:
    file, dump = tmp_path / "records.sqlite3", tmp_path / "voicelist.dump"
    place = programs()
    assert place is not None
    with running() as server:
        install(server.url("owner"))
        name_theatre(server.url("owner"), "theatre_1", "East 1")
        with server.connect() as owner:
            owner.execute("GRANT voicelist_reads TO reviewer")
            owner.execute("CREATE DATABASE again")
        stored(file, [("case-1", morning())])
        outbox = Outbox(file, server.url("theatre_1"), "East 1")
        assert outbox.send_some()
        for program, arguments in (
            ("pg_dump", ("--format=custom", f"--file={dump}", "--dbname", server.url("owner"))),
            ("pg_restore", ("--dbname", server.url("owner", "again"), str(dump))),
        ):
            subprocess.run([str(place / program), *arguments], check=True, env=dict(os.environ))
        stored(file, [("case-2", morning())])
        again = server.url("theatre_1", "again")
        later = Outbox(file, again, "East 1")
        while later.send_some():
            pass
        found = list(readings(server.url("reviewer", "again")))
        assert [case for _, case, _ in found] == ["case-1", "case-2"]
        assert all(verify_reading(one).ok for *_, one in found)
        with psycopg.connect(again) as theatre, pytest.raises(psycopg.Error, match="denied"):
            theatre.execute("DELETE FROM voicelist_journal")
        answer = voicelist("review", server.url("reviewer", "again"), "--ask", "change")
        assert answer.code == 0, answer.text
        assert install(server.url("owner", "again")) == "0002"
