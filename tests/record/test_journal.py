"""Entries, their hashes and their canonical form."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelist.errors import RecordError
from voicelist.record.journal import (
    FIRST_PREV,
    Entry,
    canonical,
    chain,
    entry_of,
    hash_of,
    parsed,
    timestamp,
)


def _entry(body: dict, previous: Entry | None = None) -> Entry:
    return chain(
        previous,
        case="case-1",
        at="2031-03-04T08:00:00.000Z",
        run="r1",
        mono_ms=7,
        kind="called",
        body=body,
    )


def _by_hand(entry: Entry) -> str:
    """The hash without the package under test: RFC 8785 is plain sorted compact JSON as long as
    keys are ASCII and numbers are whole."""
    fields = dataclasses.asdict(entry)
    del fields["hash"]
    text = json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


unhurried = settings(deadline=None)
# JSON as a journal may hold it. RFC 8785 sorts keys by UTF-16 units, Python by code points: the
# same for ASCII, which keeps the independent recomputation independent.
_ascii = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=8)
_whole = st.integers(-(2**53) + 1, 2**53 - 1)
_text = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
_leaf = st.none() | st.booleans() | _whole | _text
_json = st.recursive(
    _leaf, lambda part: st.lists(part, max_size=4) | st.dictionaries(_ascii, part, max_size=4)
)


def test_the_first_entry_is_number_one_and_linked_to_zeros() -> None:
    entry = _entry({"item": "bottle"})
    assert (entry.seq, entry.prev) == (1, FIRST_PREV)


def test_a_later_entry_is_linked_to_the_hash_before_it() -> None:
    first = _entry({})
    second = _entry({}, first)
    assert (second.seq, second.prev) == (2, first.hash)


@unhurried
@given(st.dictionaries(_ascii, _json, max_size=5))
def test_the_hash_is_sha256_of_the_canonical_json_of_all_other_fields(body: dict) -> None:
    entry = _entry(body)
    assert entry.hash == _by_hand(entry) == hash_of(entry)


def test_a_known_entry_has_its_known_hash() -> None:
    text = (
        '{"at":"2031-03-04T08:00:00.000Z","body":{"seconds":1.5,"text":"\u00e9"},"case":"case-1",'
        f'"kind":"called","mono_ms":7,"prev":"{FIRST_PREV}","run":"r1","seq":1}}'
    )
    entry = _entry({"text": "\u00e9", "seconds": 1.50})
    assert entry.hash == hashlib.sha256(text.encode()).hexdigest()


@pytest.mark.parametrize(
    ("number", "text"),
    [  # RFC 8785, appendix B
        (-0.0, b"0"),
        (5e-324, b"5e-324"),
        (1.7976931348623157e308, b"1.7976931348623157e+308"),
        (9007199254740992.0, b"9007199254740992"),
        (295147905179352825856.0, b"295147905179352830000"),
        (9.999999999999997e22, b"9.999999999999997e+22"),
        (1e21, b"1e+21"),
        (333333333.33333329, b"333333333.3333333"),
        (0.000001, b"0.000001"),
        (1e-7, b"1e-7"),
    ],
)
def test_numbers_are_written_and_read_as_rfc_8785_has_them(number: float, text: bytes) -> None:
    assert canonical(number) == text
    assert canonical(parsed(text)) == text


@unhurried
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_finite_number_comes_back_as_the_same_number(number: float) -> None:
    assert parsed(canonical(number)) == number


@unhurried
@given(_json)
def test_what_was_written_is_read_back_the_same(value: object) -> None:
    assert parsed(canonical(value)) == value


@pytest.mark.parametrize(
    "body",
    [
        {"seconds": math.nan},
        {"seconds": math.inf},
        {"values": [1, -math.inf]},
        {"when": datetime.now(UTC)},
        {"raw": b"bytes"},
        {"many": {1, 2}},
        {3: "a key that is no text"},
        {"text": "\ud800"},
        {"count": 2**60},
    ],
)
def test_what_is_not_json_is_refused_with_a_sentence(body: dict) -> None:
    with pytest.raises(RecordError, match="Not recorded: this is not JSON"):
        _entry(body)


@pytest.mark.parametrize(
    "text",
    [
        '{"a":1, "b":2}',
        '{"b":1,"a":2}',
        '{"a":1.0}',
        '{"a":1,"a":1}',
        '{"a":"\\u0041"}',
        '{"a":1}\n',
        '{"a":NaN}',
        '{"a":1',
        '"\\ud800"',
        "",
    ],
)
def test_text_that_is_not_canonical_to_the_byte_is_refused(text: str) -> None:
    with pytest.raises(RecordError, match="JSON"):
        parsed(text)


def test_times_are_utc_with_milliseconds() -> None:
    # RFC 3339, section 5.8: the two are the same moment.
    pacific = timezone(timedelta(hours=-8))
    assert timestamp(datetime(1996, 12, 19, 16, 39, 57, tzinfo=pacific)) == (
        "1996-12-20T00:39:57.000Z"
    )
    assert timestamp(datetime(1985, 4, 12, 23, 20, 50, 520_999, tzinfo=UTC)) == (
        "1985-04-12T23:20:50.520Z"
    )


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(RecordError, match="zone"):
        timestamp(datetime(2031, 1, 1))


@pytest.mark.parametrize(
    ("field", "value", "amiss"),
    [
        ("seq", 0, "seq"),
        ("seq", True, "seq"),
        ("seq", "1", "seq"),
        ("mono_ms", 1.5, "mono_ms"),
        ("at", "2031-03-04T08:00:00Z", "at"),
        ("at", "2031-13-04T08:00:00.000Z", "at"),
        ("body", [], "body"),
        ("hash", "A" * 64, "hash"),
        ("prev", "0" * 63, "prev"),
        ("kind", None, "kind"),
    ],
)
def test_an_entry_says_which_of_its_fields_is_amiss(field: str, value: object, amiss: str) -> None:
    fields = {**_entry({}).fields(), field: value}
    with pytest.raises(RecordError, match=amiss):
        entry_of(fields)


def test_an_entry_has_its_fields_and_no_others() -> None:
    fields = _entry({}).fields()
    assert entry_of(fields) == _entry({})
    for changed in ({**fields, "more": 1}, {k: v for k, v in fields.items() if k != "run"}):
        with pytest.raises(RecordError, match="fields"):
            entry_of(changed)
