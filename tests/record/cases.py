"""Cases made of records, in an invented theatre: what a session would have kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.writer import Clocks
from voicelist.session.records import (
    Accepted,
    Answered,
    Asked,
    AskedAgain,
    Called,
    Closed,
    Corrected,
    Heard,
    Noted,
    Noticed,
    Opened,
    ReadBack,
    Record,
    Resumed,
    Said,
    SectionClosed,
    SectionOpened,
    Undone,
)

MORNING = datetime(2031, 3, 4, 8, 0, 0, 250_000, tzinfo=UTC)


def _item(item_id: str, call: str, *, stop: bool = False, by: str = "circulating-nurse") -> dict:
    return {"id": item_id, "call": call, "stop": stop, "answered by": [by]}


DOCUMENTS = {
    "format": 1,
    "checklist": {
        "id": "phaco",
        "title": "Cataract surgery by phacoemulsification",
        "sections": [
            {
                "id": "lines",
                "name": "the lines",
                "items": [
                    _item("irrigation-line", "Firm or loose: the irrigation line?", stop=True),
                    {**_item("bottle", "Full or low: the infusion bottle?"), "name": "the bottle"},
                    _item("priming", "Complete or stopped: the priming?", stop=True),
                ],
            },
            {
                "id": "settings",
                "name": "the settings",
                "items": [
                    _item("quadrant", "Settings for the quadrants, please?", by="surgeon"),
                    _item("reflux", "Found or missing: the reflux control?"),
                ],
            },
            {
                "id": "time-out",
                "name": "time out",
                "items": [
                    _item("eye", "Which eye is marked?", stop=True, by="surgeon"),
                    _item("lens-power", "Which power is on the box?", stop=True, by="scrub-nurse"),
                    _item("counts", "Complete or not: the counts?"),
                ],
            },
        ],
    },
    "card": {"id": "demo-surgeon", "grades": []},
    "plan": {
        "case": "practice-007",
        "eye": "left",
        "grade": {"scale": "clinical", "value": 3},
        "lens": {"model": "monofocal alpha", "power_D": 21.5},
        "card": "demo-surgeon",
    },
}
MODEL = {"fingerprint": "0123abcd", "note": "small English"}


def opened(source: str = "live", documents: dict | None = None) -> Opened:
    roles = ("circulating-nurse", "surgeon") if source == "live" else ()
    return Opened(source, "0.1.0", documents or DOCUMENTS, MODEL, roles)


def asked(item: str, call: str) -> tuple[Record, ...]:
    return Called(item, call), Said(call, 1.6)


def answered(item: str, answer: str, words: str, role: str = "circulating-nurse") -> list[Record]:
    heard = Heard("voice", "understood", words, f"{item}.done", role=role, role_known_by="channel")
    return [heard, Answered(item, answer, words, role, "channel")]


def profile() -> Iterator[Record]:
    """Settings in two breaths; one mismatch corrected, one accepted by the surgeon."""
    yield from asked("quadrant", "Settings for the quadrants, please?")
    first = {
        "power_percent": {"value": 40, "control": "linear"},
        "vacuum_mmHg": {"value": 500, "control": "fixed"},
    }
    yield Heard("voice", "understood", "power forty linear vacuum five hundred fixed", "quadrant")
    yield Noted("quadrant", first, "power forty linear vacuum five hundred fixed")
    vacuum = {
        "rule": "card-value",
        "severity": "ask",
        "quantity": "vacuum_mmHg",
        "heard": 500,
        "expected": 350,
        "unit": "mmHg",
        "sentence": "Vacuum is 500; the card says 350.",
    }
    yield ReadBack("quadrant", "mismatch", str(vacuum["sentence"]), (vacuum,), first)
    yield Said(str(vacuum["sentence"]), 2.4)
    later = {"value": 350, "control": "fixed"}
    yield Heard("voice", "understood", "vacuum three fifty", "quadrant")
    yield Corrected("quadrant", "vacuum_mmHg", first["vacuum_mmHg"], later)
    yield Noted("quadrant", {"vacuum_mmHg": later}, "vacuum three fifty")
    flow = {**vacuum, "quantity": "flow_cc_per_min", "heard": 40, "expected": 32, "unit": "cc/min"}
    flow["sentence"] = "Flow is 40; the card says 32."
    settings = {**first, "vacuum_mmHg": later, "flow_cc_per_min": {"value": 40, "control": ""}}
    yield Noted("quadrant", {"flow_cc_per_min": settings["flow_cc_per_min"]}, "flow forty")
    yield ReadBack("quadrant", "mismatch", str(flow["sentence"]), (flow,), settings)
    yield Accepted(
        "quadrant", "flow_cc_per_min", 40, 32, "cc/min", "dense nucleus", "surgeon", "spoken"
    )
    expected = {
        "power_percent": {"value": 40, "control": "linear", "tolerance": 5},
        "vacuum_mmHg": {"value": 350, "control": "fixed", "tolerance": 25},
        "flow_cc_per_min": {"value": 32, "control": "fixed", "tolerance": 3},
    }
    yield Answered(
        "quadrant", "value", "surgeon confirms settings", "surgeon", "channel", settings, expected
    )


def lines() -> Iterator[Record]:
    yield SectionOpened("lines")
    yield from asked("irrigation-line", "Firm or loose: the irrigation line?")
    yield from answered("irrigation-line", "said-done", "irrigation line firm")
    yield from asked("bottle", "Full or low: the infusion bottle?")
    yield from answered("bottle", "said-fault", "bottle low")
    yield Said("Reported.", 0.6)
    yield from asked("priming", "Complete or stopped: the priming?")
    yield Heard("voice", "not-for-us")
    yield Heard("voice", "not-understood", "priming com", why="it breaks off")
    yield AskedAgain("priming", 1, "it breaks off", "Please say that again.")
    yield from answered("priming", "said-done", "priming complete")
    yield from answered("bottle", "said-done", "bottle full")
    yield SectionClosed("lines")


def time_out() -> Iterator[Record]:
    yield SectionOpened("time-out")
    yield from asked("eye", "Which eye is marked?")
    finding = {"rule": "plan-eye", "severity": "stop", "quantity": "eye"}
    finding |= {"heard": "right", "expected": "left", "unit": ""}
    text = "I heard right eye. The plan differs. Please check again."
    yield Heard("voice", "understood", "right eye", "eye.value")
    yield ReadBack("eye", "mismatch", text, (finding,), {"eye": "right"})
    yield Noticed("microphone", "the microphone of the surgeon was lost for 2 s")
    yield Heard("voice", "understood", "left eye marked", "eye.value")
    yield Corrected("eye", "eye", "right", "left")
    values, expected = {"eye": "left"}, {"eye": "left"}
    yield Answered("eye", "value", "left eye marked", "surgeon", "channel", values, expected)
    yield from asked("lens-power", "Which power is on the box?")
    yield Answered(
        "lens-power",
        "value",
        "plus twenty one point five",
        "scrub-nurse",
        "spoken",
        {"power_D": 21.5},
        {"power_D": 21.5},
    )


def whole_case(source: str = "live", documents: dict | None = None) -> tuple[Record, ...]:
    """A case with everything that a report has to tell, closed as stopped."""
    return (
        opened(source, documents),
        *lines(),
        SectionOpened("settings"),
        *profile(),
        *asked("reflux", "Found or missing: the reflux control?"),
        Asked("command.why_asked", ""),
        *answered("reflux", "said-done", "reflux control found"),
        Undone("reflux", "said-done"),
        *asked("reflux", "Found or missing: the reflux control?"),
        *answered("reflux", "deferred", "leave it for later"),
        *time_out(),
        Closed("stopped", "the sound is over"),
        Said("Ended unfinished. The record is kept.", 2.1),
    )


def resumed(source: str = "live") -> tuple[Record, ...]:
    """A second start of the program on the same case."""
    return (
        Resumed(source, "0.1.1", MODEL),
        *asked("reflux", "Found or missing: the reflux control?"),
        *answered("reflux", "said-done", "reflux control found"),
        Closed("completed"),
    )


class SteppedClocks:
    """Clocks that go on by `step_s` at every look, from a morning in 2031."""

    def __init__(self, step_s: float = 1.5) -> None:
        self.now = MORNING
        self.ns = 5_000_000_000
        self._step_s = step_s

    def utc_now(self) -> datetime:
        self.now += timedelta(seconds=self._step_s)
        return self.now

    def monotonic_ns(self) -> int:
        self.ns += int(self._step_s * 1e9)
        return self.ns

    def clocks(self) -> Clocks:
        return Clocks(self.utc_now, self.monotonic_ns)


def stepped_store(file: Path) -> Store:
    return Store(f"sqlite:///{file}", clocks=SteppedClocks().clocks())


def keep(store: Store, case: str, records: Iterable[Record]) -> tuple[Entry, ...]:
    """The entries of a new case made of `records`."""
    with store.open_case(case) as writer:
        for record in records:
            writer.append(record)
    return store.entries(case)


def keep_on(store: Store, case: str, records: Iterable[Record]) -> tuple[Entry, ...]:
    """The entries of a case that was resumed and went on with `records`."""
    with store.resume(case) as writer:
        for record in records:
            writer.append(record)
    return store.entries(case)
