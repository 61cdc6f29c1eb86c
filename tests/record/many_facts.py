"""A case with everything that a record can tell, for what every format has to say alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cases import DOCUMENTS, answered, asked, keep, lines, opened, profile

from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.session.flow_records import MilestoneTold, SectionAsked
from voicelist.session.records import (
    Answered,
    ClockChanged,
    Closed,
    Noticed,
    ReadBack,
    Record,
    SectionOpened,
    Undone,
)
from voicelist.session.team_records import (
    Amended,
    EquipmentChanged,
    HandedOver,
    PlanChanged,
    PresenceChanged,
)

OFFSET_MIN = 330  # half an hour beside the full one, so that no hour is right by chance
_PAPER = {"id": "label", "call": "Kept or missing: the lens label?", "answered by": ["scrub-nurse"]}
_FIRST = {
    "id": "first",
    "name": "first case alone",
    "when": "first case of the day",
    "items": [
        {
            "id": "machine",
            "call": "On or off: the machine?",
            "stop": True,
            "answered by": ["surgeon"],
        }
    ],
}
_AIDS = {
    "id": "wound",
    "name": "wound list",
    "goes back": True,
    "items": [{"id": "leak", "call": "Tight or leaking: the wound?", "answered by": ["surgeon"]}],
}
_SIGN_OUT = {"id": "sign-out", "name": "sign out", "begins": "when asked", "items": [_PAPER]}


def documents() -> dict:
    """The invented list, with what is due at times only, and a plan that is no first case."""
    checklist, plan = DOCUMENTS["checklist"], DOCUMENTS["plan"]
    sections = [_FIRST, *checklist["sections"], _SIGN_OUT, _AIDS]
    plan = {**plan, "first of the day": False, "incision": {"main_deg": 0, "side_port_deg": 270}}
    return {**DOCUMENTS, "checklist": {**checklist, "sections": sections}, "plan": plan}


def rich_records() -> Iterator[Record]:
    """A case that was changed, interrupted and stopped."""
    yield replace(opened("live", documents()), utc_offset_min=OFFSET_MIN, sound_kept=True)
    yield from lines()
    yield PresenceChanged("anaesthesia", False, "anaesthesia is away today", "surgeon", "spoken")
    roles = (
        {"role": "surgeon", "role_known_by": "spoken"},
        {"role": "team-lead", "role_known_by": ""},
    )
    yield PlanChanged("lens-power", 21.5, 22.0, "the biometry printout", roles, ("lens-power",))
    yield PlanChanged("eye", "left", "right", "the consent form", roles)
    yield EquipmentChanged("equipment was changed now", ("priming",))
    yield ClockChanged("back", 3600.0)
    yield from profile()
    yield from answered("reflux", "said-done", "reflux control found")
    yield Undone("reflux", "said-done")
    yield from asked("reflux", "Found or missing: the reflux control?")
    yield from answered("reflux", "said-fault", "reflux control missing")
    yield SectionOpened("time-out")
    yield from asked("eye", "Which eye is marked?")
    finding = {"rule": "plan-eye", "severity": "stop", "quantity": "eye", "heard": "left"}
    finding |= {"expected": "right", "unit": "", "source": "project choice"}
    yield ReadBack("eye", "mismatch", "Please read the mark again.", (finding,), {"eye": "left"})
    yield Noticed("microphone", "the microphone of the surgeon was lost for 2 s")
    yield HandedOver("circulating-nurse", ("reflux",), ("eye",), 3)
    yield from answered("counts", "deferred", "leave it for later")
    yield Answered("lens-power", "not-applicable", "no lens planned", "surgeon", "spoken")
    yield MilestoneTold("incision", "incision", "incision is made", "surgeon", "spoken")
    yield SectionAsked("sign-out", "ready for sign out", "surgeon", "spoken")
    yield Closed("stopped", "the sound was lost")


LATE = (
    Amended("lens label kept", "from paper", "scrub-nurse", "label", "14:05", OFFSET_MIN),
    Amended("the label was found", "found afterwards", "team-lead", "", "", OFFSET_MIN),
)


def rich_case(store: Store, case: str = "case-77") -> tuple[Entry, ...]:
    """The entries of the case, with what was entered after its end."""
    keep(store, case, rich_records())
    with store.amend(case) as writer:
        for one in LATE:
            writer.append(one)
    return store.entries(case)
