"""The events of one item, with the hashes that prove that a record of a known tree head has them.

Whoever gets such a proof sees these events alone. It proves that they are in the record, not that
there is nothing else about the item in it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from voicelist.errors import RecordError, UsageError
from voicelist.record.journal import Entry, entry_of, hash_of, is_hash
from voicelist.record.tree import path_to, root_by_path, root_of
from voicelist.record.verify import checked_head

_KIND = "inclusion proof of voicelist"
_FIELDS = {"kind", "format", "case", "item", "tree_size", "tree_head", "events"}


@dataclass(frozen=True, slots=True)
class ProofVerdict:
    """What the check of a proof found; `end_verified` is whether its tree head was compared with
    one from outside, without which it proves nothing."""

    problems: tuple[str, ...]
    events: int
    item: str
    case: str
    tree_head: str
    end_verified: bool
    since: str = ""

    @property
    def ok(self) -> bool:
        return not self.problems

    @property
    def words(self) -> str:
        """The verdict in one line."""
        held = "" if self.end_verified else "; TREE HEAD NOT VERIFIED (give --head)"
        return (
            f"{'verifies' if self.ok else 'DOES NOT VERIFY'}{held}; {self.events} events of the "
            f"item {self.item} in the case {self.case}; tree head {self.tree_head}"
        )


def proof_of(entries: Sequence[Entry], item: str) -> bytes:
    """The proof for all events about an item, as JSON. Raises UsageError if there are none."""
    lines = [entry.line() for entry in entries]
    events = [
        {"entry": entry.fields(), "path": list(path_to(lines, place))}
        for place, entry in enumerate(entries)
        if entry.body.get("item") == item
    ]
    if not events:
        raise UsageError(
            f"No event of {entries[0].case} is about the item {item}: voicelist record export "
            "--format json shows the items and their names."
        )
    document = {
        "kind": _KIND,
        "format": 1,
        "case": entries[0].case,
        "item": item,
        "tree_size": len(lines),
        "tree_head": root_of(lines),
        "events": events,
    }
    return f"{json.dumps(document, ensure_ascii=False, indent=1)}\n".encode()


def is_proof(data: bytes) -> bool:
    """Whether a file says that it is such a proof."""
    return data[:80].replace(b" ", b"").startswith(b'{\n"kind":"inclusionproof')


def check_proof(data: bytes, head: str | None) -> ProofVerdict:
    """Works every path out again. Raises RecordError for what is no proof, UsageError for a `head`
    that is no hash."""
    wanted = checked_head(head) if head is not None else None
    document = _document(data)
    case, item, tree_head = (str(document[name]) for name in ("case", "item", "tree_head"))
    problems = [*_event_problems(document)]
    if wanted is not None and wanted != tree_head:
        problems.append(
            "It belongs to another tree head than the one given. Give the tree head, not the head, "
            "and the one of the time when the proof was made."
        )
    return ProofVerdict(
        tuple(problems), len(document["events"]), item, case, tree_head, wanted is not None
    )


def _document(data: bytes) -> dict[str, Any]:
    try:
        document: dict[str, Any] = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise RecordError(f"This proof cannot be read ({error}): ask for it again.") from error
    whole = (
        isinstance(document, dict)
        and set(document) == _FIELDS
        and document["kind"] == _KIND
        and document["format"] == 1
        and type(document["tree_size"]) is int
        and is_hash(str(document["tree_head"]))
        and isinstance(document["events"], list)
        and bool(document["events"])
    )
    if not whole:
        raise RecordError("This is no whole inclusion proof: ask for it again.")
    return document


def _event_problems(document: Mapping[str, Any]) -> Iterator[str]:
    before = 0
    for number, one in enumerate(document["events"], 1):
        if not isinstance(one, dict) or set(one) != {"entry", "path"}:
            yield f"Entry {number} of the proof is no event with its path."
            continue
        try:
            entry = entry_of(one["entry"])
            amiss = _amiss(document, entry, one["path"])
        except RecordError as error:
            yield f"Entry {number} of the proof cannot be read: {error}."
            continue
        if entry.seq <= before:
            amiss = "it stands twice or out of order"
        if amiss:
            yield f"Event {entry.seq}: {amiss}."
        before = entry.seq


def _amiss(document: Mapping[str, Any], entry: Entry, path: object) -> str:
    """Why an event of the proof is not what the proof says; "" if it is."""
    if entry.case != document["case"] or entry.body.get("item") != document["item"]:
        return "it is about another case or item"
    if hash_of(entry) != entry.hash:
        return "its hash does not fit what it says, so it was changed"
    hashes = [str(one) for one in path] if isinstance(path, list) else []
    root = root_by_path(entry.line(), entry.seq - 1, document["tree_size"], hashes)
    return "" if root == document["tree_head"] else "its path does not lead to the tree head"
