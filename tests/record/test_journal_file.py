"""An exported journal, changed at every byte and line: the first bad event is named."""

from __future__ import annotations

import re
from collections.abc import Iterator

from voicelist.record.exports import journal_lines
from voicelist.record.journal import Entry, chain
from voicelist.record.verify import read_lines, verify_reading
from voicelist.session.records import Answered, Called, Closed, Opened, Record, Said

# A journal short enough for every byte of it to be tried.
_SHORT = (
    Opened("typed", "0", {}, None),
    Called("b", "?"),
    Answered("b", "said-done", "b"),
    Closed("completed"),
    Said(".", 0.5),
)
_NAMED = re.compile(r"(?:Line|Event|number) (\d+)")


def _chained(*records: Record) -> list[Entry]:
    entries: list[Entry] = []
    for record in records:
        previous = entries[-1] if entries else None
        told = {"case": "c", "at": "2031-03-04T08:00:00.000Z", "run": "r", "mono_ms": 0}
        entries.append(chain(previous, **told, kind=record.kind, body=record.body()))
    return entries


def _first_named(data: bytes, head: str) -> int:
    """The number of the first bad event, 0 if nothing is amiss."""
    verdict = verify_reading(read_lines(data), head)
    named = _NAMED.search(verdict.problems[0]) if verdict.problems else None
    return int(named[1]) if named else 0


def _line_of_the_first_change(whole: bytes, changed: bytes) -> int:
    pairs = enumerate(zip(whole, changed, strict=False))
    other = next((at for at, (old, new) in pairs if old != new), min(len(whole), len(changed)))
    return whole[:other].count(b"\n") + 1


def _byte_changes(whole: bytes) -> Iterator[bytes]:
    """Each byte is changed in one of its bits, deleted, doubled, exchanged with the next and pushed
    aside by another; which of these it is goes round with its place."""
    for at in range(len(whole)):
        before, one, behind = whole[:at], whole[at : at + 1], whole[at + 1 :]
        match at % 5:
            case 0:
                yield before + bytes([one[0] ^ (1 << at // 5 % 8)]) + behind
            case 1:
                yield before + behind
            case 2:
                yield before + one + one + behind
            case 3:
                yield before + behind[:1] + one + behind[1:]
            case 4:
                yield before + (b"\n" if at % 2 else b" ") + one + behind


def test_a_change_of_any_byte_names_the_first_event_that_is_not_as_it_was() -> None:
    entries = _chained(*_SHORT)
    whole, head = journal_lines(entries), entries[-1].hash
    assert _first_named(whole, head) == 0
    tried = [changed for changed in _byte_changes(whole) if changed != whole]
    assert len(tried) > 0.9 * len(whole)
    missed = [
        changed
        for changed in tried
        if _first_named(changed, head) != _line_of_the_first_change(whole, changed)
    ]
    assert missed == []


def test_lines_taken_out_exchanged_doubled_or_put_in_name_the_first_of_them() -> None:
    entries = _chained(*_SHORT, *[Said(".", 0.5)] * 4)
    head = entries[-1].hash
    lines = journal_lines(entries).splitlines(keepends=True)
    size = len(lines)
    for i in range(size):
        gone = b"".join(lines[:i] + lines[i + 1 :])
        assert _first_named(gone, head) == min(i + 1, size - 1)
        for j in range(i + 1, size):
            swapped = [*lines[:i], lines[j], *lines[i + 1 : j], lines[i], *lines[j + 1 :]]
            assert _first_named(b"".join(swapped), head) == i + 1
        for j in range(size + 1):
            doubled = [*lines[:j], lines[i], *lines[j:]]
            first = next((n for n in range(size) if doubled[n] != lines[n]), size)
            assert _first_named(b"".join(doubled), head) == first + 1


def test_a_cut_at_any_byte_is_found_with_the_head() -> None:
    entries = _chained(*_SHORT)
    whole, head = journal_lines(entries), entries[-1].hash
    for length in range(len(whole)):
        kept = whole[:length]
        torn = 0 if kept.endswith(b"\n") or not kept else 1
        assert not verify_reading(read_lines(kept), head).ok
        assert _first_named(kept, head) == kept.count(b"\n") + torn
