"""One hash for many: the Merkle tree of RFC 6962 (June 2013), section 2.1.

Over the heads of cases: whoever keeps its root keeps all the heads. Over the events of one case, a
leaf being a line of its journal: its root is the *tree head* of the case, and a few hashes prove
that an event belongs to it without showing the others. The prefixes keep a leaf from being passed
off as a node.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence

_LEAF, _NODE = b"\x00", b"\x01"
HASH_BYTES = 32


def root_of(leaves: Sequence[bytes]) -> str:
    """The root over the leaves in their order, in lower-case hex."""
    return _tree_hash([_leaf(leaf) for leaf in leaves]).hex()


def root_of_heads(heads: Sequence[str]) -> str:
    """The root over the heads of cases, oldest first; a leaf is the 32 bytes of a head."""
    return root_of([bytes.fromhex(head) for head in heads])


def roots(leaves: Sequence[bytes]) -> Iterator[str]:
    """The roots over the first leaf, the first two, and so on to all of them."""
    whole: list[tuple[int, bytes]] = []  # full trees from left to right, each with its size
    for leaf in leaves:
        size, top = 1, _leaf(leaf)
        while whole and whole[-1][0] == size:
            top = _node(whole.pop()[1], top)
            size *= 2
        whole.append((size, top))
        root = whole[-1][1]
        for _, left in reversed(whole[:-1]):
            root = _node(left, root)
        yield root.hex()


def path_to(leaves: Sequence[bytes], place: int) -> tuple[str, ...]:
    """The audit path of the leaf at `place` (from 0), from below (RFC 6962, 2.1.1), in hex. Raises
    IndexError if there is no such leaf."""
    if not 0 <= place < len(leaves):
        raise IndexError(place)
    return tuple(one.hex() for one in _path([_leaf(leaf) for leaf in leaves], place))


def root_by_path(leaf: bytes, place: int, size: int, path: Sequence[str]) -> str:
    """The root of a tree of `size` leaves in which `leaf` stands at `place`, worked out from its
    audit path as in RFC 9162 (December 2021), 2.1.3.2; "" if no such tree has such a path."""
    if not 0 <= place < size:
        return ""
    here, last, root = place, size - 1, _leaf(leaf)
    for one in path:
        try:
            other = bytes.fromhex(one)
        except ValueError:
            return ""
        if last == 0 or len(other) != HASH_BYTES:
            return ""
        if here % 2 or here == last:
            root = _node(other, root)
            while here and not here % 2:
                here, last = here // 2, last // 2
        else:
            root = _node(root, other)
        here, last = here // 2, last // 2
    return "" if last else root.hex()


def _leaf(leaf: bytes) -> bytes:
    return hashlib.sha256(_LEAF + leaf).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(_NODE + left + right).digest()


def _tree_hash(hashes: Sequence[bytes]) -> bytes:
    if not hashes:
        return hashlib.sha256(b"").digest()
    if len(hashes) == 1:
        return hashes[0]
    split = _split(len(hashes))
    return _node(_tree_hash(hashes[:split]), _tree_hash(hashes[split:]))


def _path(hashes: Sequence[bytes], place: int) -> tuple[bytes, ...]:
    if len(hashes) == 1:
        return ()
    split = _split(len(hashes))
    if place < split:
        return (*_path(hashes[:split], place), _tree_hash(hashes[split:]))
    return (*_path(hashes[split:], place - split), _tree_hash(hashes[:split]))


def _split(size: int) -> int:
    """The largest power of two below a size."""
    return 1 << (size - 1).bit_length() - 1
