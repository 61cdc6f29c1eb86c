"""Is a record whole? Recomputes every link, so that a forged middle shows as well as a cut end."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from pathlib import Path
from typing import Any

from voicelist.errors import RecordError, UsageError
from voicelist.reading import FILE_LIMITS, NotReadable
from voicelist.reading import read_file as read_bytes
from voicelist.record.journal import FIRST_PREV, Entry, entry_of, hash_and_line, parsed
from voicelist.record.tree import root_of, roots
from voicelist.session.records import KINDS, Closed, Opened, Resumed, Said, from_body
from voicelist.session.team_records import Amended

END_STATES = ("completed", "stopped", "abandoned")
_SHOWN_AT_MOST = 12


@dataclass(frozen=True, slots=True)
class Verdict:
    """What verification found. `head` is the hash of the last entry read, "" if there is none;
    `tree_head` is the root of the Merkle tree over its lines; `problems` are sentences, the first
    bad event first. `closed` is the state in which the record ends (completed, stopped, abandoned),
    "" where it has no end: open, or cut short. `since` says what came after an older head that was
    given; `end_verified` is whether a cut end would have been noticed."""

    ok: bool
    count: int
    head: str
    problems: tuple[str, ...]
    closed: str = ""
    tree_head: str = ""
    since: str = ""
    end_verified: bool = True

    @property
    def words(self) -> str:
        """The verdict in one line."""
        ending = f"closed as {self.closed}" if self.closed else "not closed"
        ending += "" if self.end_verified else "; END NOT VERIFIED (give --head)"
        return (
            f"{'verifies' if self.ok else 'DOES NOT VERIFY'}; {self.count} events; {ending}; "
            f"tree head {self.tree_head}; head {self.head}"
        )


@dataclass(frozen=True, slots=True)
class Reading:
    """Entries as far as they can be read, and what stopped the reading ("" if nothing did).
    `expected` is how many there have to be at least, as noted elsewhere; 0 if nothing was. `hidden`
    says that there are more of them, which are not read ("" if nobody knows of any)."""

    entries: tuple[Entry, ...]
    problem: str = ""
    expected: int = 0
    hidden: str = ""

    def problems(self) -> Iterator[str]:
        """What is amiss already before any link is looked at."""
        if self.problem:
            yield self.problem
        elif not self.entries:
            yield "There are no events."
        if not self.problem and len(self.entries) < self.expected:
            yield (
                f"There are {len(self.entries)} events; its writer noted {self.expected}: "
                "the others were lost or removed."
            )
        if self.hidden:
            yield self.hidden


def verify_entries(entries: Sequence[Entry], head: str | None = None) -> Verdict:
    """Checks a whole case: links, numbering, one case, clocks within a run, kinds and their order.

    Without `head`, the last hash kept outside the record, a cut end cannot be noticed. Raises
    UsageError if `head` is not a hash.
    """
    return verify_reading(Reading(tuple(entries)), head)


def verify_reading(
    reading: Reading, head: str | None = None, beside: Sequence[str] = ()
) -> Verdict:
    """The same for entries that could perhaps not be read to their end. `beside` are problems of
    what they are kept in."""
    wanted = checked_head(head) if head is not None else None
    entries = reading.entries
    sealed = [_sealed(entry) for entry in entries]
    leaves = [line for _, line in sealed]
    problems = [*_chain_problems(entries, [one for one, _ in sealed]), *reading.problems(), *beside]
    since = ""
    if wanted is not None and not reading.problem:
        since, amiss = _since_head(entries, leaves, wanted)
        problems.extend(amiss)
    if len(problems) > _SHOWN_AT_MOST:
        more = len(problems) - _SHOWN_AT_MOST
        problems = [*problems[:_SHOWN_AT_MOST], f"And {more} more of the kind."]
    return Verdict(
        not problems,
        len(entries),
        entries[-1].hash if entries else "",
        tuple(problems),
        reduce(Standing.after, entries, Standing()).closed,
        root_of(leaves) if entries and all(leaves) else "",
        since,
    )


def tree_head(entries: Sequence[Entry]) -> str:
    """The root of the Merkle tree over the lines of a case's journal, "" if one has none."""
    leaves = [_sealed(entry)[1] for entry in entries]
    return root_of(leaves) if leaves and all(leaves) else ""


def checked_head(head: str) -> str:
    """A hash as people copy it: spaces and capitals do not matter. Raises UsageError."""
    plain = "".join(head.split()).lower()
    if not re.fullmatch(r"[0-9a-f]{64}", plain):
        raise UsageError(
            "The head is the hash of the last event, or the tree head, 64 hexadecimal digits: copy "
            "it from the report or from the list of records."
        )
    return plain


@dataclass(frozen=True, slots=True)
class Standing:
    """What of the earlier events decides which kind may come next.

    `closed` is the state in which the case was closed, "" while it is open.
    """

    run: str = ""
    closed: str = ""

    def after(self, entry: Entry) -> Standing:
        """The standing after one more entry."""
        closed = self.closed
        if entry.kind == Closed.kind:
            closed = str(entry.body.get("state"))
        elif entry.kind == Resumed.kind:
            closed = ""
        return Standing(entry.run, closed)


