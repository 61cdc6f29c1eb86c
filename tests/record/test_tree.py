"""One hash over the heads of many cases: it changes with any of them, their number and order."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.record.tree import root_of, root_of_heads

LEAVES = st.lists(st.binary(max_size=40), min_size=1, max_size=40)


def from_below(leaves: list[bytes]) -> str:
    """Another way to the same root: level by level from below, an odd one out moves up as it is."""
    level = [hashlib.sha256(b"\x00" + one).digest() for one in leaves]
    while len(level) > 1:
        pairs = [level[at : at + 2] for at in range(0, len(level), 2)]
        level = [
            hashlib.sha256(b"\x01" + pair[0] + pair[1]).digest() if len(pair) == 2 else pair[0]
            for pair in pairs
        ]
    return level[0].hex()


@given(LEAVES)
def test_the_root_is_the_same_level_by_level(leaves: list[bytes]) -> None:
    assert root_of(leaves) == from_below(leaves)


@given(LEAVES, st.data())
def test_any_other_leaf_number_or_order_is_another_root(
    leaves: list[bytes], data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(leaves) - 1))
    changed = [*leaves[:at], leaves[at] + b"x", *leaves[at + 1 :]]
    others = [changed, leaves[:-1], [*leaves, b""], leaves[::-1]]
    for other in others:
        assert (root_of(other) == root_of(leaves)) == (other == leaves)


def test_a_leaf_cannot_be_passed_off_as_a_node() -> None:
    """Domain separation, RFC 6962: without the prefixes these two would have one root."""
    a, b = (hashlib.sha256(b"\x00" + one).digest() for one in (b"a", b"b"))
    assert root_of([a + b]) != root_of([b"a", b"b"])
    assert root_of([b"\x01" + a + b]) != root_of([b"a", b"b"])


def test_heads_are_taken_as_the_bytes_that_they_are() -> None:
    head = hashlib.sha256(b"a case").hexdigest()
    assert root_of_heads([head]) == root_of([bytes.fromhex(head)])
    with pytest.raises(ValueError, match="non-hexadecimal"):
        root_of_heads(["no head"])
