"""Every change of a record is noticed, and the first bad event is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from cases import opened
from hypothesis import given, settings
from hypothesis import strategies as st
from test_tree import naive_root

from voicelist.errors import RecordError, UsageError
from voicelist.record.exports import journal_lines
from voicelist.record.journal import Entry, chain, hash_of
from voicelist.record.verify import (
    read_file,
    read_journal_file,
    read_lines,
    tree_head,
    verify_entries,
    verify_file,
    verify_reading,
)
from voicelist.session.records import (
    Answered,
    Called,
    Closed,
    Opened,
    Record,
    Resumed,
    Said,
)
from voicelist.session.team_records import Amended

Entries = tuple[Entry, ...]
_place = st.integers(0, 10_000)
unhurried = settings(deadline=None, max_examples=60)


def _relinked(entries: list[Entry], start: int) -> Entries:
    """Entries whose links and hashes are made to fit from `start` on, as a forger would."""
    linked = list(entries[:start])
    for entry in entries[start:]:
        prev = linked[-1].hash if linked else "0" * 64
        moved = replace(entry, seq=len(linked) + 1, prev=prev)
        linked.append(replace(moved, hash=hash_of(moved)))
    return tuple(linked)


def _chained(*records: Record, run: str = "run-1", mono_ms: int = 0) -> list[Entry]:
    entries: list[Entry] = []
    for record in records:
        entries.append(
            chain(
                entries[-1] if entries else None,
                case="case-1",
                at="2031-03-04T08:00:00.000Z",
                run=run,
                mono_ms=mono_ms,
                kind=record.kind,
                body=record.body(),
            )
        )
    return entries


def _in_runs(*runs: tuple[Record, ...]) -> Entries:
    entries: list[Entry] = []
    for number, records in enumerate(runs):
        entries += _chained(*records, run=f"run-{number}")
    return _relinked(entries, 0)


def test_an_untouched_case_verifies(example_entries: Entries) -> None:
    verdict = verify_entries(example_entries, example_entries[-1].hash)
    assert verdict.ok
    assert verdict.problems == ()
    assert (verdict.count, verdict.head) == (len(example_entries), example_entries[-1].hash)


def test_a_head_may_be_copied_with_spaces_and_capitals(example_entries: Entries) -> None:
    head = example_entries[-1].hash.upper()
    assert verify_entries(example_entries, f" {head[:8]} {head[8:]}\n").ok


def test_a_head_that_is_no_hash_is_a_matter_of_usage(example_entries: Entries) -> None:
    with pytest.raises(UsageError, match="64 hexadecimal digits"):
        verify_entries(example_entries, "abc")


def test_nothing_at_all_does_not_verify() -> None:
    assert verify_entries(()).problems == ("There are no events.",)


@unhurried
@given(_place)
def test_a_deleted_event_is_noticed(example_entries: Entries, place: int) -> None:
    place %= len(example_entries) - 1  # the last is the cut end, below
    verdict = verify_entries(example_entries[:place] + example_entries[place + 1 :])
    assert not verdict.ok
    assert verdict.problems[0].startswith(f"Event {place + 1}: ")


@unhurried
@given(_place, _place)
def test_swapped_events_are_noticed(example_entries: Entries, one: int, other: int) -> None:
    one, other = one % len(example_entries), other % len(example_entries)
    if one == other:
        return
    swapped = list(example_entries)
    swapped[one], swapped[other] = swapped[other], swapped[one]
    verdict = verify_entries(swapped)
    assert not verdict.ok
    assert verdict.problems[0].startswith(f"Event {min(one, other) + 1}: ")


@unhurried
@given(_place, _place)
def test_a_repeated_event_is_noticed(example_entries: Entries, which: int, place: int) -> None:
    entry = example_entries[which % len(example_entries)]
    place %= len(example_entries) + 1
    verdict = verify_entries((*example_entries[:place], entry, *example_entries[place:]))
    assert not verdict.ok


@unhurried
@given(_place)
def test_an_inserted_event_is_noticed_even_with_a_hash_of_its_own(
    example_entries: Entries, place: int
) -> None:
    place %= len(example_entries) - 1
    before = example_entries[place]
    forged = chain(
        before,
        case=before.case,
        at=before.at,
        run=before.run,
        mono_ms=before.mono_ms,
        kind="called",
        body={"item": "bottle", "text": "forged"},
    )
    verdict = verify_entries((*example_entries[: place + 1], forged, *example_entries[place + 1 :]))
    assert not verdict.ok
    assert any(problem.startswith(f"Event {place + 3}: ") for problem in verdict.problems)


@unhurried
@given(_place, st.sampled_from(["case", "at", "run", "mono_ms", "kind", "body", "prev", "hash"]))
def test_any_changed_field_is_noticed_at_its_event(
    example_entries: Entries, place: int, field: str
) -> None:
    place %= len(example_entries)
    entry = example_entries[place]
    other = {
        "case": "case-99",
        "at": "2001-01-01T00:00:00.000Z",
        "run": "another",
        "mono_ms": entry.mono_ms + 1,
        "kind": "prompted" if entry.kind != "prompted" else "called",
        "body": {**entry.body, "words": "forged"},
        "prev": "1" * 64,
        "hash": "1" * 64,
    }[field]
    changed = list(example_entries)
    changed[place] = replace(entry, **{field: other})
    verdict = verify_entries(changed)
    assert not verdict.ok
    assert verdict.problems[0].startswith(f"Event {place + 1}: ")


@unhurried
@given(_place)
def test_a_forged_middle_is_noticed_with_both_ends_right(
    example_entries: Entries, place: int
) -> None:
    """The forger recomputes the hashes from the change up to just before the last event."""
    place %= len(example_entries) - 2
    changed = list(example_entries)
    changed[place] = replace(changed[place], at="2001-01-01T00:00:00.000Z")
    forged = _relinked(changed, place)[:-1] + example_entries[-1:]
    assert (forged[0].prev, forged[-1]) == (example_entries[0].prev, example_entries[-1])
    verdict = verify_entries(forged, example_entries[-1].hash)
    assert not verdict.ok
    assert verdict.problems[0].startswith(f"Event {len(forged)}: it is not linked")


@unhurried
@given(_place)
def test_a_chain_forged_to_its_end_is_noticed_by_whoever_holds_the_head(
    example_entries: Entries, place: int
) -> None:
    place %= len(example_entries)
    changed = list(example_entries)
    changed[place] = replace(changed[place], at="2001-01-01T00:00:00.000Z")
    forged = _relinked(changed, place)
    assert verify_entries(forged).ok, "without a head nobody can know"
    assert (
        "does not have the head given"
        in verify_entries(forged, example_entries[-1].hash).problems[0]
    )


@unhurried
@given(_place)
def test_a_cut_end_is_noticed_by_whoever_holds_the_head(
    example_entries: Entries, place: int
) -> None:
    kept = example_entries[: place % len(example_entries)]
    verdict = verify_entries(kept, example_entries[-1].hash)
    assert not verdict.ok
    assert verdict.count == len(kept)


def test_events_added_after_the_head_are_told_apart(example_entries: Entries) -> None:
    verdict = verify_entries(example_entries, example_entries[-4].hash)
    assert not verdict.ok
    assert "3 later events follow it" in verdict.problems[0]


def test_late_entries_after_the_head_are_told_and_are_no_fault(example_entries: Entries) -> None:
    """An older head vouches for what stood there, whether it is the hash or the tree head."""
    late = Amended("The box said 21.5.", "read again", "team-lead")
    entries = list(example_entries)
    for run in ("late-1", "late-2"):
        entries.append(
            chain(
                entries[-1],
                case=entries[-1].case,
                at="2031-03-05T08:00:00.000Z",
                run=run,
                mono_ms=0,
                kind=late.kind,
                body=late.body(),
            )
        )
    stood = len(example_entries)
    for head in (example_entries[-1].hash, tree_head(example_entries)):
        verdict = verify_entries(entries, head)
        assert verdict.ok
        assert (
            f"that of event {stood}; up to there it verifies. 2 late entries came" in verdict.since
        )
    newest = verify_entries(entries, entries[-1].hash)
    assert (newest.ok, newest.since) == (True, "")
    assert verify_entries(entries, newest.tree_head) == newest
    changed = [replace(entries[3], at="2001-01-01T00:00:00.000Z"), *entries[4:]]
    assert not verify_entries([*entries[:3], *changed], example_entries[-1].hash).ok


def test_a_tree_head_is_the_root_over_the_lines_of_the_exported_journal(
    example_entries: Entries,
) -> None:
    lines = journal_lines(example_entries).removesuffix(b"\n").split(b"\n")
    assert verify_entries(example_entries).tree_head == naive_root(lines).hex()
    assert tree_head(example_entries[:7]) == naive_root(lines[:7]).hex()


def test_a_file_without_a_head_verifies_but_for_its_end(
    example_entries: Entries, tmp_path: Path
) -> None:
    file = tmp_path / "case.jsonl"
    file.write_bytes(journal_lines(example_entries[:-3]))
    verdict = verify_file(file)
    assert verdict.ok
    assert not verdict.end_verified
    assert "END NOT VERIFIED" in verdict.words
    assert not verify_file(file, example_entries[-1].hash).ok
    assert verify_file(file, example_entries[-4].hash).end_verified


@settings(deadline=None, max_examples=200)
@given(_place, st.integers(1, 255))
def test_any_changed_byte_of_a_journal_file_is_noticed(
    example_entries: Entries, place: int, flip: int
) -> None:
    data = bytearray(journal_lines(example_entries))
    place = place * 7 % len(data)
    data[place] ^= flip
    verdict = verify_reading(read_lines(bytes(data)))
    assert not verdict.ok


@unhurried
@given(_place)
def test_a_journal_file_cut_anywhere_is_noticed_with_its_head(
    example_entries: Entries, length: int
) -> None:
    data = journal_lines(example_entries)
    kept = data[: length * 7 % len(data)]
    assert not verify_reading(read_lines(kept), example_entries[-1].hash).ok
    if kept and not kept.endswith(b"\n"):
        assert not verify_reading(read_lines(kept)).ok, "a torn line shows without a head"


def test_a_journal_file_comes_back_as_it_was(example_entries: Entries, tmp_path: Path) -> None:
    file = tmp_path / "case.jsonl"
    file.write_bytes(journal_lines(example_entries))
    assert read_journal_file(file) == example_entries
    assert verify_file(file, example_entries[-1].hash).ok


def test_a_broken_journal_file_names_its_line(example_entries: Entries, tmp_path: Path) -> None:
    file = tmp_path / "case.jsonl"
    lines = journal_lines(example_entries).splitlines(keepends=True)
    file.write_bytes(b"".join([*lines[:4], b"{}\n", *lines[5:]]))
    with pytest.raises(RecordError, match="Line 5 cannot be read"):
        read_journal_file(file)
    assert len(read_file(file).entries) == 4
    assert "Line 5" in verify_file(file).problems[0]


def test_a_file_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="cannot be read"):
        verify_file(tmp_path / "none.jsonl")


_OPEN = opened()
_CALL = Called("bottle", "Full or low: the infusion bottle?")
_RESUME = Resumed("live", "0.1.0", None)


@pytest.mark.parametrize(
    ("entries", "amiss"),
    [
        (_in_runs((_CALL,)), "Event 1: a case begins with 'opened'"),
        (_in_runs((_OPEN, _OPEN)), "Event 2: a case is opened once"),
        (_in_runs((_OPEN, _RESUME)), "Event 2: 'resumed' stands first in each later run"),
        (_in_runs((_OPEN,), (_CALL,)), "Event 2: 'resumed' stands first in each later run"),
        (_in_runs((_OPEN, Closed("finished"))), "Event 2: it closes the case as 'finished'"),
        (_in_runs((_OPEN, Closed("stopped"), _CALL)), "Event 3: the case was stopped before"),
        (_in_runs((_OPEN, Closed("completed"), Closed("completed"))), "was completed before"),
        (_in_runs((_OPEN, Closed("completed")), (_RESUME,)), "Event 3: a case that was completed"),
        (
            _in_runs((_OPEN, Closed("abandoned"), Said("Ended.", 1.0)), (_RESUME,)),
            "Event 4: a case that was abandoned is not resumed",
        ),
    ],
)
def test_events_out_of_place_are_named(entries: Entries, amiss: str) -> None:
    verdict = verify_entries(entries)
    assert not verdict.ok
    assert amiss in verdict.problems[0]


def test_closing_words_and_resuming_after_a_stop_are_in_place() -> None:
    closing = (_OPEN, Closed("stopped"), Said("Ended unfinished.", 1.5))
    assert verify_entries(_in_runs(closing, (_RESUME, _CALL), (_RESUME,))).ok


def test_an_unknown_kind_and_a_body_without_its_fields_are_named() -> None:
    opening = _chained(_OPEN)
    for kind, body, amiss in (
        ("dreamt", {}, "kind 'dreamt' is not known"),
        ("called", {"item": "bottle"}, "does not have the fields"),
        ("called", {"item": "bottle", "text": 7}, "does not have the fields"),
        ("said", {"text": "yes", "seconds": True}, "does not have the fields"),
        ("handed-over", {"role": "", "deferred": [1], "open": [], "not_asked": 0}, "not have the"),
    ):
        more = replace(opening[0], kind=kind, body=body)
        assert amiss in verify_entries(_relinked([*opening, more], 0)).problems[0]


def test_the_running_clock_may_not_go_back_within_a_run() -> None:
    entries = _chained(_OPEN, _CALL, mono_ms=50)
    back = _relinked([entries[0], replace(entries[1], mono_ms=49)], 0)
    assert "running clock" in verify_entries(back).problems[0]


def test_a_run_that_is_over_does_not_come_back() -> None:
    entries = list(_in_runs((_OPEN,), (_RESUME,), (_RESUME,)))
    entries[2] = replace(entries[2], run=entries[0].run)
    assert "was over before" in verify_entries(_relinked(entries, 0)).problems[0]


def test_two_cases_in_one_journal_are_named() -> None:
    entries = _chained(_OPEN, _CALL)
    mixed = _relinked([entries[0], replace(entries[1], case="case-2")], 0)
    assert "belongs to the case case-2" in verify_entries(mixed).problems[0]


def test_many_problems_are_summed_up(example_entries: Entries) -> None:
    problems = verify_entries(tuple(reversed(example_entries))).problems
    assert len(problems) == 13
    assert problems[-1].endswith("more of the kind.")


def test_fields_of_a_later_version_do_not_break_a_record() -> None:
    body = {**Answered("bottle", "said-done", "bottle full").body(), "mood": "calm"}
    opening = _chained(_OPEN)
    later = replace(opening[0], kind="answered", body=body)
    assert verify_entries(_relinked([*opening, later], 0)).ok
    assert isinstance(_OPEN, Opened)
