"""Journal entries and the chain that binds them.

Each entry carries the SHA-256 of its own fields and of the entry before it, over canonical JSON
(RFC 8785). Whoever holds the last hash notices any later change, deletion, reordering or cutting
short. The chain does not hinder somebody who rewrites all of it and is believed, nor does it prove
that the clock was right.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NoReturn

import rfc8785

from voicelist.errors import RecordError

FIRST_PREV = "0" * 64
_LARGEST_EXACT = 2**53 - 1  # RFC 8785: numbers are IEEE 754 doubles
_HASH = re.compile(r"[0-9a-f]{64}")
_AT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{3}Z")


@dataclass(frozen=True, slots=True)
class Entry:
    """One event of one case, as it is on disk.

    `seq` counts from 1; `at` is wall-clock time for people (RFC 3339, UTC, milliseconds); `mono_ms`
    counts on the clock of one start of the program, which `run` names. `body` is plain JSON.
    """

    case: str
    seq: int
    at: str
    run: str
    mono_ms: int
    kind: str
    body: dict[str, Any]
    prev: str
    hash: str

    def fields(self) -> dict[str, Any]:
        """All fields by name."""
        return {name: getattr(self, name) for name in _NAMES}

    def line(self) -> bytes:
        """The entry as one line of a journal file, without its end."""
        return hash_and_line(self)[1]


_NAMES = tuple(one.name for one in dataclasses.fields(Entry))


def chain(
    previous: Entry | None,
    *,
    case: str,
    at: str,
    run: str,
    mono_ms: int,
    kind: str,
    body: Mapping[str, Any],
) -> Entry:
    """The entry that follows `previous` (None: the first of its case).

    Raises RecordError if `body` is not JSON: nothing has been written then.
    """
    return chain_line(previous, case=case, at=at, run=run, mono_ms=mono_ms, kind=kind, body=body)[0]


def chain_line(
    previous: Entry | None,
    *,
    case: str,
    at: str,
    run: str,
    mono_ms: int,
    kind: str,
    body: Mapping[str, Any],
) -> tuple[Entry, str]:
    """The same, and the canonical JSON of its body, which is worked out once."""
    text = canonical(dict(body))
    sealed: dict[str, Any] = {
        "case": case,
        "seq": previous.seq + 1 if previous else 1,
        "at": at,
        "run": run,
        "mono_ms": mono_ms,
        "kind": kind,
        "prev": previous.hash if previous else FIRST_PREV,
    }
    entry = Entry(
        **sealed,
        body=json.loads(text, parse_int=_number),
        hash=_digest(sealed, text),
    )
    return entry, text.decode()


def hash_of(entry: Entry) -> str:
    """The hash that `entry` ought to carry, from all its other fields."""
    return hash_and_line(entry)[0]


def hash_and_line(entry: Entry) -> tuple[str, bytes]:
    """The hash that `entry` ought to carry, and its line of a journal file with the hash that it
    does carry: its body, the long part, is worked out once."""
    fields = entry.fields()
    body = canonical(fields.pop("body"))
    line = _joined(fields, body)
    del fields["hash"]
    return _digest(fields, body), line


def _digest(fields: Mapping[str, Any], body: bytes) -> str:
    return hashlib.sha256(_joined(fields, body)).hexdigest()


def _joined(fields: Mapping[str, Any], body: bytes) -> bytes:
    """The canonical JSON of the fields with the body among them: keys stand in order, so that
    "body" stands between "at" and "case". No text holds that key's quotation marks unescaped."""
    at, case, others = canonical(fields).partition(b',"case":')
    return at + b',"body":' + body + case + others


def canonical(value: Any) -> bytes:
    """Canonical JSON (RFC 8785). Raises RecordError for what JSON cannot hold."""
    try:
        return rfc8785.dumps(value)
    except (ValueError, TypeError, RecursionError) as error:
        raise RecordError(
            f"Not recorded: this is not JSON ({error}). Give text, finite numbers, true or false, "
            "lists and objects with text keys."
        ) from error


def parsed(text: bytes | str) -> Any:
    """The value of canonical JSON. Raises RecordError unless `text` is canonical to the byte."""
    raw = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    try:
        value = json.loads(raw, parse_int=_number, parse_constant=_refuse)
        same = rfc8785.dumps(value) == raw
    except (ValueError, TypeError, RecursionError) as error:
        raise RecordError(f"it is not JSON ({error})") from error
    if not same:
        raise RecordError("it is not canonical JSON (RFC 8785), so it was changed")
    return value


def _number(digits: str) -> int | float:
    value = int(digits)
    return value if abs(value) <= _LARGEST_EXACT else float(digits)


def _refuse(constant: str) -> NoReturn:
    raise ValueError(f"{constant} is no JSON number")


def timestamp(moment: datetime) -> str:
    """RFC 3339 in UTC with milliseconds, from a time that knows its zone."""
    if moment.tzinfo is None:
        raise RecordError("A time without a zone cannot be recorded: give one with tzinfo.")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").removesuffix("+00:00") + "Z"


def entry_of(fields: Any) -> Entry:
    """An entry from its fields. Raises RecordError saying which field is amiss."""
    if not isinstance(fields, Mapping) or set(fields) != set(_NAMES):
        raise RecordError("it does not have the fields of a journal entry")
    for name in ("case", "at", "run", "kind", "prev", "hash"):
        if not isinstance(fields[name], str):
            raise RecordError(f"its {name} is not text")
    for name, lowest in (("seq", 1), ("mono_ms", 0)):
        if type(fields[name]) is not int or fields[name] < lowest:
            raise RecordError(f"its {name} is not a whole number from {lowest}")
    if not isinstance(fields["body"], dict):
        raise RecordError("its body is not an object")
    if not _is_time(fields["at"]):
        raise RecordError("its at is not a time in UTC with milliseconds (RFC 3339)")
    if not (is_hash(fields["prev"]) and is_hash(fields["hash"])):
        raise RecordError("its prev or hash is not 64 lower-case hexadecimal digits")
    return Entry(**fields)


def is_hash(text: str) -> bool:
    """Whether the text is a hash as the journal writes it."""
    return _HASH.fullmatch(text) is not None


def _is_time(text: str) -> bool:
    if not _AT.fullmatch(text):
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True
