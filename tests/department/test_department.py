"""A department's server: who may do what is tried, and what is copied arrives in order and once."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from tests.command import Command, voicelist
from tests.department.postgres import Postgres, programs, running
from tests.review.made_cases import morning, stored
from voicelist.department import outbox as outboxes
from voicelist.department.cases import readings
from voicelist.department.outbox import Courier, Outbox
from voicelist.department.server import install, name_theatre
from voicelist.errors import RecordError
from voicelist.record.store import Reader
from voicelist.record.verify import verify_reading
from voicelist.settings import settings_file

__all__ = ["voicelist"]

pytestmark = pytest.mark.skipif(programs() is None, reason="no PostgreSQL server is installed here")
_EVENT = (
    "INSERT INTO voicelist_journal "
    '(theatre, "case", seq, at, run, mono_ms, kind, body, prev, hash) '
    "VALUES (%s, 'x', %s, '', '', 0, 'opened', '{}', %s, %s)"
)
FIRST = "0" * 64


@pytest.fixture(scope="module")
def server() -> Iterator[Postgres]:
    with running() as one:
        assert install(one.url("owner")) == "0002"
        name_theatre(one.url("owner"), "theatre_1", "East 1")
        name_theatre(one.url("owner"), "theatre_2", "East 2")
        with one.connect() as owner:
            owner.execute("GRANT voicelist_reads TO reviewer")
        yield one


@pytest.fixture(autouse=True)
def emptied(server: Postgres) -> Iterator[None]:
    """The owner alone can do this, by switching the triggers off."""
    yield
    with server.connect() as owner:
        owner.execute("ALTER TABLE voicelist_journal DISABLE TRIGGER USER")
        owner.execute("TRUNCATE voicelist_journal")
        owner.execute("ALTER TABLE voicelist_journal ENABLE TRIGGER USER")


def box(file: Path, server: Postgres, number: int = 1) -> Outbox:
    return Outbox(file, server.url(f"theatre_{number}"), f"East {number}")


def send(outbox: Outbox) -> int:
    sent = 0
    while some := outbox.send_some():
        sent += some
    return sent


def on_server(server: Postgres) -> list[tuple[object, ...]]:
    with server.connect() as owner:
        return owner.execute(
            'SELECT theatre, "case", seq, hash FROM voicelist_journal ORDER BY 1, 2, 3'
        ).fetchall()


def kept_here(file: Path, theatre: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(file)) as raw:
        query = 'SELECT ?, "case", seq, hash FROM journal ORDER BY 2, 3'
        return raw.execute(query, (theatre,)).fetchall()


def test_installing_twice_changes_nothing(server: Postgres) -> None:
    assert install(server.url("owner")) == "0002"


def refused(server: Postgres, login: str, statement: str, *values: object) -> str:
    with server.connect(login) as asked, pytest.raises(psycopg.Error) as error:
        asked.execute(statement, values)
    return str(error.value)


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT * FROM voicelist_journal",
        "UPDATE voicelist_journal SET body = ''",
        "DELETE FROM voicelist_journal",
        "TRUNCATE voicelist_journal",
        "DROP TABLE voicelist_journal",
        "ALTER TABLE voicelist_journal DISABLE TRIGGER ALL",
        "SELECT * FROM voicelist_theatre",
        "UPDATE voicelist_schema SET version_num = '9'",
    ],
)
def test_a_theatre_may_only_add(server: Postgres, statement: str) -> None:
    told = refused(server, "theatre_1", statement)
    assert "permission denied" in told or "must be owner" in told


def test_a_theatre_adds_under_its_own_name_alone(server: Postgres) -> None:
    told = refused(server, "theatre_1", _EVENT, "East 2", 1, FIRST, "1" * 64)
    assert "row-level security" in told
    with server.connect("theatre_1") as theatre:
        theatre.execute(_EVENT, ("East 1", 1, FIRST, "1" * 64))
        held = theatre.execute("SELECT * FROM voicelist_held('x')").fetchall()
    assert held == [(1, "1" * 64)]
    with server.connect("theatre_2") as other:
        assert other.execute("SELECT * FROM voicelist_held('x')").fetchall() == []


@pytest.mark.parametrize(("seq", "prev"), [(1, FIRST), (3, "1" * 64), (2, FIRST), (0, FIRST)])
def test_the_server_takes_an_event_only_behind_the_one_before_it(
    server: Postgres, seq: int, prev: str
) -> None:
    with server.connect("theatre_1") as theatre:
        theatre.execute(_EVENT, ("East 1", 1, FIRST, "1" * 64))
    assert "does not follow event 1" in refused(
        server, "theatre_1", _EVENT, "East 1", seq, prev, "2" * 64
    )


def test_a_reviewer_may_only_read_and_nobody_changes_anything(server: Postgres) -> None:
    with server.connect("theatre_1") as theatre:
        theatre.execute(_EVENT, ("East 1", 1, FIRST, "1" * 64))
    with server.connect("reviewer") as reviewer:
        assert len(reviewer.execute("SELECT * FROM voicelist_journal").fetchall()) == 1
    for statement in ("DELETE FROM voicelist_journal", "UPDATE voicelist_journal SET body = ''"):
        assert "permission denied" in refused(server, "reviewer", statement)
        assert "only added to" in refused(server, "owner", statement)
    assert "permission denied" in refused(
        server, "reviewer", _EVENT, "East 1", 2, "1" * 64, "2" * 64
    )
    assert "only added to" in refused(server, "owner", "TRUNCATE voicelist_journal")
    assert len(on_server(server)) == 1


def test_what_is_kept_here_arrives_once_and_in_order(server: Postgres, tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite3"
    stored(file, [(f"case-{number}", morning()) for number in range(12)])
    outbox = box(file, server)
    events = len(kept_here(file, ""))
    assert outbox.standing().words == f"Kept here, not yet there: {events} events."
    assert send(outbox) == events
    assert on_server(server) == kept_here(file, "East 1")
    assert outbox.standing().words == ""
    assert send(outbox) == 0


def test_the_same_code_in_two_theatres_is_two_cases(server: Postgres, tmp_path: Path) -> None:
    for number in (1, 2):
        file = tmp_path / f"{number}.sqlite3"
        stored(file, [("case-1", morning(f"East {number}"))])
        send(box(file, server, number))
    found = list(readings(server.url("reviewer")))
    assert [(theatre, case) for theatre, case, _ in found] == [
        ("East 1", "case-1"),
        ("East 2", "case-1"),
    ]
    assert all(verify_reading(reading).ok for *_, reading in found)


def test_after_a_cut_before_the_mark_nothing_is_doubled(server: Postgres, tmp_path: Path) -> None:
    """The server has it, the mark does not: as when the computer stops between the two."""
    file = tmp_path / "records.sqlite3"
    stored(file, [("case-1", morning())])
    send(box(file, server))
    file.with_name("records.sqlite3.outbox").unlink()
    assert send(box(file, server)) == len(kept_here(file, ""))
    assert on_server(server) == kept_here(file, "East 1")


def test_what_comes_after_an_erasure_is_sent(server: Postgres, tmp_path: Path) -> None:
    """The numbers of erased rows go to the next case."""
    file = tmp_path / "records.sqlite3"
    stored(file, [("case-1", morning()), ("case-2", morning())])
    outbox = box(file, server)
    send(outbox)
    with sqlite3.connect(file) as raw:
        raw.execute("DELETE FROM journal WHERE \"case\" = 'case-2'")
    assert outbox.send_some() > 0, "compared anew"
    stored(file, [("case-3", morning())])
    send(outbox)
    assert {case for _, case, *_ in on_server(server)} == {"case-1", "case-2", "case-3"}
    assert [row for row in on_server(server) if row[1] == "case-3"] == [
        row for row in kept_here(file, "East 1") if row[1] == "case-3"
    ]


def test_another_record_under_a_code_is_refused_told_and_holds_nothing_up(
    server: Postgres, tmp_path: Path
) -> None:
    first, second = tmp_path / "1.sqlite3", tmp_path / "2.sqlite3"
    stored(first, [("case-1", morning())])
    send(box(first, server))
    stored(second, [("case-1", morning("else")), ("case-2", morning())])
    outbox = box(second, server)
    send(outbox)
    assert "Kept here alone: case-1, for the server holds another record of East 1" in (
        outbox.standing().words
    )
    assert {case for _, case, *_ in on_server(server)} == {"case-1", "case-2"}
    assert [row for row in on_server(server) if row[1] == "case-1"] == kept_here(first, "East 1")


def test_a_server_that_is_away_is_told_and_catches_up(
    server: Postgres, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outboxes, "_TELL_AFTER_S", 0.0)
    monkeypatch.setattr(outboxes, "FIRST_WAIT_S", 0.1)
    file, told = tmp_path / "records.sqlite3", list[str]()
    stored(file, [("case-1", morning())])
    server.stop("immediate")
    with pytest.raises(RecordError, match="is away"):
        box(file, server).send_some()
    with Courier(box(file, server), told.append):
        _until(lambda: any("not yet there" in one for one in told))
        server.start()
        _until(lambda: any("is there, too" in one for one in told))
    assert on_server(server) == kept_here(file, "East 1")


def _until(so: Callable[[], bool], within_s: float = 30.0) -> None:
    import time

    until_s = time.monotonic() + within_s
    while not so():
        assert time.monotonic() < until_s
        time.sleep(0.05)


def test_events_that_this_version_does_not_know_are_copied_and_not_counted(
    server: Postgres, tmp_path: Path, voicelist: Command
) -> None:
    """A theatre with a later version writes to the same server."""
    from voicelist.record.journal import chain

    file = tmp_path / "records.sqlite3"
    stored(file, [("case-1", morning()), ("case-2", morning())])
    last = Reader(f"sqlite:///{file}").entries("case-1")[-1]
    later = chain(
        last, case="case-1", at=last.at, run=last.run, mono_ms=0, kind="of-later", body={}
    )
    with sqlite3.connect(file) as raw:
        row = tuple({**later.fields(), "body": "{}"}.values())
        raw.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    send(box(file, server))
    assert on_server(server) == kept_here(file, "East 1")
    answer = voicelist("review", server.url("reviewer"), "--ask", "change", "--at-least", "1")
    assert answer.code == 1
    assert "Review of 1 cases" in answer.out
    assert "case-1 of East 1. It does not verify. Event 25: its kind 'of-later'" in answer.err


def test_a_review_of_the_server_is_that_of_the_stores(
    server: Postgres, tmp_path: Path, voicelist: Command
) -> None:
    for number in (1, 2):
        file = tmp_path / f"{number}.sqlite3"
        stored(file, [(f"case-{n}", morning(f"East {number}")) for n in range(3)])
        send(box(file, server, number))
    command = ("--ask", "time", "--by", "theatre", "--at-least", "3")
    rows = [
        line
        for number in (1, 2)
        for line in voicelist(
            "review", str(tmp_path / f"{number}.sqlite3"), *command
        ).out.splitlines()
        if line.startswith("East")
    ]
    answer = voicelist("review", server.url("reviewer"), *command)
    assert answer.code == 0, answer.text
    assert [line for line in answer.out.splitlines() if line.startswith("East")] == rows
    folder = tmp_path / "tables"
    export = ("record", "export", "--all", "--format", "parquet", "-o", str(folder))
    written = voicelist(*export, "--store", server.url("reviewer"))
    assert "6 cases added" in written.out


def test_a_list_of_one_theatre_says_what_a_server_is(server: Postgres, voicelist: Command) -> None:
    answer = voicelist(
        "record", "list", "--store", server.url("reviewer").replace(":", "+psycopg:", 1)
    )
    assert (answer.code, "This is a department's server" in answer.err) == (1, True)


def test_what_is_amiss_with_the_server_keeps_no_case_from_beginning(voicelist: Command) -> None:
    from tests.command import PLAN

    server = "postgresql://theatre_1@127.0.0.1:1/nowhere"
    answer = voicelist("run", PLAN, "--typed", "--voice", "none", "--store", server, typed="")
    assert "Kept here alone." in answer.out
    assert "this computer has none" in answer.out
    assert len(Reader(None).codes()) == 1


def test_a_case_goes_to_the_server_while_it_is_held(
    server: Postgres, voicelist: Command, tmp_path: Path
) -> None:
    from tests.command import PLAN
    from tests.session.talk import WHOLE_CASE
    from voicelist.places import data_folder

    settings_file().parent.mkdir(parents=True, exist_ok=True)
    settings_file().write_text(f"theatre: East 1\nserver: {server.url('theatre_1')}\n")
    typed = "\n".join(WHOLE_CASE) + "\n"
    answer = voicelist("run", str(PLAN), "--typed", "--voice", "none", typed=typed)
    assert answer.code == 0, answer.text
    file = data_folder() / "records.sqlite3"
    assert on_server(server) == kept_here(file, "East 1")
    (opened, *_) = Reader(None).entries("practice-007")
    assert opened.body["theatre"] == "East 1"
    assert voicelist("department", "standing").out == "All that is kept here is there, too.\n"
    server.stop()
    try:
        other = PLAN.with_name("practice-101.yaml")
        later = voicelist("run", other, "--typed", "--voice", "none", typed="")
        assert "Kept here, not yet there:" in later.out
        away = voicelist("department", "send")
        assert (away.code, "is away" in away.err) == (1, True)
    finally:
        server.start()
    assert voicelist("department", "send").code == 0
    assert on_server(server) == kept_here(file, "East 1")


def test_without_a_server_or_a_theatre_there_is_a_sentence(voicelist: Command) -> None:
    no_server = voicelist("department", "send")
    assert (no_server.code, "There is no server" in no_server.err) == (2, True)
    no_theatre = voicelist("department", "send", "--server", "postgresql://a@127.0.0.1:1/c")
    assert (no_theatre.code, "this computer has none" in no_theatre.err) == (2, True)
