"""One hash over many leaves, the heads of cases or the events of one: RFC 6962.

Published values: the test data of transparency-dev/merkle 0.0.2, the Go library of certificate
transparency (testonly/constants.go, testonly/reference_test.go, rfc6962/rfc6962_test.go and
compact/range_test.go), whose log trees are those of RFC 6962.
"""

from __future__ import annotations

import base64
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelist.record.tree import path_to, root_by_path, root_of, root_of_heads, roots

# testonly/constants.go: the leaves, and the roots over the first of them, the first two, and so on.
PUBLISHED = tuple(
    bytes.fromhex(leaf)
    for leaf in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
)
PUBLISHED_ROOTS = (
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
)
_A = "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"
_B = "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"
_C = "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"
_D = "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"
_E = "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"
# testonly/reference_test.go: place, size, audit path.
PUBLISHED_PATHS: tuple[tuple[int, int, tuple[str, ...]], ...] = (
    (0, 1, ()),
    (0, 2, (_A,)),
    (1, 2, (PUBLISHED_ROOTS[0],)),
    (2, 3, (PUBLISHED_ROOTS[1],)),
    (1, 5, (PUBLISHED_ROOTS[0], _B, _D)),
    (0, 8, (_A, _B, _C)),
    (5, 8, (_D, _E, PUBLISHED_ROOTS[3])),
)
# compact/range_test.go, in base64: leaf number n is n in two bytes, the lower first.
PUBLISHED_LARGE = {
    10: "VjWMPSYNtCuCNlF/RLnQy6HcwSk6CIipfxm+hettA+4=",
    15: "j4SulYmocFuxdeyp12xXCIgK6PekBcxzAIj4zbQzNEI=",
    16: "c+4Uc6BCMOZf/v3NZK1kqTUJe+bBoFtOhP+P3SayKRE=",
    100: "dUh9hYH88p0CMoHkdr1wC2szbhcLAXOejWpINIooKUY=",
    255: "SmdsuKUqiod3RX2jyF2M6JnbdE4QuTwwipfAowI4/i0=",
    256: "qFI0t/tZ1MdOYgyPpPzHFiZVw86koScXy9q3FU5casA=",
    1000: "RXrgb8xHd55Y48FbfotJwCbV82Kx22LZfEbmBGAvwlQ=",
}
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


def naive_root(leaves: list[bytes]) -> bytes:
    """MTH(D[n]) as RFC 6962, 2.1, writes it down."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = max(power for power in (1 << n for n in range(10)) if power < len(leaves))
    both = naive_root(leaves[:k]) + naive_root(leaves[k:])
    return hashlib.sha256(b"\x01" + both).digest()


def naive_path(m: int, leaves: list[bytes]) -> list[bytes]:
    """PATH(m, D[n]) as RFC 6962, 2.1.1, writes it down."""
    if len(leaves) == 1:
        return []
    k = max(power for power in (1 << n for n in range(10)) if power < len(leaves))
    if m < k:
        return [*naive_path(m, leaves[:k]), naive_root(leaves[k:])]
    return [*naive_path(m - k, leaves[k:]), naive_root(leaves[:k])]


def test_roots_are_the_published_ones() -> None:
    assert root_of(()) == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert (
        root_of([b"L123456"]) == "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    )
    assert tuple(roots(PUBLISHED)) == PUBLISHED_ROOTS
    assert tuple(root_of(PUBLISHED[:size]) for size in range(1, 9)) == PUBLISHED_ROOTS
    leaves = [number.to_bytes(2, "little") for number in range(1000)]
    grown = list(roots(leaves))
    for size, root in PUBLISHED_LARGE.items():
        assert root_of(leaves[:size]) == grown[size - 1] == base64.b64decode(root).hex()


@pytest.mark.parametrize(("place", "size", "path"), PUBLISHED_PATHS)
def test_paths_are_the_published_ones(place: int, size: int, path: tuple[str, ...]) -> None:
    assert path_to(PUBLISHED[:size], place) == path
    assert root_by_path(PUBLISHED[place], place, size, path) == PUBLISHED_ROOTS[size - 1]


def test_roots_and_paths_of_every_small_tree_are_those_of_the_definition() -> None:
    leaves = [bytes([number, number]) for number in range(40)]
    assert list(roots(leaves)) == [naive_root(leaves[:size]).hex() for size in range(1, 41)]
    for size in range(1, 41):
        tree = leaves[:size]
        root = root_of(tree)
        assert root == naive_root(tree).hex()
        for place in range(size):
            path = path_to(tree, place)
            assert path == tuple(one.hex() for one in naive_path(place, tree))
            assert root_by_path(tree[place], place, size, path) == root


def test_a_path_proves_its_own_leaf_at_its_own_place_alone() -> None:
    leaves = [bytes([number]) for number in range(16)]
    for size in range(1, 17):
        root = root_of(leaves[:size])
        for place in range(size):
            path = path_to(leaves[:size], place)
            for other in set(range(size)) - {place}:
                assert root_by_path(leaves[place], other, size, path) != root
                assert root_by_path(leaves[other], place, size, path) != root
            cut = [path[:-1]] if path else []
            flipped = [(*path[:n], path[-1 - n], *path[n + 1 :]) for n in range(len(path) // 2)]
            for forged in (*cut, *flipped, (*path, root), (root, *path), (*path, "no hash")):
                assert root_by_path(leaves[place], place, size, forged) != root
    assert root_by_path(leaves[3], 3, 3, path_to(leaves[:3], 2)) == ""
    with pytest.raises(IndexError):
        path_to(leaves, 16)


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
