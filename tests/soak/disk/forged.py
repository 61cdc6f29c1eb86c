"""Exported journals, changed in many ways: verification has to name the first line that is not as
it was."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from tests.soak.disk.recovery import Hazard
from tests.soak.disk.tally import Tally
from voicelist.errors import VoicelistError
from voicelist.record.commands import verify_case
from voicelist.record.journal import entry_of, hash_of, parsed

JOURNALS = Path(__file__).resolve().parents[2] / "record" / "journals"
_NAMED = re.compile(r"(?:Line|Event|number) (\d+)")
Lines = list[bytes]


@dataclass(frozen=True, slots=True)
class Forgery:
    """A changed journal. `line` is the first that is not as it was, counted from 1; `with_head`:
    it shows only to somebody who kept the head."""

    data: bytes
    line: int
    with_head: bool = False


def _whole(lines: Lines) -> bytes:
    return b"".join(line + b"\n" for line in lines)


def _flip_bit(chance: random.Random, lines: Lines) -> Forgery:
    data = bytearray(_whole(lines))
    at = chance.randrange(len(data))
    data[at] ^= 1 << chance.randrange(8)
    return Forgery(bytes(data), _whole(lines)[:at].count(b"\n") + 1)


def _change_byte(chance: random.Random, lines: Lines) -> Forgery:
    data = bytearray(_whole(lines))
    at = chance.randrange(len(data))
    data[at] = chance.choice([byte for byte in range(256) if byte != data[at]])
    return Forgery(bytes(data), _whole(lines)[:at].count(b"\n") + 1)


def _delete_byte(chance: random.Random, lines: Lines) -> Forgery:
    whole = _whole(lines)
    at = chance.randrange(len(whole))
    return _of_bytes(whole, whole[:at] + whole[at + 1 :])


def _insert_byte(chance: random.Random, lines: Lines) -> Forgery:
    whole = _whole(lines)
    at = chance.randrange(len(whole) + 1)
    return _of_bytes(whole, whole[:at] + bytes([chance.randrange(256)]) + whole[at:])


def _double_byte(chance: random.Random, lines: Lines) -> Forgery:
    whole = _whole(lines)
    at = chance.randrange(len(whole))
    return _of_bytes(whole, whole[: at + 1] + whole[at:])


def _swap_bytes(chance: random.Random, lines: Lines) -> Forgery:
    whole = _whole(lines)
    while True:
        first, second = sorted(chance.sample(range(len(whole)), 2))
        if whole[first] != whole[second]:
            break
    middle = whole[first + 1 : second]
    swapped = whole[second : second + 1] + middle + whole[first : first + 1]
    return _of_bytes(whole, whole[:first] + swapped + whole[second + 1 :])


def _of_bytes(whole: bytes, changed: bytes) -> Forgery:
    """The line of the first byte that is not as it was."""
    pairs = enumerate(zip(whole, changed, strict=False))
    other = next((at for at, (old, new) in pairs if old != new), min(len(whole), len(changed)))
    return Forgery(changed, whole[:other].count(b"\n") + 1)


def _cut(chance: random.Random, lines: Lines) -> Forgery:
    data = _whole(lines)[: chance.randrange(1, len(_whole(lines)))]
    kept = data.count(b"\n")
    if data.endswith(b"\n"):
        return Forgery(data, kept, with_head=True)
    return Forgery(data, kept + 1)


def _cut_lines(chance: random.Random, lines: Lines) -> Forgery:
    kept = chance.randrange(1, len(lines))
    return Forgery(_whole(lines[:kept]), kept, with_head=True)


def _duplicate(chance: random.Random, lines: Lines) -> Forgery:
    copied = chance.randrange(len(lines))
    behind = chance.randrange(copied, len(lines))
    changed = [*lines[: behind + 1], lines[copied], *lines[behind + 1 :]]
    return Forgery(_whole(changed), behind + 2)


def _remove(chance: random.Random, lines: Lines) -> Forgery:
    gone = chance.randrange(len(lines) - 1)
    return Forgery(_whole(lines[:gone] + lines[gone + 1 :]), gone + 1)


def _swap(chance: random.Random, lines: Lines) -> Forgery:
    first, second = sorted(chance.sample(range(len(lines)), 2))
    changed = list(lines)
    changed[first], changed[second] = changed[second], changed[first]
    return Forgery(_whole(changed), first + 1)


def _shuffle(chance: random.Random, lines: Lines) -> Forgery:
    changed = list(lines)
    while changed == lines:
        chance.shuffle(changed)
    return Forgery(_whole(changed), _first_other(lines, changed))


def _first_other(lines: Lines, changed: Lines) -> int:
    return next(n for n, (old, new) in enumerate(zip(lines, changed, strict=True), 1) if old != new)


def _say_otherwise(chance: random.Random, lines: Lines) -> Forgery:
    """A field is changed and the line left as canonical JSON, with its old hash."""
    place = chance.randrange(len(lines))
    fields = _changed_fields(chance, lines[place])
    changed = [*lines[:place], entry_of(fields).line(), *lines[place + 1 :]]
    return Forgery(_whole(changed), place + 1)


def _say_otherwise_rehashed(chance: random.Random, lines: Lines) -> Forgery:
    """The same with a hash that fits: the next line no longer does, behind the last the head."""
    place = chance.randrange(len(lines))
    entry = entry_of(_changed_fields(chance, lines[place]))
    line = replace(entry, hash=hash_of(entry)).line()
    changed = [*lines[:place], line, *lines[place + 1 :]]
    is_last = place == len(lines) - 1
    return Forgery(_whole(changed), place + 1 if is_last else place + 2, with_head=is_last)


def _changed_fields(chance: random.Random, line: bytes) -> dict[str, object]:
    """Another time of day, or another text or number in the body."""
    fields = parsed(line)
    texts = [key for key, value in fields["body"].items() if isinstance(value, str)]
    if texts and chance.random() < 0.8 and fields["kind"] not in ("opened", "resumed", "closed"):
        key = chance.choice(texts)
        fields["body"][key] += chance.choice(" .ax\N{LATIN SMALL LETTER E WITH ACUTE}")
    else:
        second = int(fields["at"][17:19])
        fields["at"] = f"{fields['at'][:17]}{(second + 1) % 60:02}{fields['at'][19:]}"
    return fields


FORGERIES: dict[str, Callable[[random.Random, Lines], Forgery]] = {
    "a bit flipped": _flip_bit,
    "a byte changed": _change_byte,
    "a byte deleted": _delete_byte,
    "a byte put in": _insert_byte,
    "a byte twice": _double_byte,
    "two bytes exchanged": _swap_bytes,
    "cut anywhere": _cut,
    "last lines cut": _cut_lines,
    "a line twice": _duplicate,
    "a line removed": _remove,
    "two lines exchanged": _swap,
    "lines in another order": _shuffle,
    "a field changed": _say_otherwise,
    "a field changed, hash made anew": _say_otherwise_rehashed,
}


def forge(scratch: Path, count: int, seed: int) -> Tally:
    """So many forgeries of the kept journals, each way in turn."""
    chance, tally = random.Random(seed), Tally()
    journals = [file.read_bytes().splitlines() for file in sorted(JOURNALS.glob("*.jsonl"))]
    heads = [json.loads(lines[-1])["hash"] for lines in journals]
    ways = list(FORGERIES)
    file = scratch / "forged.jsonl"
    for turn in range(count):
        way, which = ways[turn % len(ways)], chance.randrange(len(journals))
        forgery = FORGERIES[way](chance, journals[which])
        file.write_bytes(forgery.data)
        found = _noticed(file, heads[which] if forgery.with_head else None, forgery.line)
        tally.tried += 1
        tally.outcomes["named" if found is None else found.kind] += 1
        tally.hazard(found, f"{way}, seed {seed}, turn {turn}")
    return tally


def _noticed(file: Path, head: str | None, line: int) -> Hazard | None:
    try:
        _, verdict = verify_case(str(file), head, None, practice=False)
    except VoicelistError as error:
        return Hazard("another line named", f"{error}, line {line} was meant")
    except Exception as error:
        return Hazard("an unexpected error", f"{type(error).__name__}: {error}")
    if verdict.ok:
        return Hazard("not noticed", f"line {line}")
    named = _NAMED.search(verdict.problems[0])
    if named is None or int(named[1]) != line:
        return Hazard("another line named", f"{verdict.problems[0]} Line {line} was meant.")
    return None
