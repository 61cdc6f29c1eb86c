"""The same questions on DuckDB, on PostgreSQL in place and on Spark: are the answers the same?

    python tests/soak/review_engines.py                  # 10,000 invented cases
    python tests/soak/review_engines.py --cases 100000   # an idle afternoon
    python tests/soak/review_engines.py --reduced        # 200 small cases, without Spark

Every question is asked, and the weeks and theatres of the charts. Each count, each name and each
time to the millisecond has to be the same. Exit code 1 if one is not. An engine that is not
installed here is named and left out: PostgreSQL, and Spark in local mode (the extra `spark` and a
Java 17). `--keep FOLDER` keeps the tables that were made, and uses those that are there.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import duckdb
import ibis
import psycopg

from tests.department.postgres import Postgres, programs, running
from tests.review.many_cases import cases as many_cases
from voicelist.department.server import install
from voicelist.review import parquet
from voicelist.review.asking import answer
from voicelist.review.duck import Duck
from voicelist.review.engine import source_of
from voicelist.review.questions import KEY, QUESTIONS
from voicelist.review.series import figures, funnel
from voicelist.review.tables import TABLES, VERSION

AT_LEAST = 10
Answers = Mapping[str, object]


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n\n")[0])
    parser.add_argument("--reduced", action="store_true")
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--keep", type=Path, help="a folder for what is made")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as away:
        folder = made(
            asked.keep or Path(away), 200 if asked.reduced else asked.cases, asked.reduced
        )
        files = parquet.parts(folder)
        rows = sum(one.rows for one in parquet.listed(folder))
        print(f"{rows:,} rows, load {os.getloadavg()[0]:.1f}")
        expected = timed("DuckDB", lambda: answers(Duck().of_files(files)))
        found = {}
        if programs() is None:
            print("No PostgreSQL server is installed here: left out.")
        else:
            found["PostgreSQL"] = on_postgres(files, Path(away))
        if asked.reduced or not spark_is_here():
            print("Spark is left out.")
        else:
            found["Spark"] = on_spark(files)
    amiss = [
        f"{engine} answers {name} otherwise: {first_difference(theirs[name], ours)}"
        for engine, theirs in found.items()
        for name, ours in expected.items()
        if theirs[name] != ours
    ]
    for one in amiss:
        print(f"Amiss: {one}")
    engines = " and ".join(found) or "no other engine"
    print(
        f"DuckDB and {engines}: {'not the same' if amiss else 'the same'} ({len(expected)} asked)."
    )
    return 1 if amiss else 0


def spark_is_here() -> bool:
    return importlib.util.find_spec("pyspark") is not None and shutil.which("java") is not None


def made(folder: Path, number: int, small: bool) -> Path:
    """A folder of tables with so many cases."""
    target = folder / f"{'small' if small else 'cases'}-{number}"
    if parquet.is_folder_of_ours(target):
        return target
    if small:
        parquet.add(target, many_cases(number))
    else:
        from tests.team.invented import kept_pool, write

        write(target, number, kept_pool(folder / "pool"))
    return target


def answers(tables: Mapping[str, Any]) -> Answers:
    """Everything that a page is made of."""
    found: dict[str, object] = {
        one.name: answer(one, tables, at_least=AT_LEAST).rows for one in QUESTIONS.values()
    }
    found["charts"] = tuple(figures(tables, AT_LEAST))
    found["funnel"] = funnel(tables, AT_LEAST)
    return found


def first_difference(theirs: object, ours: object) -> str:
    if isinstance(theirs, tuple) and isinstance(ours, tuple) and len(theirs) == len(ours):
        one, other = next(pair for pair in zip(theirs, ours, strict=True) if pair[0] != pair[1])
        return f"{one} and {other}"
    return f"{theirs!s:.300} and {ours!s:.300}"


def timed(what: str, do: Callable[[], Answers]) -> Answers:
    began_s, before = time.perf_counter(), time.process_time()
    found = do()
    peak_MB = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(
        f"{what}: {time.perf_counter() - began_s:.1f} s, of this process {peak_MB:.0f} MB at most "
        f"and {time.process_time() - before:.1f} s of the processor",
        flush=True,
    )
    return found


def on_postgres(files: parquet.Files, folder: Path) -> Answers:
    """Loaded by the login that makes the tables, asked by a reviewer."""
    with running() as server:
        install(server.url("owner"))
        with server.connect() as owner:
            owner.execute("GRANT voicelist_reads TO reviewer")
            owner.execute("CREATE ROLE maker LOGIN IN ROLE voicelist_tables")
        began_s = time.perf_counter()
        load(server, files, folder)
        with server.connect() as owner:
            owner.execute("ANALYZE")
        print(f"PostgreSQL: loaded in {time.perf_counter() - began_s:.1f} s", flush=True)
        source = source_of(server.url("reviewer"), practice=False)
        found = timed("PostgreSQL", lambda: answers(source.tables))
        source.engine.close()
    return found


def load(server: Postgres, files: parquet.Files, folder: Path) -> None:
    """The rows as they are, each case with a number."""
    duck = duckdb.connect()
    duck.execute("SET TimeZone = 'UTC'")
    paths = {name: [str(path) for path in some] for name, some in files.items()}
    duck.execute(
        'CREATE TABLE numbers AS SELECT row_number() OVER (ORDER BY theatre, "case") AS key, '
        'theatre, "case", head FROM read_parquet($1, hive_partitioning = false)',
        [paths["cases"]],
    )
    with psycopg.connect(server.url("maker")) as maker:
        held = f"SELECT key, theatre, \"case\", head, {VERSION}, '' FROM numbers"
        copy(duck, maker, held, (), 'tabled (key, theatre, "case", head, version, problem)', folder)
        for name, table in TABLES.items():
            columns = ", ".join(f'"{one}"' for one in table.names)
            of_rows = ", ".join(f'rows."{one}"' for one in table.names)
            query = (
                f"SELECT key, {of_rows} "
                "FROM read_parquet($1, hive_partitioning = false) AS rows JOIN numbers USING (head)"
            )
            if paths[name]:
                copy(duck, maker, query, (paths[name],), f"{name} (key, {columns})", folder)


def copy(
    duck: Any, maker: Any, query: str, values: tuple[Any, ...], into: str, folder: Path
) -> None:
    sheet = folder / "rows.csv"
    told = "(FORMAT csv, HEADER false, NULLSTR '\\N')"
    duck.execute(f"COPY ({query}) TO '{sheet}' {told}", list(values))
    command = f"COPY voicelist_{into} FROM STDIN (FORMAT csv, NULL '\\N')"
    with sheet.open("rb") as file, maker.cursor().copy(command) as target:
        while some := file.read(1 << 20):
            target.write(some)
    sheet.unlink()


def on_spark(files: parquet.Files) -> Answers:
    """In local mode: this computer alone, no page of its own."""
    with spark() as session:
        database = ibis.pyspark.connect(session)
        tables = {}
        for name, some in files.items():
            session.read.parquet(*map(str, some)).createOrReplaceTempView(name)
            table = database.table(name)
            tables[name] = table.mutate(**{KEY: table["head"]})
        return timed("Spark", lambda: answers(tables))


@contextmanager
def spark() -> Iterator[Any]:
    from pyspark.sql import SparkSession

    os.environ["SPARK_LOCAL_IP"] = "127.0.0.1"
    session = (
        SparkSession.builder.master("local[2]")
        .appName("voicelist-review")
        .config("spark.ui.enabled", "false")
        .config("spark.ui.showConsoleProgress", "false")
        .config("spark.driver.host", "127.0.0.1")
        .config("spark.driver.bindAddress", "127.0.0.1")
        .config("spark.driver.memory", "4g")
        .config("spark.sql.session.timeZone", "UTC")
        .config("spark.sql.shuffle.partitions", "4")
        .getOrCreate()
    )
    session.sparkContext.setLogLevel("ERROR")
    try:
        yield session
    finally:
        session.stop()


if __name__ == "__main__":
    sys.exit(main())
