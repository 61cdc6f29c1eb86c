"""A review of a server in place: what it says is what the engine inside the process says."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import text

from tests.command import Command, voicelist
from tests.department.postgres import Postgres, programs, running
from tests.review.made_cases import stored
from tests.review.many_cases import cases, random_case
from voicelist.department.outbox import Outbox
from voicelist.department.server import connection, install, name_theatre
from voicelist.review.asking import answer
from voicelist.review.countable import cases_of, countable
from voicelist.review.duck import Duck
from voicelist.review.engine import WantedCases, chosen, source_of
from voicelist.review.in_place import add_rows, make_tables
from voicelist.review.projection import Rows
from voicelist.review.questions import QUESTIONS
from voicelist.review.series import figures, funnel
from voicelist.review.tables import TABLES, VERSION

__all__ = ["voicelist"]

pytestmark = pytest.mark.skipif(programs() is None, reason="no PostgreSQL server is installed here")
EACH = 4
_HELD = (
    'INSERT INTO voicelist_tabled (theatre, "case", head, version, problem) '
    "VALUES (:theatre, :case, :head, :version, '') RETURNING key"
)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Postgres]:
    with running() as one:
        install(one.url("owner"))
        with one.connect() as owner:
            owner.execute("GRANT voicelist_reads TO reviewer")
            owner.execute("CREATE ROLE maker LOGIN IN ROLE voicelist_tables")
        for number in (1, 2):
            name_theatre(one.url("owner"), f"theatre_{number}", f"East {number}")
        yield one


@pytest.fixture(autouse=True)
def files(server: Postgres, tmp_path: Path) -> Iterator[list[Path]]:
    """The stores of two theatres, copied to the server; afterwards it is empty again."""
    chance = random.Random(7)
    every = [tmp_path / f"{number}.sqlite3" for number in (1, 2)]
    for number, file in enumerate(every, 1):
        stored(file, [(f"case-{n}", random_case(chance)) for n in range(EACH)])
        send(server, file, number)
    yield every
    as_owner(server, "TRUNCATE voicelist_journal", "TRUNCATE voicelist_tabled CASCADE")


def send(server: Postgres, file: Path, number: int = 1) -> None:
    outbox = Outbox(file, server.url(f"theatre_{number}"), f"East {number}")
    while outbox.send_some():
        pass


def as_owner(server: Postgres, *statements: str) -> None:
    """The owner alone can change a journal, by switching the triggers off."""
    with server.connect() as owner:
        owner.execute("ALTER TABLE voicelist_journal DISABLE TRIGGER USER")
        for statement in statements:
            owner.execute(statement)
        owner.execute("ALTER TABLE voicelist_journal ENABLE TRIGGER USER")


def held(server: Postgres, table: str) -> list[tuple[object, ...]]:
    names = ", ".join(f'"{one}"' for one in TABLES[table].names)
    with server.connect("reviewer") as reviewer:
        reviewer.execute("SET TimeZone = 'UTC'")
        return reviewer.execute(
            f"SELECT {names} FROM voicelist_{table} ORDER BY {names}"
        ).fetchall()


def put(server: Postgres, every: list[Rows]) -> None:
    """Rows of cases that have no journal."""
    with connection(server.url("maker")) as connected:
        for rows in every:
            lead = dict(zip(TABLES["cases"].names, rows["cases"][0], strict=True))
            told = {name: lead[name] for name in ("theatre", "case", "head")}
            key = connected.execute(text(_HELD), {**told, "version": VERSION}).scalar_one()
            add_rows(connected, [(key, rows)])
        connected.commit()


def ruled(rows: Rows) -> Rows:
    """With a phrase for every utterance about an item."""
    names = TABLES["utterances"].names
    item, rule = names.index("item"), names.index("rule")
    said = [(*row[:rule], f"{row[item]}.done", *row[rule + 1 :]) for row in rows["utterances"]]
    return {**rows, "utterances": tuple(said)}


def test_the_columns_are_those_of_the_dictionary(server: Postgres) -> None:
    kinds = {
        "text": "text",
        "bigint": "integer",
        "double precision": "real",
        "boolean": "boolean",
        "timestamp with time zone": "time",
    }
    with server.connect() as owner:
        for name, table in TABLES.items():
            found = owner.execute(
                "SELECT column_name, data_type FROM information_schema.columns "
                "WHERE table_name = %s ORDER BY ordinal_position",
                (f"voicelist_{name}",),
            ).fetchall()
            assert found[0] == ("key", "bigint")
            columns = [(one.name, one.kind) for one in table.columns]
            assert [(column, kinds[kind]) for column, kind in found[1:]] == columns


def test_every_question_is_answered_as_inside_the_process(server: Postgres) -> None:
    """To the last digit; the charts, too."""
    every = [ruled(one) for one in cases(60)]
    as_owner(server, "TRUNCATE voicelist_journal")
    put(server, every)
    joined = {name: [row for one in every for row in one[name]] for name in TABLES}
    here = Duck().of_rows(joined)
    source = source_of(server.url("reviewer"), practice=False)
    assert source.left_out == ()
    there = chosen(source, WantedCases())
    for question in QUESTIONS.values():
        for by in {question.by[0], question.by[-1]}:
            found = answer(question, there, by, 1)
            assert found.rows, (question.name, by)
            assert found == answer(question, here, by, 1), (question.name, by)
    assert list(figures(there, 1)) == list(figures(here, 1)) != []
    assert funnel(there, 1) == funnel(here, 1) is not None
    since = chosen(source, WantedCases(since="2031-04-01"))
    assert 0 < since["cases"].count().to_pyarrow().as_py() < 60


def test_the_tables_are_made_case_by_case_and_only_where_something_came(
    server: Postgres, files: list[Path], voicelist: Command
) -> None:
    command = ("department", "tables", "--server", server.url("maker"))
    assert voicelist(*command).out == ("8 cases put into the tables, 0 were up to date.\n")
    first = {name: held(server, name) for name in TABLES}
    assert len(first["cases"]) == 8
    assert "0 cases put into the tables, 8 were up to date." in voicelist(*command).out
    assert "8 cases put into the tables, 0 were" in voicelist(*command, "--again").out
    assert {name: held(server, name) for name in TABLES} == first
    stored(files[0], [("case-new", random_case(random.Random(1)))])
    send(server, files[0])
    review = ("review", server.url("reviewer"), "--ask", "change", "--at-least", "1")
    late = voicelist(*review)
    assert (late.code, "Review of 8 cases" in late.out) == (1, True)
    assert "Not counted: 1 case. Not in the tables yet" in late.err
    assert "1 cases put into the tables, 8 were up to date." in voicelist(*command).out
    answered = voicelist(*review)
    assert (answered.code, "Review of 9 cases" in answered.out) == (0, True)


def test_in_place_or_copied_out_the_review_is_the_same(
    server: Postgres, voicelist: Command
) -> None:
    review = ("review", server.url("reviewer"), "--at-least", "1")
    copied = voicelist(*review)
    make_tables(server.url("maker"))
    in_place = voicelist(*review)
    assert (copied.code, in_place.code) == (0, 0)
    assert copied.out == in_place.out
    rows = list(countable(cases_of(server.url("reviewer"), practice=False), left_out=[]))
    for name in TABLES:
        assert len(held(server, name)) == sum(len(one[name]) for one in rows)


def test_a_tampered_case_is_named_taken_out_and_stays_named(
    server: Postgres, voicelist: Command
) -> None:
    make_tables(server.url("maker"))
    tamper = "UPDATE voicelist_journal SET mono_ms = 5 WHERE \"case\" = 'case-1' AND seq = 7"
    as_owner(server, f"{tamper} AND theatre = 'East 1'")
    command = ("department", "tables", "--server", server.url("maker"))
    for more in (("--again",), ()):
        told = voicelist(*command, *more)
        assert told.code == 1
        assert "Not counted: case-1 of East 1. It does not verify. Event 7" in told.err
    review = voicelist("review", server.url("reviewer"), "--ask", "change", "--at-least", "1")
    assert (review.code, "Review of 7 cases" in review.out) == (1, True)
    assert "Not counted: case-1 of East 1. It does not verify. Event 7" in review.err
    assert ("East 1", "case-1") not in {row[:2] for row in held(server, "items")}


def test_a_case_without_its_first_event_is_named_and_one_that_was_erased_goes(
    server: Postgres,
) -> None:
    make_tables(server.url("maker"))
    as_owner(
        server,
        "DELETE FROM voicelist_journal WHERE \"case\" = 'case-2' AND theatre = 'East 2'",
        "DELETE FROM voicelist_journal WHERE \"case\" = 'case-3' AND seq = 1",
    )
    made = make_tables(server.url("maker"), again=True)
    assert (made.cases, made.gone) == (5, 1)
    assert [one.case for one in made.left_out] == ["case-3 of East 1", "case-3 of East 2"]
    assert len(held(server, "cases")) == 5


@pytest.mark.parametrize("login", ["reviewer", "theatre_1"])
def test_who_reviews_or_adds_makes_no_tables(
    server: Postgres, voicelist: Command, login: str
) -> None:
    told = voicelist("department", "tables", "--server", server.url(login))
    assert (told.code, "permission denied" in told.err) == (1, True)
    assert held(server, "cases") == []
    for statement in ("DELETE FROM voicelist_items", "INSERT INTO voicelist_tabled DEFAULT VALUES"):
        with server.connect(login) as asked, pytest.raises(psycopg.Error, match="denied"):
            asked.execute(statement)


def test_who_makes_the_tables_leaves_the_journal_alone(server: Postgres) -> None:
    make_tables(server.url("maker"))
    for statement in (
        "DELETE FROM voicelist_journal",
        "UPDATE voicelist_journal SET body = ''",
        "INSERT INTO voicelist_journal SELECT * FROM voicelist_journal",
        "UPDATE voicelist_items SET status = ''",
        "GRANT voicelist_tables TO reviewer",
    ):
        with server.connect("maker") as maker, pytest.raises(psycopg.Error):
            maker.execute(statement)


def test_a_theatre_reads_no_tables_and_another_version_is_a_sentence(
    server: Postgres, voicelist: Command
) -> None:
    make_tables(server.url("maker"))
    theatre = voicelist("review", server.url("theatre_1"))
    assert (theatre.code, "needs the role voicelist_reads" in theatre.err) == (1, True)
    as_owner(server, "UPDATE voicelist_tabled SET version = 99")
    later = voicelist("review", server.url("reviewer"))
    assert (later.code, "The tables of 8 cases are of another version" in later.err) == (1, True)
