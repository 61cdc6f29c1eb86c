"""A sheet to be filled in by hand: boxes to tick, and a place for value, time and role."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from voicelist.documents.bundle import load_bundle
from voicelist.record.journal import Entry, canonical
from voicelist.record.times import both_words
from voicelist.record.view import CaseView, ItemView, case_view
from voicelist.record.words import CAUTION, STATUS, hash_words, role_words
from voicelist.session import state as st
from voicelist.typeset import typeset

Json = dict[str, Any]
# A plan has no date of its own, and a sheet of it is the same on every day.
_NO_DATE = "2000-01-01T00:00:00Z"
_FOOT = "An aid to memory and record keeping, not a medical device."
_NOTE = (
    "Tick what was said, write down what was read, when, and in which role; no names. A stop item "
    "cannot be left for later. Read eye, lens and identity from where the item says, never from "
    "another sheet. Afterwards each line is entered late, with the time written here."
)
_EVERY = "every case"


def plan_sheet(plan: Path) -> bytes:
    """The whole list of a plan, for a case without a computer. Raises DocumentError."""
    bundle = load_bundle(plan)
    documents = bundle.to_json()
    checklist = documents["checklist"]
    sections = [
        _section(one, one["items"], {})
        for one in sorted(checklist["sections"], key=lambda one: bool(one.get("goes back")))
    ]
    head = "The whole list, for a case without a computer"
    return _sheet(checklist, bundle.plan.case, head, "", sections, _NO_DATE)


def case_sheet(entries: Sequence[Entry], amiss: Sequence[str] = ()) -> bytes:
    """What is still open in a case, as its record has it. Raises RecordError."""
    view = case_view(entries, amiss)
    checklist = entries[0].body["documents"]["checklist"]
    still = {item.id: item for item in view.items if _is_open(item)}
    sections = []
    for one in checklist["sections"]:
        items = [item for item in one["items"] if str(item["id"]) in still]
        if items:
            sections.append(_section(one, items, still))
    return _sheet(checklist, view.case, _case_words(view), view.banner, sections, view.last_at)


def _is_open(item: ItemView) -> bool:
    if item.status == st.NOT_ASKED:
        return item.due
    return item.status not in st.SETTLED


def _case_words(view: CaseView) -> str:
    last = both_words(view.last_at, view.last_local)
    return (
        f"What is still open, by the record up to event {view.events}, {last}; head "
        f"{hash_words(view.head)}"
    )


def _sheet(
    checklist: Mapping[str, Any],
    case: str,
    head: str,
    banner: str,
    sections: Sequence[Json],
    at: str,
) -> bytes:
    title = str(checklist.get("title") or checklist.get("id", ""))
    asked = any(row["asks_case"] for section in sections for row in section["rows"])
    data = {
        "title": f"{case}, {title}, on paper",
        "case": case,
        # Where the number has to be read from the list or the wristband, it does not stand above.
        "case_above": not asked,
        "checklist": title,
        "head": head,
        "banner": banner,
        "caution": CAUTION,
        "foot": _FOOT,
        "note": _NOTE,
        "command": f'voicelist record amend {case} "WHAT WAS SAID" --item ITEM --role ROLE '
        "--paper-time HH:MM "
        '--reason "WHY IT IS ENTERED LATE"',
        "sections": sections,
    }
    # Loose pages of one sheet are told by this, not by the case, whose number may have to be read.
    number = sha256(canonical(data)).hexdigest()[:8]
    return typeset("voicelist.paper", "sheet.typ", {**data, "sheet": number}, at)


def _section(
    section: Mapping[str, Any], items: Sequence[Mapping[str, Any]], still: Mapping[str, ItemView]
) -> Json:
    name = str(section.get("name") or section["id"])
    short_list = bool(section.get("goes back"))
    when = "a short list, when it is needed" if short_list else _applies(section)
    return {
        "name": name[:1].upper() + name[1:],
        "when": when,
        "rows": [_row(one, still.get(str(one["id"]))) for one in items],
    }


def _applies(part: Mapping[str, Any]) -> str:
    when = str(part.get("when") or _EVERY)
    return "" if when == _EVERY else f"applies to: {when}"


def _row(item: Mapping[str, Any], now: ItemView | None) -> Json:
    roles = [role_words(str(one), "") for one in item.get("answered by") or ()]
    joined = " and " if item.get("each role") else ", "
    return {
        "name": str(item.get("name") or str(item["id"]).replace("-", " ")),
        "id": str(item["id"]),
        "call": str(item.get("call", "")),
        "stop": bool(item.get("stop")),
        "asks_case": item.get("compare") == "case-number",
        "notes": list(_notes(item, now)),
        "roles": joined.join(roles),
        "lines": len(roles) if item.get("each role") else 1,
        # A value is written down: there is no box by which it could be passed unread.
        "tick": not item.get("value"),
    }


def _notes(item: Mapping[str, Any], now: ItemView | None) -> Iterator[str]:
    """What helps, and never what is expected."""
    if item.get("read from"):
        yield f"read it from: {item['read from']}"
    if item.get("why"):
        yield str(item["why"])
    applies = _applies(item)
    if applies:
        yield applies
    if now is not None and now.status != st.NOT_ASKED:
        yield f"in the record: {STATUS[now.status]}"
