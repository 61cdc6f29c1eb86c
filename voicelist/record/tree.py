"""One hash for many cases: the root of the Merkle tree of RFC 6962, section 2.1, over their heads.

Whoever keeps it elsewhere keeps all the heads: a case that is changed, cut short, taken out or put
in later gives another root. The prefixes keep a leaf from being passed off as a node.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

_LEAF, _NODE = b"\x00", b"\x01"


def root_of(leaves: Sequence[bytes]) -> str:
    """The root over the leaves in their order, in lower-case hex (RFC 6962, June 2013)."""
    return _tree_hash(leaves).hex()


def root_of_heads(heads: Sequence[str]) -> str:
    """The root over the heads of cases, oldest first; a leaf is the 32 bytes of a head."""
    return root_of([bytes.fromhex(head) for head in heads])


def _tree_hash(leaves: Sequence[bytes]) -> bytes:
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(_LEAF + leaves[0]).digest()
    split = 1 << (len(leaves) - 1).bit_length() - 1  # the largest power of two below their number
    left, right = _tree_hash(leaves[:split]), _tree_hash(leaves[split:])
    return hashlib.sha256(_NODE + left + right).digest()
