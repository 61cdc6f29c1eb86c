"""Many invented cases with a seed, and what plain Python reckons of their rows."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

from tests.record.cases import opened
from tests.review.made_cases import BEGAN, Timed, entries_of, heard
from voicelist.review.projection import Rows, project
from voicelist.review.tables import TABLES
from voicelist.session.flow_records import MilestoneTold
from voicelist.session.record_base import Record
from voicelist.session.records import (
    Answered,
    AskedAgain,
    Called,
    Closed,
    Prompted,
    ReadBack,
    Said,
    SectionClosed,
    SectionOpened,
)

ITEMS = ("irrigation-line", "bottle", "priming")
ROLES = ("circulating-nurse", "surgeon")


def random_case(chance: random.Random) -> Timed:
    """A case of some items, with slips. Invented."""
    at_ms = 0
    found: list[tuple[int, Record]] = [(0, replace(opened(), theatre=chance.choice("AB")))]

    def then(ms: int, record: Record) -> None:
        nonlocal at_ms
        at_ms += ms
        found.append((at_ms, record))

    for section, items in (("lines", ITEMS), ("time-out", ("eye",))):
        then(50, SectionOpened(section))
        for item in items:
            then(chance.randint(100, 900), Called(item, "Firm or loose?"))
            then(1_500, Said("Firm or loose?", 1.5))
            _answer(chance, item, then)
        then(200, SectionClosed(section))
    if chance.random() < 0.8:
        then(5_000, MilestoneTold("incision", "incision", "incision is made"))
    then(9_000, Closed("completed"))
    return tuple(found)


def _answer(chance: random.Random, item: str, then: Callable[[int, Record], None]) -> None:
    role = chance.choice(ROLES)
    if chance.random() < 0.25:
        wording = chance.choice(("line fur", "fir line", "a fine line"))
        then(
            chance.randint(500, 4_000), replace(heard(wording, 0, 0.7, "not-understood"), role=role)
        )
        then(20, AskedAgain(item, 1, "it breaks off", "Please say that again."))
    if chance.random() < 0.2:
        then(20_000, Prompted(item, 20.0, "The line?"))
    if item == "eye" and chance.random() < 0.3:
        finding = {"rule": "plan-eye", "severity": "stop", "quantity": "eye", "heard": "right"}
        then(900, ReadBack("eye", "mismatch", "Please check again.", (finding,), {}))
    if chance.random() < 0.15:
        then(800, Answered(item, "said-fault", "line loose", role, "channel"))
    kinds = ("said-done",) * 8 + ("deferred",)
    then(chance.randint(500, 8_000), replace(heard("line firm", 0, 0.6), role=role))
    then(30, Answered(item, chance.choice(kinds), "line firm", role, "channel"))


def cases(number: int, seed: int = 7) -> list[Rows]:
    """So many, one each day."""
    chance = random.Random(seed)
    return [
        project(
            entries_of(random_case(chance), f"case-{place}", began=BEGAN + timedelta(days=place))
        )
        for place in range(number)
    ]


def rows_of(every: Iterable[Rows], table: str) -> list[dict[str, Any]]:
    """The rows of a table as dictionaries."""
    names = TABLES[table].names
    return [dict(zip(names, row, strict=True)) for one in every for row in one[table]]


def grouped(rows: Iterable[Mapping[str, Any]], *by: str) -> dict[tuple[Any, ...], list[Any]]:
    """Rows by the values of some columns, in their order."""
    found: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    for row in rows:
        found[tuple(row[name] for name in by)].append(row)
    return dict(sorted(found.items()))
