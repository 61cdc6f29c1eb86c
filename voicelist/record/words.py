"""How a record reads on paper: it says `said` and `heard`, never `done` as a fact."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import voicelist
from voicelist.session import state as st

CAUTION = (
    f"{voicelist.CAUTION} A complete checklist is no proof that a step was done; "
    "this says what was said and heard."
)
PRACTICE_BANNER = "PRACTICE - not a patient record"
DAMAGED_BANNER = "THIS RECORD DOES NOT VERIFY"
CHAIN_NOTE = (
    "Whoever keeps this hash outside the record can notice any later change, deletion or cutting "
    "short of the journal: voicelist record verify. It does not prove that the clock was right."
)

STATUS: Mapping[str, str] = {
    st.SAID_DONE: "said done",
    st.SAID_FAULT: "reported not right",
    st.VALUE: "value said",
    st.STATED: "stated aloud, not recorded",
    st.DEFERRED: "left for later",
    st.NOT_APPLICABLE: "said not applicable",
    st.WAITING: "called, still waiting",
    st.CALLED: "called, no answer",
    st.NOT_ASKED: "not asked",
}
OUTCOME: Mapping[str, str] = {
    "open": "not settled",
    "accepted": "accepted",
    "corrected": "said anew",
    "settled": "answered later",
    "undone": "taken back",
}
KNOWN_BY: Mapping[str, str] = {
    "channel": "by channel",
    "spoken": "as spoken, not verified",
    "typed": "typed",
    "": "",
}
FOOTNOTE = (
    "Called: when the item was called first. Answered: when the answer that stands was kept. "
    "After: seconds from the last call of the item to that answer; a dash where it did not follow "
    "a call of its own in the same start of the program."
)
_UNITS = {
    "cc_per_min": " cc/min",
    "per_s": "/s",
    "percent": "%",
    "mmHg": " mmHg",
    "deg": "°",
    "cm": " cm",
    "ms": " ms",
    "D": " D",
    "s": " s",
}


def named(quantity: str) -> tuple[str, str]:
    """The name of a quantity and its unit: vacuum_mmHg is ("vacuum", " mmHg")."""
    for suffix, unit in _UNITS.items():
        if quantity.endswith(f"_{suffix}"):
            return quantity.removesuffix(f"_{suffix}").replace("_", " "), unit
    return quantity.replace("_", " "), ""


def value_words(quantity: str, value: Any) -> str:
    """A value with its unit: "350 mmHg fixed", "+21.5 D", "clinical 3"; "" for None."""
    if value is None:
        return ""
    if isinstance(value, Mapping):
        return _setting_words(quantity, value) if "value" in value else quantities_words(value)
    if isinstance(value, list | tuple):
        return ", ".join(value_words(quantity, one) for one in value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return _number_words(quantity, value) + named(quantity)[1]


def _number_words(quantity: str, value: float) -> str:
    return f"{value:{'+' if quantity.endswith('_D') else '-'}.12g}"


def _setting_words(quantity: str, setting: Mapping[str, Any]) -> str:
    """A grade with its scale, or a setting with its tolerance and control."""
    value, tolerance = setting["value"], setting.get("tolerance")
    number = value_words(quantity, value)
    if isinstance(value, int | float) and isinstance(tolerance, int | float):
        both = f"{_number_words(quantity, value)} \N{PLUS-MINUS SIGN} {tolerance:.12g}"
        number = both + named(quantity)[1]
    if isinstance(setting.get("minimum"), int | float):
        number = f"{_number_words(quantity, setting['minimum'])} to {number}"
    # Records of version 0.1.0 may have a rate that was called a count.
    counted = "(said as a count)" if setting.get("counted") else None
    parts = (setting.get("scale"), number, setting.get("control"), counted)
    return " ".join(str(part) for part in parts if part)


def quantity_words(quantity: str, value: Any) -> str:
    """Name and value: "vacuum 350 mmHg"."""
    return f"{named(quantity)[0]} {value_words(quantity, value)}".strip()


def quantities_words(values: Mapping[str, Any]) -> str:
    """Several of them, with commas."""
    return ", ".join(quantity_words(name, value) for name, value in values.items())


def role_words(role: str, known_by: str) -> str:
    """ "surgeon (by channel)"; "role not known" if nobody said."""
    how = KNOWN_BY.get(known_by, known_by)
    name = role.replace("-", " ") or "role not known"
    return f"{name} ({how})" if role and how else name


def clock_words(seconds: float) -> str:
    """Minutes and seconds: "1:07.4"."""
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths % 600 // 10:02d}.{tenths % 10}"


def seconds_words(seconds: float | None) -> str:
    """ "1.4 s"; a long dash where it is not known."""
    return "\N{EN DASH}" if seconds is None else f"{seconds:.1f} s"


def hash_words(head: str) -> str:
    """A hash in groups of eight, as people compare it; verification takes it with its spaces."""
    return " ".join(head[place : place + 8] for place in range(0, len(head), 8))