def out_of_place(standing: Standing, run: str, kind: str, body: Mapping[str, Any]) -> str:
    """Why an event may not come next; "" if it may.

    A case is opened first and once; each later run begins with `resumed`. After `closed` come only
    the assistant's closing words, late entries (in runs of their own) and, if the case was
    stopped, `resumed`.
    """
    if kind not in KINDS:
        return f"its kind {kind!r} is not known to this version"
    try:
        record = from_body(kind, body)
    except TypeError:
        return f"its body does not have the fields of the kind {kind!r}"
    if isinstance(record, Closed) and record.state not in END_STATES:
        return f"it closes the case as {record.state!r}, expected {', '.join(END_STATES)}"
    if not standing.run:
        return "" if isinstance(record, Opened) else f"a case begins with 'opened', not {kind!r}"
    if isinstance(record, Opened):
        return "a case is opened once"
    if isinstance(record, Amended):
        return "" if standing.closed else "a late entry stands after the end of its case"
    if isinstance(record, Resumed) == (standing.run == run):
        return "'resumed' stands first in each later run, and only there"
    if isinstance(record, Resumed) and standing.closed in {"completed", "abandoned"}:
        return f"a case that was {standing.closed} is not resumed"
    if standing.closed and not isinstance(record, Resumed | Said):
        return f"the case was {standing.closed} before"
    return ""


def _chain_problems(entries: Sequence[Entry], hashes: Sequence[str]) -> Iterator[str]:
    """What is amiss, given the hash that each of the entries ought to carry."""
    previous: Entry | None = None
    standing = Standing()
    runs: set[str] = set()
    for place, (entry, recomputed) in enumerate(zip(entries, hashes, strict=True), start=1):
        for amiss in _entry_problems(place, previous, entry, recomputed):
            yield f"Event {place}: {amiss}."
        amiss = out_of_place(standing, entry.run, entry.kind, entry.body)
        if amiss:
            yield f"Event {place}: {amiss}."
        standing = standing.after(entry)
        if previous and entry.run != previous.run and entry.run in runs:
            yield f"Event {place}: its run {entry.run} was over before."
        runs.add(entry.run)
        previous = entry


def _entry_problems(
    place: int, previous: Entry | None, entry: Entry, recomputed: str
) -> Iterator[str]:
    if entry.seq != place:
        yield f"it is numbered {entry.seq}; events are missing, repeated or out of order"
    if entry.prev != (previous.hash if previous else FIRST_PREV):
        yield "it is not linked to the event before it"
    if entry.hash != recomputed:
        yield "its hash does not fit what it says, so it was changed"
    if previous and entry.case != previous.case:
        yield f"it belongs to the case {entry.case}, not {previous.case}"
    if previous and entry.run == previous.run and entry.mono_ms < previous.mono_ms:
        yield "its running clock stands before that of the event before it"


def _sealed(entry: Entry) -> tuple[str, bytes]:
    """The hash that it ought to carry, and its line; nothing of what is no JSON."""
    try:
        return hash_and_line(entry)
    except RecordError:
        return "", b""


def _since_head(
    entries: Sequence[Entry], leaves: Sequence[bytes], head: str
) -> tuple[str, Sequence[str]]:
    """What came after the event at which `head` stood (a hash or a tree head), in a sentence, and
    what is amiss about it: late entries are not."""
    stood = _where_it_stood(entries, leaves, head)
    if stood is None:
        return "", (
            f"The last event read, number {len(entries)}, does not have the head given: the end "
            "was cut off, or the record was changed.",
        )
    later = entries[stood:]
    if not later:
        return "", ()
    if all(one.kind == Amended.kind for one in later):
        many = "1 late entry" if len(later) == 1 else f"{len(later)} late entries"
        return (
            f"The head given is that of event {stood}; up to there it verifies. {many} came since, "
            f"which it does not cover: keep the new head."
        ), ()
    return "", (
        f"The head given is that of event {stood}; {len(later)} later events follow it, written or "
        "added since.",
    )


def _where_it_stood(entries: Sequence[Entry], leaves: Sequence[bytes], head: str) -> int | None:
    """The number of the event whose hash `head` is, or that closes the tree whose root it is."""
    for place in range(len(entries), 0, -1):
        if entries[place - 1].hash == head:
            return place
    return next((place for place, root in enumerate(roots(leaves), 1) if root == head), None)


def read_lines(data: bytes) -> Reading:
    """A journal file: one canonical JSON entry a line, each line ended by a line feed."""
    entries: list[Entry] = []
    begin = 0
    while (end := data.find(b"\n", begin)) >= 0:
        try:
            if end - begin > FILE_LIMITS.journal_line:
                raise RecordError("it is too long for an event")
            entries.append(entry_of(parsed(data[begin:end])))
        except RecordError as error:
            return Reading(tuple(entries), f"Line {len(entries) + 1} cannot be read: {error}.")
        begin = end + 1
    if begin < len(data):
        return Reading(tuple(entries), f"Line {len(entries) + 1} was cut short.")
    return Reading(tuple(entries))


def read_file(path: Path) -> Reading:
    """A journal file as far as it can be read. Raises RecordError if it cannot be opened."""
    try:
        return read_lines(read_bytes(path, FILE_LIMITS.journal, "a journal file"))
    except NotReadable as error:
        raise RecordError(str(error)) from error


def read_journal_file(path: Path) -> tuple[Entry, ...]:
    """The entries of a journal file. Raises RecordError naming the first line that is not one."""
    reading = read_file(path)
    if reading.problem:
        raise RecordError(f"{path} is not a whole journal. {reading.problem}")
    return reading.entries


def verify_file(path: Path, head: str | None = None) -> Verdict:
    """Checks an exported journal file; without a head its end is not verified. Raises RecordError
    if it cannot be opened."""
    return replace(verify_reading(read_file(path), head), end_verified=head is not None)


def verify_lines(data: bytes, head: str | None = None) -> Verdict:
    """The same for the bytes of a journal file."""
    return replace(verify_reading(read_lines(data), head), end_verified=head is not None)
