"""Cases with times of their own choosing: each event with its millisecond. Invented."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.record.cases import DOCUMENTS, opened
from voicelist.record.journal import Entry, chain, timestamp
from voicelist.record.store import Store
from voicelist.record.writer import Clocks
from voicelist.session.flow_records import MilestoneTold, UnderWay
from voicelist.session.record_base import Record
from voicelist.session.records import (
    Answered,
    AskedAgain,
    Called,
    Closed,
    Heard,
    Prompted,
    ReadBack,
    Said,
    SectionClosed,
    SectionOpened,
)

BEGAN = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
DAY = timedelta(days=1)
Timed = Sequence[tuple[int, Record]]


def entries_of(
    timed: Timed, case: str = "case-12", run: str = "a" * 16, began: datetime = BEGAN
) -> tuple[Entry, ...]:
    """A chain of these events; the number before each is its time in milliseconds."""
    found: list[Entry] = []
    for mono_ms, record in timed:
        found.append(
            chain(
                found[-1] if found else None,
                case=case,
                at=timestamp(began + timedelta(milliseconds=mono_ms)),
                run=run,
                mono_ms=mono_ms,
                kind=record.kind,
                body=record.body(),
            )
        )
    return tuple(found)


def heard(words: str, start_s: float, end_s: float, status: str = "understood") -> Heard:
    decided_s = end_s + 0.3
    times = {"start_s": start_s, "end_s": end_s, "decided_s": decided_s}
    return Heard("voice", status, words, channel=0, role="circulating-nurse", **times)


def morning(theatre: str = "East 1") -> Timed:
    """Two lines are asked, one of them twice; an eye is read back; the incision is told."""
    begin = replace(opened(), theatre=theatre)
    eye = {"rule": "plan-eye", "severity": "stop", "quantity": "eye", "heard": "right"}
    eye |= {"expected": "left", "unit": ""}
    return (
        (0, begin),
        (100, SectionOpened("lines")),
        (1_000, Called("irrigation-line", "Firm or loose: the irrigation line?")),
        (3_000, Said("Firm or loose: the irrigation line?", 2.0)),
        (4_800, heard("", 3.5, 4.5, "not-for-us")),
        (6_500, heard("irrigation fur", 5.5, 6.2, "not-understood")),
        (6_600, AskedAgain("irrigation-line", 1, "it breaks off", "Please say that again.")),
        (9_000, heard("irrigation line firm", 8.0, 8.7)),
        (9_100, Answered("irrigation-line", "said-done", "irrigation line firm")),
        (10_000, Called("bottle", "Full or low: the infusion bottle?")),
        (11_500, Said("Full or low: the infusion bottle?", 1.5)),
        (31_500, Prompted("bottle", 20.0, "The infusion bottle?")),
        (33_000, Answered("bottle", "deferred", "later")),
        (34_000, SectionClosed("lines")),
        (40_000, SectionOpened("time-out")),
        (40_500, Called("eye", "Which eye is marked?")),
        (41_500, Said("Which eye is marked?", 1.0)),
        (43_000, ReadBack("eye", "mismatch", "Please check again.", (eye,), {"eye": "right"})),
        (
            47_500,
            Answered("eye", "value", "left eye marked", "surgeon", "channel", {"eye": "left"}),
        ),
        (52_000, SectionClosed("time-out")),
        (52_100, UnderWay("Quiet now.")),
        (90_000, MilestoneTold("incision", "incision", "incision is made", "surgeon", "channel")),
        (95_000, Answered("counts", "said-done", "counts complete")),
        (99_000, Closed("completed")),
    )


def stored(file: Path, cases: Iterable[tuple[str, Timed]], *, practice: bool = False) -> Store:
    """A store that holds these cases, each a day after the one before."""
    at = [BEGAN]
    clocks = Clocks(lambda: at[0], lambda: 0, lambda: 0)
    store = Store(f"sqlite:///{file}", practice, clocks=clocks)
    for code, timed in cases:
        with store.open_case(code) as writer:
            for _, record in timed:
                writer.append(record)
        at[0] += DAY
    return store


__all__ = ["DOCUMENTS"]
