"""Invented cases by the thousand, as tables: a pool of cases that the simulated team held, taken
again and again with a seed under other codes, days, theatres and paces.

Every row says that it is invented. The times are made up altogether; nothing of a theatre can be
learned from them.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from tests.team.simulated import Simulation
from voicelist.record.journal import Entry, chain, timestamp
from voicelist.review import parquet
from voicelist.review.projection import INVENTED, days_of, project
from voicelist.review.tables import TABLES, Row
from voicelist.review.written import arrow_table
from voicelist.session.record_base import Record
from voicelist.session.records import Called, Heard, Opened, Prompted, ReadBack, Said

BEGAN = datetime(2030, 1, 7, 8, 0, tzinfo=UTC)
THEATRES = tuple(f"Invented {number}" for number in range(1, 6))
# Case lengths differ by this factor and its inverse, evenly on a scale of ratios. Invented.
_PACE = 1.6
_SCALED = frozenset(
    {"duration_s", "time_out_s", "call_to_answer_s", "wait_s", "held_s", "to_outcome_s", "lasted_s"}
)


def held_case(seed: int) -> tuple[Entry, ...]:
    """One case of the simulated team as a journal, with invented times."""
    simulation = Simulation(seed)
    room = simulation.run()
    first = Opened("typed", "0.1.0", room.case.bundle.to_json(), None)
    chance = random.Random(seed)
    entries: list[Entry] = []
    mono_ms = 0
    for record in _spoken([first, *room.records]):
        mono_ms += _pause_ms(record, chance)
        entries.append(
            chain(
                entries[-1] if entries else None,
                case=f"invented-{seed}",
                at=timestamp(BEGAN + timedelta(milliseconds=mono_ms)),
                run="0" * 16,
                mono_ms=mono_ms,
                kind=record.kind,
                body=record.body(),
            )
        )
    return tuple(entries)


def _spoken(records: list[Record]) -> Iterator[Record]:
    """What is called and read back is spoken, too."""
    for record in records:
        yield record
        if isinstance(record, Called | ReadBack):
            yield Said(record.text, round(0.35 * len(record.text.split()), 2))


def _pause_ms(record: Record, chance: random.Random) -> int:
    """How long before an event. Invented: a person answers within some seconds."""
    match record:
        case Said():
            return round(1000 * record.seconds)
        case Heard():
            return round(1000 * chance.lognormvariate(0.7, 0.6))
        case Prompted():
            return round(1000 * record.after_s)
        case _ if record.kind == "milestone":
            return round(1000 * chance.uniform(60, 400))
    return 20


@dataclass(frozen=True, slots=True)
class Pool:
    """Cases that were held, as tables; `number` of them."""

    tables: Mapping[str, pa.Table]
    number: int


def kept_pool(folder: Path, number: int = 24) -> Pool:
    """The pool as it lies in a folder. Where it does not, it is held first: some seconds a case."""
    paths = {name: folder / f"pool-{number}-{name}.parquet" for name in TABLES}
    if not all(path.is_file() for path in paths.values()):
        folder.mkdir(parents=True, exist_ok=True)
        for name, table in pool(number).tables.items():
            pq.write_table(table, paths[name])
    return Pool({name: pq.read_table(path) for name, path in paths.items()}, number)


def pool(number: int) -> Pool:
    """Holds so many cases; their codes are replaced by their places."""
    rows: dict[str, list[Row]] = {name: [] for name in TABLES}
    for place in range(number):
        for name, some in project(held_case(place), INVENTED).items():
            code = TABLES[name].names.index("case")
            rows[name] += [(*row[:code], str(place), *row[code + 1 :]) for row in some]
    return Pool({name: arrow_table(TABLES[name], some) for name, some in rows.items()}, number)


def write(folder: Path, cases: int, held: Pool, seed: int = 1) -> None:
    """So many invented cases as a folder of tables, spread over weekdays, by month and theatre."""
    connection = duckdb.connect(
        config={"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
    )
    connection.execute("SET TimeZone = 'UTC'")
    for name, table in held.tables.items():
        connection.register(f"pool_{name}", table)
    for (month, theatre), drawn in _drawn(cases, seed, held.number):
        connection.register("drawn", drawn)
        digest = hashlib.sha256(f"{seed} {cases} {month} {theatre}".encode()).hexdigest()[:16]
        tables = {name: connection.execute(_query(name)).to_arrow_table() for name in TABLES}
        parquet.write_parts(folder, digest, month, theatre, tables)


def _drawn(cases: int, seed: int, of: int) -> Iterator[tuple[tuple[str, str], pa.Table]]:
    """Which case of the pool each invented one is, by month and theatre."""
    chance = np.random.default_rng(seed)
    places = chance.integers(0, of, cases)
    theatres = chance.integers(0, len(THEATRES), cases)
    paces = np.exp(chance.uniform(-np.log(_PACE), np.log(_PACE), cases))
    # Ten thousand cases a year, on five days a week; of more than ten years of them as many more.
    days = np.arange(cases) * 260 // max(10_000, cases // 10)
    dates = [
        BEGAN.date() + timedelta(days=int(one // 5 * 7 + one % 5)) for one in range(days[-1] + 1)
    ]
    months = np.array([f"{one:%Y-%m}" for one in dates])[days]
    for month in dict.fromkeys(months.tolist()):
        for number, theatre in enumerate(THEATRES):
            these = np.flatnonzero((months == month) & (theatres == number))
            if these.size:
                yield (month, theatre), _draw(these, places, paces, days, dates, theatre)


def _draw(
    these: Any, places: Any, paces: Any, days: Any, dates: list[date], theatre: str
) -> pa.Table:
    calendar = [days_of(dates[int(days[one])].isoformat()) for one in these]
    codes = [f"invented-{one}" for one in these.tolist()]
    return pa.table(
        {
            "place": [str(one) for one in places[these].tolist()],
            "pace": paces[these],
            "shift_d": [(dates[int(days[one])] - BEGAN.date()).days for one in these],
            "new_case": codes,
            "new_head": [hashlib.sha256(one.encode()).hexdigest() for one in codes],
            "new_theatre": [theatre] * len(codes),
            **{f"new_{name}": [one[name] for one in calendar] for name in ("month", "week", "day")},
        }
    )


def _query(table: str) -> str:
    """The rows of the pool that were drawn, under their new codes."""
    cells = []
    for column in TABLES[table].columns:
        name = f'pool."{column.name}"'
        if column.name in {"case", "head", "theatre", "month", "week", "day"}:
            cells.append(f'drawn.new_{column.name} AS "{column.name}"')
        elif column.kind == "time":
            cells.append(f'({name} + to_days(drawn.shift_d::INTEGER)) AS "{column.name}"')
        elif column.name in _SCALED:
            cells.append(f'round({name} * drawn.pace, 3) AS "{column.name}"')
        else:
            cells.append(f'{name} AS "{column.name}"')
    return (
        f'SELECT {", ".join(cells)} FROM drawn JOIN pool_{table} AS pool ON pool."case" = place '
        "ORDER BY new_case, pool.seq"
    )
